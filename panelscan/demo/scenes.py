"""Places by name. Each scene covers its canvas and returns the ground that figures stand on.

Indoors and outdoors have modules of their own; here are night, plain grounds, speed and rain.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from panelscan.demo.canvas import Canvas, oval_points
from panelscan.demo.hands import Palette, shade
from panelscan.demo.scenes_indoors import desk, room
from panelscan.demo.scenes_outdoors import grass, hills, ridge, sea, street

Scene = Callable[[Canvas, Palette], float]


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
    ridge(c, h * 0.72, h * 0.05, shade(pal.dark, 0.55))
    ridge(c, h * 0.84, h * 0.02, (16, 18, 24))
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
        grass(c, y, 6)
    return y + c.height * 0.03


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
