# ruff: noqa: E501
"""Places: rooms, streets, hills, sea, night. Many hold shapes parallel to the borders.

Each scene covers the whole canvas, draws its furniture and returns the height (canvas
pixels) of the ground that figures stand on.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from panelscan.demo.canvas import Canvas, limb_points, oval_points
from panelscan.demo.hands import Palette
from panelscan.demo.raster import RGB, rounded_path, smooth_noise

Scene = Callable[[Canvas, Palette], float]


def shade(rgb: RGB, factor: float) -> RGB:
    """Darker (below 1) or lighter (above 1) colour."""
    if factor <= 1:
        return tuple(int(v * factor) for v in rgb)  # type: ignore[return-value]
    return tuple(int(255 - (255 - v) / factor) for v in rgb)  # type: ignore[return-value]


def room(c: Canvas, pal: Palette) -> float:
    """A furnished room: window, door, picture, shelf, table, lamp; a tiled or boarded floor."""
    w, h, rng = c.width, c.height, c.rng
    floor = h * rng.uniform(0.68, 0.82)
    c.wash(pal.wall, shade(pal.wall, 0.9))
    if rng.random() < 0.35:
        gap = rng.uniform(18, 40) * c.unit
        c.strokes([[(x, 0), (x, floor)] for x in np.arange(gap, w, gap)], 0.25, 120)
    _floor(c, pal, floor)
    size = min(h, w * 1.4)
    x = rng.uniform(0.02, 0.12) * w
    pieces = [_window, _door, _picture, _bookshelf, _window, _picture, _screen]
    for k in rng.permutation(len(pieces)):
        width = pieces[k](c, pal, x, floor, size)
        x += width + rng.uniform(0.03, 0.12) * w
        if x > w * 0.95:
            break
    if rng.random() < 0.5:
        _lamp(c, pal, w * rng.uniform(0.2, 0.8), size)
    if rng.random() < 0.55:
        _table(c, pal, w * rng.uniform(0.1, 0.7), floor, size)
    return floor + (h - floor) * 0.55


def _floor(c: Canvas, pal: Palette, floor: float) -> None:
    w, h, rng = c.width, c.height, c.rng
    c.fill([(0, floor), (w, floor), (w, h), (0, h)], pal.floor)
    c.line([(0, floor), (w, floor)], 1.0, taper=0)
    kind = rng.integers(3)
    if kind == 0:
        middle = w * rng.uniform(0.3, 0.7)
        ends = np.linspace(-w, 2 * w, 16)
        c.strokes([[(middle + (x - middle) * 0.35, floor), (x, h)] for x in ends], 0.4)
        c.strokes([[(0, y), (w, y)] for y in floor + (h - floor) * np.array([0.25, 0.6])], 0.4)
    elif kind == 1:
        rows = floor + (h - floor) * np.array([0.2, 0.45, 0.75])
        c.strokes([[(0, y), (w, y)] for y in rows], 0.45)
    else:
        c.line([(0, floor - 14 * c.unit), (w, floor - 14 * c.unit)], 0.6, taper=0)


def _window(c: Canvas, pal: Palette, x: float, floor: float, size: float) -> float:
    rng = c.rng
    ww, hh = size * rng.uniform(0.18, 0.34), size * rng.uniform(0.28, 0.42)
    y = max(floor - hh - size * rng.uniform(0.15, 0.3), -hh * 0.4)
    frame = size * 0.018
    c.box(x - frame, y - frame, x + ww + frame, y + hh + frame, shade(pal.wood, 1.15), 1.0)
    c.box(x, y, x + ww, y + hh, pal.sky if rng.random() < 0.7 else pal.dark, 0.8)
    if rng.random() < 0.5:
        hill = [
            (x, y + hh * 0.75),
            (x + ww * 0.4, y + hh * 0.6),
            (x + ww, y + hh * 0.8),
            (x + ww, y + hh),
            (x, y + hh),
        ]
        c.fill(hill, pal.far, 0.5)
    columns, rows = int(rng.integers(1, 4)), int(rng.integers(1, 4))
    for k in range(1, columns):
        c.line([(x + ww * k / columns, y), (x + ww * k / columns, y + hh)], 1.1, taper=0)
    for k in range(1, rows):
        c.line([(x, y + hh * k / rows), (x + ww, y + hh * k / rows)], 1.1, taper=0)
    c.box(x - frame * 2, y + hh + frame, x + ww + frame * 2, y + hh + frame * 2.4, pal.wood, 0.8)
    return ww


def _door(c: Canvas, pal: Palette, x: float, floor: float, size: float) -> float:
    ww, hh = size * c.rng.uniform(0.22, 0.3), min(size * 0.62, floor * 0.93)
    color = shade(pal.wood, c.rng.uniform(0.8, 1.2))
    c.box(x, floor - hh, x + ww, floor, shade(color, 0.8), 1.1)
    c.box(x + ww * 0.06, floor - hh * 0.97, x + ww * 0.94, floor, color, 1.0)
    for k in range(2):
        for j in range(2):
            px, py = x + ww * (0.17 + 0.37 * k), floor - hh * (0.9 - 0.46 * j)
            c.box(px, py, px + ww * 0.29, py + hh * 0.36, shade(color, 0.9), 0.7)
    c.oval(x + ww * 0.87, floor - hh * 0.45, ww * 0.035, ww * 0.035, pal.light, 0.6)
    return ww


def _picture(c: Canvas, pal: Palette, x: float, floor: float, size: float) -> float:
    rng = c.rng
    ww, hh = size * rng.uniform(0.12, 0.24), size * rng.uniform(0.12, 0.2)
    y = floor - size * rng.uniform(0.42, 0.6)
    c.box(x, y, x + ww, y + hh, shade(pal.wood, 0.8), 1.0)
    m = size * 0.018
    c.box(x + m, y + m, x + ww - m, y + hh - m, pal.light, 0.7)
    c.fill([(x + m, y + hh * 0.7), (x + ww * 0.45, y + hh * 0.35), (x + ww - m, y + hh * 0.75),
            (x + ww - m, y + hh - m), (x + m, y + hh - m)], pal.near, 0.5)  # fmt: skip
    return ww


def _screen(c: Canvas, pal: Palette, x: float, floor: float, size: float) -> float:
    ww, hh = size * 0.3, size * 0.22
    y = floor - size * 0.5
    c.box(x, y, x + ww, y + hh, (52, 54, 60), 1.1)
    m = size * 0.02
    c.box(x + m, y + m, x + ww - m, y + hh - m, shade(pal.sky, 1.3), 0.8)
    c.strokes(
        [[(x + m, yy), (x + ww - m, yy)] for yy in np.arange(y + 2 * m, y + hh - m, 7 * c.unit)],
        0.25,
        130,
    )
    c.box(x + ww * 0.4, y + hh, x + ww * 0.6, floor, (60, 60, 66), 0.8)
    return ww


def _bookshelf(c: Canvas, pal: Palette, x: float, floor: float, size: float) -> float:
    rng = c.rng
    ww, hh = size * rng.uniform(0.3, 0.5), min(size * 0.6, floor * 0.95)
    top = floor - hh
    c.box(x, top, x + ww, floor, shade(pal.wood, 0.75), 1.1)
    shelves = int(rng.integers(3, 6))
    step = hh / shelves
    colors = [pal.accent, pal.near, pal.light, pal.far, pal.dark, pal.wall]
    for s in range(shelves):
        base = top + step * (s + 1) - step * 0.08
        c.box(
            x + ww * 0.03,
            top + step * s + step * 0.08,
            x + ww * 0.97,
            base,
            shade(pal.wood, 0.5),
            0.7,
        )
        bx = x + ww * 0.05
        while bx < x + ww * 0.9:
            bw = size * rng.uniform(0.014, 0.034)
            tall = step * rng.uniform(0.5, 0.78)
            if rng.random() < 0.88 and bx + bw < x + ww * 0.96:
                c.fill([(bx, base - tall), (bx + bw, base - tall), (bx + bw, base), (bx, base)],
                       colors[int(rng.integers(6))])  # fmt: skip
                c.strokes(
                    [[(bx, base), (bx, base - tall), (bx + bw, base - tall), (bx + bw, base)]], 0.5
                )
            bx += bw
    return ww


def _lamp(c: Canvas, pal: Palette, x: float, size: float) -> None:
    y = size * c.rng.uniform(0.12, 0.3)
    c.line([(x, 0), (x, y)], 0.8, taper=0)
    bell = np.array([(-0.02, 0), (0.02, 0), (0.09, 0.07), (-0.09, 0.07)]) * size + (x, y)
    c.fill(bell, pal.accent, 1.0)
    c.oval(x, y + size * 0.08, size * 0.022, size * 0.022, pal.light, 0.6)


def _table(c: Canvas, pal: Palette, x: float, floor: float, size: float) -> None:
    ww, top = size * c.rng.uniform(0.3, 0.55), floor - size * 0.12
    for k in (0.06, 0.9):
        c.box(x + ww * k, top, x + ww * (k + 0.04), floor + size * 0.1, shade(pal.wood, 0.8), 0.8)
    c.box(x, top - size * 0.02, x + ww, top + size * 0.02, pal.wood, 1.0)
    if c.rng.random() < 0.6:
        c.box(x + ww * 0.2, top - size * 0.035, x + ww * 0.5, top - size * 0.02, pal.light, 0.6)
        c.oval(x + ww * 0.75, top - size * 0.05, size * 0.022, size * 0.03, pal.accent, 0.8)


def street(c: Canvas, pal: Palette) -> float:
    """House fronts with rows of windows, a pavement, perhaps a lamp and a tree."""
    w, h, rng = c.width, c.height, c.rng
    ground = h * rng.uniform(0.72, 0.86)
    c.wash(pal.sky, shade(pal.sky, 1.6))
    x = -w * rng.uniform(0, 0.1)
    while x < w:
        ww = min(h, w) * rng.uniform(0.28, 0.6)
        _house(c, pal, x, ground - h * rng.uniform(0.45, 0.85), ww, ground)
        x += ww + (w * 0.03 if rng.random() < 0.2 else 0)
    c.fill([(0, ground), (w, ground), (w, h), (0, h)], pal.floor)
    c.line([(0, ground), (w, ground)], 1.0, taper=0)
    curb = ground + (h - ground) * 0.4
    c.strokes([[(0, curb), (w, curb)], [(0, curb + 7 * c.unit), (w, curb + 7 * c.unit)]], 0.6)
    if rng.random() < 0.6:
        _street_lamp(c, pal, w * rng.uniform(0.05, 0.95), curb, h * 0.62)
    if rng.random() < 0.4:
        tree(c, pal, w * rng.uniform(0.05, 0.95), curb, h * 0.6)
    return ground + (h - ground) * 0.65


def _house(c: Canvas, pal: Palette, x: float, top: float, ww: float, ground: float) -> None:
    rng = c.rng
    color = [pal.wall, pal.far, pal.wood, pal.accent, pal.near][int(rng.integers(5))]
    c.box(x, top, x + ww, ground, color, 1.0)
    if rng.random() < 0.5:
        roof = [
            (x - ww * 0.04, top),
            (x + ww * 0.2, top - ww * 0.28),
            (x + ww * 0.8, top - ww * 0.28),
            (x + ww * 1.04, top),
        ]
        c.fill(roof, shade(color, 0.65), 1.0)
        if rng.random() < 0.6:
            c.hatch(roof, 90, 9, 0.35)
    else:
        c.box(x - ww * 0.03, top, x + ww * 1.03, top + ww * 0.06, shade(color, 0.8), 0.9)
    columns = int(rng.integers(2, 5))
    gw = ww / columns
    rows = max(int((ground - top) / (gw * 1.25)), 1)
    gh = (ground - top) / rows
    lit = rng.random()
    for r in range(rows):
        for k in range(columns):
            wx, wy = x + gw * (k + 0.27), top + gh * (r + 0.25)
            if r == rows - 1 and k == columns // 2:
                c.box(wx, wy, wx + gw * 0.5, ground, shade(pal.wood, 0.7), 0.9)
                continue
            glass = pal.light if rng.random() < lit * 0.4 else shade(pal.sky, 0.6)
            c.box(wx, wy, wx + gw * 0.46, wy + gh * 0.52, glass, 0.75)
            if gw > 40 * c.unit:
                c.strokes([[(wx + gw * 0.23, wy), (wx + gw * 0.23, wy + gh * 0.52)],
                           [(wx, wy + gh * 0.2), (wx + gw * 0.46, wy + gh * 0.2)],
                           [(wx - gw * 0.06, wy + gh * 0.56), (wx + gw * 0.52, wy + gh * 0.56)]], 0.5)  # fmt: skip


def _street_lamp(c: Canvas, pal: Palette, x: float, base: float, tall: float) -> None:
    c.box(x - tall * 0.012, base - tall, x + tall * 0.012, base, pal.dark, 0.8)
    c.fill(
        np.array([(-0.05, -1.0), (0.05, -1.0), (0.035, -0.88), (-0.035, -0.88)]) * tall + (x, base),
        pal.light,
        0.9,
    )
    c.fill(np.array([(-0.065, -1.0), (0, -1.07), (0.065, -1.0)]) * tall + (x, base), pal.dark, 0.8)


def tree(c: Canvas, pal: Palette, x: float, base: float, tall: float) -> None:
    """A tree, leafy or bare."""
    rng = c.rng
    trunk = [
        (x, base),
        (x + tall * 0.03, base - tall * 0.35),
        (x - tall * 0.02, base - tall * 0.62),
    ]
    c.fill(limb_points(trunk, [tall * 0.1, tall * 0.07, tall * 0.05]), shade(pal.wood, 0.7), 1.0)
    if rng.random() < 0.6:
        for _ in range(5):
            cx, cy = x + rng.normal() * tall * 0.13, base - tall * rng.uniform(0.6, 0.92)
            n = 26
            radius = tall * rng.uniform(0.12, 0.2) * (1 + 0.13 * np.sin(np.arange(n) * 2.4))
            t = np.linspace(0, 2 * np.pi, n, endpoint=False)
            c.fill(
                np.stack([cx + radius * np.cos(t), cy + radius * np.sin(t)], 1),
                shade(pal.near, rng.uniform(0.85, 1.2)),
                0.8,
            )
        return
    for k in range(7):
        y = base - tall * (0.35 + 0.06 * k)
        out = tall * rng.uniform(0.15, 0.3) * (-1 if k % 2 else 1)
        c.fill(
            limb_points(
                [(x, y), (x + out * 0.5, y - tall * 0.1), (x + out, y - tall * 0.2)],
                [tall * 0.03, tall * 0.02, tall * 0.006],
            ),
            shade(pal.wood, 0.7),
            0.6,
        )


def hills(c: Canvas, pal: Palette) -> float:
    """Hills, a path, trees, clouds or birds."""
    w, h, rng = c.width, c.height, c.rng
    c.wash(pal.sky, shade(pal.sky, 2.0))
    if rng.random() < 0.5:
        r = min(w, h) * rng.uniform(0.06, 0.13)
        c.oval(w * rng.uniform(0.1, 0.9), h * rng.uniform(0.1, 0.3), r, r, pal.light, 0.8)
    for _ in range(int(rng.integers(0, 4))):
        cloud(
            c,
            w * rng.uniform(0, 1),
            h * rng.uniform(0.08, 0.35),
            min(w, h) * rng.uniform(0.12, 0.3),
        )
    for k, color in enumerate((shade(pal.far, 1.3), pal.far, pal.near)):
        _ridge(c, h * (0.5 + 0.13 * k + rng.uniform(-0.05, 0.05)), h * 0.06, color)
    ground = h * 0.8
    if rng.random() < 0.6:
        middle = w * rng.uniform(0.3, 0.7)
        path = [
            (middle - 5 * c.unit, ground),
            (middle + 12 * c.unit, ground),
            (middle + w * 0.25, h),
            (middle - w * 0.1, h),
        ]
        c.fill(path, pal.floor, 0.8)
    for _ in range(int(rng.integers(1, 4))):
        tree(
            c,
            pal,
            w * rng.uniform(0, 1),
            ground + h * rng.uniform(-0.06, 0.12),
            h * rng.uniform(0.25, 0.55),
        )
    _grass(c, ground, 34)
    for _ in range(int(rng.integers(0, 5))):
        bx, by, s = w * rng.uniform(0.1, 0.9), h * rng.uniform(0.1, 0.4), min(w, h) * 0.025
        c.line([(bx - s, by - s * 0.6), (bx, by), (bx + s, by - s * 0.7)], 0.6)
    return h * 0.9


def _ridge(c: Canvas, y: float, rough: float, color: RGB) -> None:
    w, h = c.width, c.height
    xs = np.linspace(-10, w + 10, 30)
    ys = y + smooth_noise(c.rng, 30, 6) * rough
    c.fill(np.concatenate([np.stack([xs, ys], 1), [(w + 10, h), (-10, h)]]), color)
    c.line(np.stack([xs, ys], 1), 0.8)


def _grass(c: Canvas, top: float, count: int) -> None:
    x = c.rng.uniform(0, c.width, count)
    y = c.rng.uniform(top, c.height, count)
    s = c.height * 0.02
    tufts = [
        [(a - s * 0.5, b - s), (a, b), (a + s * 0.4, b - s * 1.2)]
        for a, b in zip(x, y, strict=True)
    ]
    c.strokes(tufts, 0.45)


def cloud(c: Canvas, x: float, y: float, size: float) -> None:
    """A white cloud with a lumpy edge."""
    n = 30
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    lumps = 1 + 0.14 * np.abs(np.sin(t * 3.5 + c.rng.uniform(0, 3)))
    shape = np.stack([x + size * lumps * np.cos(t), y + size * 0.36 * lumps * np.sin(t)], 1)
    c.fill(shape, (252, 252, 250), 0.6)


def sea(c: Canvas, pal: Palette) -> float:
    """Open water, a rock with a lighthouse or a boat, a quay in front."""
    w, h, rng = c.width, c.height, c.rng
    horizon = h * rng.uniform(0.42, 0.6)
    c.wash(pal.sky, shade(pal.sky, 1.7))
    for _ in range(int(rng.integers(0, 4))):
        cloud(
            c,
            w * rng.uniform(0, 1),
            horizon * rng.uniform(0.2, 0.7),
            min(w, h) * rng.uniform(0.15, 0.3),
        )
    c.fill([(0, horizon), (w, horizon), (w, h), (0, h)], _water(pal))
    c.line([(0, horizon), (w, horizon)], 0.8, taper=0)
    n = 46
    x, d = rng.uniform(0, w, n), rng.uniform(0.02, 1, n) ** 1.5
    waves = [
        [
            (a, horizon + b * (h - horizon)),
            (a + (10 + 60 * b) * c.unit, horizon + b * (h - horizon)),
        ]
        for a, b in zip(x, d, strict=True)
    ]
    c.strokes(waves, 0.45)
    if rng.random() < 0.6:
        _lighthouse(
            c, pal, w * rng.uniform(0.15, 0.85), horizon + h * 0.05, h * rng.uniform(0.3, 0.48)
        )
    else:
        _boat(c, pal, w * rng.uniform(0.2, 0.8), horizon + h * 0.12, min(w, h) * 0.4)
    if rng.random() < 0.55:
        quay = h * 0.84
        c.fill([(0, quay), (w, quay), (w, h), (0, h)], pal.floor)
        c.line([(0, quay), (w, quay)], 1.0, taper=0)
        c.strokes([[(a, quay), (a, h)] for a in np.arange(0, w, 46 * c.unit)], 0.5)
        for k in np.arange(w * 0.1, w, w * 0.35):
            c.box(k, quay - h * 0.1, k + h * 0.035, quay, pal.wood, 0.9)
        return h * 0.93
    return h * 0.9


def _water(pal: Palette) -> RGB:
    r, g, b = (int(0.5 * s + 0.25 * n) for s, n in zip(pal.sky, pal.near, strict=True))
    return r, g, min(b + 24, 255)


def _lighthouse(c: Canvas, pal: Palette, x: float, base: float, tall: float) -> None:
    rock = np.array(
        [(-0.6, 0.06), (-0.42, -0.06), (-0.2, -0.02), (0.1, -0.1), (0.35, -0.03), (0.6, 0.07)]
    )
    c.fill(rock * tall + (x, base), shade(pal.dark, 1.3), 1.0)
    tower = np.array([(-0.1, 0), (-0.065, -0.78), (0.065, -0.78), (0.1, 0)]) * tall + (
        x,
        base - tall * 0.06,
    )
    c.fill(tower, (246, 244, 236), 1.0)
    for k in (0.16, 0.46):
        a, b = 0.1 - 0.045 * k, 0.1 - 0.045 * (k + 0.14)
        band = np.array([(-a, -k), (a, -k), (b, -k - 0.14), (-b, -k - 0.14)]) * tall + (
            x,
            base - tall * 0.06,
        )
        c.fill(band, pal.accent, 0.7)
    top = base - tall * 0.84
    c.box(x - tall * 0.085, top - tall * 0.02, x + tall * 0.085, top + tall * 0.01, pal.dark, 0.8)
    c.box(x - tall * 0.05, top - tall * 0.12, x + tall * 0.05, top - tall * 0.02, pal.light, 0.8)
    c.fill(np.array([(-0.07, -0.12), (0, -0.2), (0.07, -0.12)]) * tall + (x, top), pal.accent, 0.9)


def _boat(c: Canvas, pal: Palette, x: float, y: float, size: float) -> None:
    c.line([(x, y), (x + size * 0.02, y - size * 0.8)], 1.0)
    c.fill(
        np.array([(0.04, -0.78), (0.42, -0.15), (0.04, -0.12)]) * size + (x, y),
        (248, 246, 238),
        0.9,
    )
    hull = np.array([(-0.5, -0.1), (0.55, -0.12), (0.4, 0.12), (-0.36, 0.12)]) * size + (x, y)
    c.fill(rounded_path(hull, 1, closed=True), pal.wood, 1.1)


def night(c: Canvas, pal: Palette) -> float:
    """A black room or night: light falls from a window, a door or a lamp."""
    w, h, rng = c.width, c.height, c.rng
    c.wash(shade(pal.dark, 0.5) if rng.random() < 0.5 else (14, 14, 18))
    floor = h * rng.uniform(0.72, 0.85)
    if rng.random() < 0.5:
        x, y = w * rng.uniform(0.1, 0.6), h * rng.uniform(0.1, 0.3)
        ww, hh = min(w, h) * 0.3, min(w, h) * 0.36
        c.fill([(x, y), (x + ww, y), (x + ww, y + hh), (x, y + hh)], pal.light)
        beam = [(x, y + hh), (x + ww, y + hh), (x + ww * 1.9, h), (x + ww * 0.5, h)]
        c.fill(beam, shade(pal.dark, 1.5))
        c.fill(
            [
                (x + ww * 0.46, y),
                (x + ww * 0.54, y),
                (x + ww * 0.54, y + hh),
                (x + ww * 0.46, y + hh),
            ],
            (14, 14, 18),
        )
    else:
        x = w * rng.uniform(0.3, 0.7)
        cone = [
            (x - 8 * c.unit, 0),
            (x + 8 * c.unit, 0),
            (x + h * 0.4, floor),
            (x - h * 0.4, floor),
        ]
        c.fill(cone, shade(pal.dark, 1.9))
        c.fill(oval_points(x, floor, h * 0.4, h * 0.06), pal.light)
    return floor + h * 0.03


def starry(c: Canvas, pal: Palette) -> float:
    """Night sky over dark roofs or hills."""
    w, h, rng = c.width, c.height, c.rng
    c.wash(shade(pal.dark, 0.8), shade(pal.dark, 1.6))
    for _ in range(int(40 * w * h / (c.unit * c.unit * 4e5)) + 5):
        s = rng.uniform(1, 3.2) * c.unit
        c.fill(oval_points(rng.uniform(0, w), rng.uniform(0, h * 0.6), s, s, n=8), (255, 252, 226))
    r = min(w, h) * rng.uniform(0.07, 0.14)
    c.fill(oval_points(w * rng.uniform(0.15, 0.85), h * rng.uniform(0.15, 0.35), r, r), pal.light)
    _ridge(c, h * 0.72, h * 0.05, shade(pal.dark, 0.55))
    _ridge(c, h * 0.84, h * 0.02, (16, 18, 24))
    return h * 0.92


def speed(c: Canvas, pal: Palette) -> float:
    """Speed lines, all around a middle or along one way."""
    w, h, rng = c.width, c.height, c.rng
    c.wash((255, 255, 255) if rng.random() < 0.6 else pal.light)
    if rng.random() < 0.5:
        cx, cy = w * rng.uniform(0.3, 0.7), h * rng.uniform(0.35, 0.65)
        reach = float(np.hypot(w, h))
        for a in np.sort(rng.uniform(0, 2 * np.pi, 90)):
            d = np.array([np.cos(a), np.sin(a)])
            start = min(w, h) * rng.uniform(0.32, 0.55)
            side = np.array([-d[1], d[0]]) * reach * rng.uniform(0.003, 0.012)
            at = np.array([cx, cy])
            c.spot([at + d * start, at + d * reach + side, at + d * reach - side])
    else:
        levels = np.sort(rng.uniform(0, h, 70))
        begin, end = rng.uniform(-0.2, 0.5, 70) * w, rng.uniform(0.5, 1.2, 70) * w
        c.strokes([[(a, b), (d, b)] for a, b, d in zip(begin, levels, end, strict=True)], 0.7)
    return h * 0.88


def tone(c: Canvas, pal: Palette) -> float:
    """Nothing but a tone, flat or graded: the usual ground of a close shot."""
    colors = [pal.sky, pal.wall, pal.accent, pal.far, pal.light, pal.near, pal.floor]
    a = colors[int(c.rng.integers(7))]
    c.wash(a, shade(a, c.rng.uniform(0.7, 2.2)) if c.rng.random() < 0.6 else None)
    return c.height * 0.95


def blank(c: Canvas, pal: Palette) -> float:
    """White, with at most a ground line and a few strokes."""
    c.wash((255, 255, 255))
    y = c.height * 0.86
    if c.rng.random() < 0.5:
        c.line([(c.width * 0.12, y), (c.width * 0.88, y)], 0.7)
        _grass(c, y, 6)
    return y + c.height * 0.03


def desk(c: Canvas, pal: Palette) -> float:
    """A table top from above: letters, a map, a book; sheets lie parallel to the borders."""
    w, h, rng = c.width, c.height, c.rng
    c.wash(pal.wood, shade(pal.wood, 0.85))
    c.strokes([[(0, y), (w, y + rng.normal() * 4)] for y in np.arange(0, h, 30 * c.unit)], 0.3, 120)
    for _ in range(int(rng.integers(1, 4))):
        ww, hh = w * rng.uniform(0.25, 0.55), h * rng.uniform(0.3, 0.6)
        x, y = rng.uniform(0, w - ww), rng.uniform(0, h - hh)
        c.box(x, y, x + ww, y + hh, (248, 243, 228), 1.0)
        if rng.random() < 0.6:
            rows = np.arange(y + 16 * c.unit, y + hh - 10 * c.unit, 15 * c.unit)
            c.strokes(
                [[(x + ww * 0.1, r), (x + ww * rng.uniform(0.6, 0.9), r)] for r in rows], 0.5, 190
            )
        else:
            c.line(
                np.stack(
                    [
                        np.linspace(x, x + ww, 12),
                        y + hh * 0.5 + smooth_noise(rng, 12, 5) * hh * 0.15,
                    ],
                    1,
                ),
                0.6,
            )
            c.spot(oval_points(x + ww * 0.6, y + hh * 0.4, 5 * c.unit, 5 * c.unit))
    return h * 1.1


def rain(c: Canvas, pal: Palette) -> None:
    """Rain over whatever is drawn."""
    n = int(c.width * c.height / (c.unit * c.unit) / 5200)
    x, y = c.rng.uniform(0, c.width * 1.2, n), c.rng.uniform(-20, c.height, n)
    length = c.rng.uniform(30, 80, n) * c.unit
    slope = c.rng.uniform(-0.25, 0.05)
    c.strokes(
        [[(a, b), (a + slope * s, b + s)] for a, b, s in zip(x, y, length, strict=True)], 0.35, 170
    )


SCENES: dict[str, Scene] = {
    "room": room, "street": street, "hills": hills, "sea": sea, "night": night,
    "starry": starry, "speed": speed, "tone": tone, "blank": blank, "desk": desk,
}  # fmt: skip

DECOY_SCENES = ("room", "street", "desk", "night")
