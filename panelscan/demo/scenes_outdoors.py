"""Streets, hills and the sea."""

from __future__ import annotations

import numpy as np

from panelscan.demo.canvas import Canvas, limb_points
from panelscan.demo.hands import Palette, shade
from panelscan.demo.raster import RGB, rounded_path, smooth_noise


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
                c.strokes([
                    [(wx + gw * 0.23, wy), (wx + gw * 0.23, wy + gh * 0.52)],
                    [(wx, wy + gh * 0.2), (wx + gw * 0.46, wy + gh * 0.2)],
                    [(wx - gw * 0.06, wy + gh * 0.56), (wx + gw * 0.52, wy + gh * 0.56)],
                ], 0.5)  # fmt: skip


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
        ridge(c, h * (0.5 + 0.13 * k + rng.uniform(-0.05, 0.05)), h * 0.06, color)
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
    grass(c, ground, 34)
    for _ in range(int(rng.integers(0, 5))):
        bx, by, s = w * rng.uniform(0.1, 0.9), h * rng.uniform(0.1, 0.4), min(w, h) * 0.025
        c.line([(bx - s, by - s * 0.6), (bx, by), (bx + s, by - s * 0.7)], 0.6)
    return h * 0.9


def ridge(c: Canvas, y: float, rough: float, color: RGB) -> None:
    """A line of hills about height ``y``, filled to the foot of the canvas."""
    w, h = c.width, c.height
    xs = np.linspace(-10, w + 10, 30)
    ys = y + smooth_noise(c.rng, 30, 6) * rough
    c.fill(np.concatenate([np.stack([xs, ys], 1), [(w + 10, h), (-10, h)]]), color)
    c.line(np.stack([xs, ys], 1), 0.8)


def grass(c: Canvas, top: float, count: int) -> None:
    """Tufts of grass below ``top``."""
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
