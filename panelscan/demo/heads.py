"""Heads and faces of the demo pages' people, cats and machines."""

from __future__ import annotations

import numpy as np

from panelscan.demo.canvas import Canvas, oval_points
from panelscan.demo.cast import Character
from panelscan.demo.raster import rounded_path


def draw_head(
    c: Canvas, who: Character, x: float, y: float, r: float, facing: int, mood: str
) -> None:
    """Draw a head of radius ``r`` (canvas pixels) with its face turned towards ``facing``."""
    if who.kind == "cat":
        _cat_head(c, who, x, y, r, facing, mood)
    elif who.kind == "machine":
        _machine_head(c, who, x, y, r, facing)
    else:
        _person_head(c, who, x, y, r, facing, mood)


def _person_head(
    c: Canvas, who: Character, x: float, y: float, r: float, facing: int, mood: str
) -> None:
    jaw = c.hand.jaw
    if who.hair_cut in ("long", "bob", "hood"):
        length = {"long": 2.1, "bob": 1.05, "hood": 0.95}[who.hair_cut]
        color = who.coat if who.hair_cut == "hood" else who.hair
        back = np.array([(-1.08, -0.5), (-0.6, -1.15), (0.5, -1.15), (1.05, -0.5),
                         (1.0, length * 0.5),
                         (0.75, length), (-0.8, length), (-1.15, length * 0.5)])  # fmt: skip
        c.fill(rounded_path(back * r + (x, y), 2, closed=True), color, 0.9)
    if who.hair_cut == "bun":
        c.oval(x - facing * r * 0.75, y - r * 0.95, r * 0.48, r * 0.45, who.hair, 0.9)
    face = oval_points(x, y, r * 0.9, r * (1.0 + 0.04 * (1 - jaw)), 0, jaw)
    c.fill(face, who.skin, 1.0)
    c.oval(x - facing * r * 0.84, y + r * 0.08, r * 0.15, r * 0.22, who.skin, 0.7)
    _hair_front(c, who, x, y, r, facing)
    _face(c, who, x, y, r, facing, mood)


def _hair_front(c: Canvas, who: Character, x: float, y: float, r: float, facing: int) -> None:
    at = np.array([x, y])
    flip = np.array([facing, 1]) * r
    if who.hair_cut == "cap":
        crown = np.array([(-0.98, -0.3), (-0.9, -1.0), (0.0, -1.32), (0.85, -1.0), (0.95, -0.35)])
        c.fill(rounded_path(crown * flip + at, 2, closed=False), who.coat, 1.0)
        brim = np.array([(-0.95, -0.32), (0.6, -0.5), (1.55, -0.3), (1.5, -0.16), (0.4, -0.3)])
        c.fill(rounded_path(brim * flip + at, 2, closed=True), who.coat, 1.0)
        return
    if who.hair_cut == "spikes":
        shape = [(-1.0, 0.1), (-1.35, -0.35), (-1.0, -0.5), (-1.2, -1.0), (-0.7, -0.95),
                 (-0.55, -1.5), (-0.15, -1.08), (0.25, -1.55), (0.45, -1.02), (1.0, -1.2),
                 (0.9, -0.65), (1.2, -0.35), (0.85, -0.3), (0.55, -0.5), (0.4, -0.22),
                 (0.1, -0.55), (-0.2, -0.25), (-0.5, -0.5), (-0.75, -0.1)]  # fmt: skip
        c.fill(np.array(shape) * flip + at, who.hair, 0.9)
        return
    color = who.coat if who.hair_cut == "hood" else who.hair
    shape = [(-1.0, 0.35), (-1.1, -0.4), (-0.7, -1.1), (0.1, -1.28), (0.8, -1.0), (1.02, -0.4),
             (0.92, 0.0), (0.75, -0.45), (0.35, -0.42), (0.1, -0.62), (-0.35, -0.3),
             (-0.72, -0.25), (-0.85, 0.1)]  # fmt: skip
    c.fill(rounded_path(np.array(shape) * flip + at, 1, closed=True), color, 0.9)
    if r > 30 * c.unit:
        for k in range(5):
            a = -0.8 + 0.38 * k
            lock = np.array([(a, -1.05 + 0.3 * abs(a)), (a * 0.8 + 0.05, -0.75), (a * 0.75, -0.5)])
            c.line(rounded_path(lock * flip + at, 2), 0.45)


def _face(c: Canvas, who: Character, x: float, y: float, r: float, facing: int, mood: str) -> None:
    shift = facing * r * 0.2
    eye_y = y - r * 0.02
    wide = 1.35 if mood == "startled" else 1.0
    for side in (-1, 1):
        ex = x + shift + side * r * 0.36
        _eye(c, who, ex, eye_y, r * wide, facing, mood)
        tilt = {"cross": 0.16 * -side, "sad": 0.14 * side, "startled": 0.0}.get(mood, 0.02)
        lift = 0.42 if mood == "startled" else 0.34
        brow = [
            (ex - r * 0.2, eye_y - r * (lift + tilt)),
            (ex + r * 0.2, eye_y - r * (lift - tilt)),
        ]
        c.line(brow, 1.0 if r > 22 * c.unit else 0.6)
    nose = np.array([(0.05, 0.1), (0.26, 0.36), (0.06, 0.38)]) * (facing * r, r)
    c.line(rounded_path(nose + (x + shift, y), 1), 0.6)
    _mouth(c, x + shift * 1.1, y + r * 0.62, r, mood)
    if mood == "glad" and r > 26 * c.unit:
        for side in (-1, 1):
            cheek = oval_points(x + shift + side * r * 0.5, y + r * 0.36, r * 0.16, r * 0.1)
            c.hatch(cheek, 50, 4, 0.3)


