"""Rooms and table tops: windows, doors, shelves, screens, sheets parallel to the borders."""

from __future__ import annotations

import numpy as np

from panelscan.demo.canvas import Canvas, oval_points
from panelscan.demo.hands import Palette, shade
from panelscan.demo.raster import smooth_noise


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