def _eye(c: Canvas, who: Character, x: float, y: float, r: float, facing: int, mood: str) -> None:
    if c.hand.eyes == "dot" or r < 12 * c.unit:
        c.spot(oval_points(x, y, r * 0.09, r * 0.14, n=14))
        return
    wide = c.hand.eyes == "wide"
    rx, ry = (r * 0.21, r * 0.27) if wide else (r * 0.2, r * 0.2)
    c.oval(x, y, rx, ry, (255, 255, 255), 0.6)
    iris = oval_points(x + facing * rx * 0.3, y + ry * 0.1, rx * 0.55, ry * (0.75 if wide else 0.4))
    if wide and r > 30 * c.unit:
        c.fill(iris, who.coat, 0.4)
    c.spot(oval_points(x + facing * rx * 0.3, y + ry * 0.1, rx * 0.36, ry * 0.42, n=16))
    if wide:
        c.fill(
            oval_points(x + facing * rx * 0.1, y - ry * 0.25, rx * 0.17, ry * 0.17, n=10),
            (255, 255, 255),
        )
        c.line([(x - rx, y - ry * 0.55), (x, y - ry * 1.02), (x + rx, y - ry * 0.6)], 1.1)


def _mouth(c: Canvas, x: float, y: float, r: float, mood: str) -> None:
    if mood == "startled":
        c.oval(x, y, r * 0.14, r * 0.19, (96, 40, 44), 0.6)
    elif mood == "glad":
        curve = np.array([(-0.3, -0.05), (-0.12, 0.14), (0.12, 0.14), (0.3, -0.07)]) * r
        c.fill(rounded_path(curve + (x, y), 2), (110, 44, 48), 0.7)
    else:
        bend = {"cross": -0.08, "sad": -0.1}.get(mood, 0.06)
        curve = np.array([(-0.22, 0.0), (0.0, bend), (0.22, -0.01)]) * r
        c.line(rounded_path(curve + (x, y), 2), 0.8)


def _machine_head(c: Canvas, who: Character, x: float, y: float, r: float, facing: int) -> None:
    c.line([(x, y - r), (x + r * 0.1, y - r * 1.5)], 0.9)
    c.oval(x + r * 0.1, y - r * 1.55, r * 0.12, r * 0.12, who.hair, 0.7)
    c.box(x - r * 0.95, y - r * 0.85, x + r * 0.95, y + r * 0.8, who.coat, 1.0)
    c.box(
        x - r * 0.7 + facing * r * 0.1,
        y - r * 0.5,
        x + r * 0.7 + facing * r * 0.1,
        y + r * 0.12,
        (30, 34, 40),
        0.7,
    )
    for side in (-1, 1):
        c.oval(
            x + side * r * 0.32 + facing * r * 0.12,
            y - r * 0.2,
            r * 0.16,
            r * 0.16,
            (244, 236, 170),
            0.5,
        )
    for k in range(4):
        c.line(
            [
                (x - r * 0.45 + k * r * 0.3, y + r * 0.35),
                (x - r * 0.45 + k * r * 0.3, y + r * 0.62),
            ],
            0.6,
        )


def _cat_head(
    c: Canvas, who: Character, x: float, y: float, r: float, facing: int, mood: str
) -> None:
    for side in (-1, 1):
        ear = np.array([(side * 0.85, -0.25), (side * 0.95, -1.25), (side * 0.2, -0.8)]) * r
        c.fill(ear + (x, y), who.hair, 0.9)
    c.oval(x, y, r * 1.08, r * 0.9, who.hair, 1.0, square=c.hand.jaw * 0.5)
    shift = facing * r * 0.16
    for side in (-1, 1):
        ex, ey = x + shift + side * r * 0.42, y - r * 0.12
        c.oval(ex, ey, r * 0.24, r * (0.3 if mood == "startled" else 0.24), (250, 246, 214), 0.6)
        c.spot(oval_points(ex + facing * r * 0.05, ey, r * 0.07, r * 0.2, n=14))
        for k in (-1, 0, 1):
            c.line(
                [
                    (x + shift + side * r * 0.35, y + r * 0.38),
                    (x + side * r * 1.35, y + r * (0.36 + 0.16 * k)),
                ],
                0.35,
            )
    c.spot(np.array([(-0.1, 0.2), (0.1, 0.2), (0.0, 0.32)]) * r + (x + shift, y))
    c.line(np.array([(-0.22, 0.48), (0.0, 0.36), (0.22, 0.48)]) * r + (x + shift, y), 0.6)
