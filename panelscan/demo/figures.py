"""People, cats and machines of the demo pages: simple, but alive."""

from __future__ import annotations

import numpy as np

from panelscan.demo.canvas import Canvas, limb_points
from panelscan.demo.cast import Character
from panelscan.demo.heads import draw_head
from panelscan.demo.raster import rounded_path

POSES: dict[str, tuple[tuple[float, float], ...]] = {
    # elbow, hand (front), elbow, hand (back), knee, foot (front), knee, foot (back), each
    # (x, y) in shares of the height from the shoulder or the hip, x towards the front.
    "stand": ((0.05, 0.15), (0.07, 0.3), (-0.05, 0.15), (-0.05, 0.3),
              (0.03, 0.22), (0.05, 0.44), (-0.03, 0.22), (-0.04, 0.44)),
    "walk": ((0.09, 0.13), (0.17, 0.24), (-0.09, 0.13), (-0.14, 0.26),
             (0.12, 0.2), (0.15, 0.43), (-0.05, 0.22), (-0.2, 0.4)),
    "run": ((0.14, 0.08), (0.25, 0.0), (-0.14, 0.1), (-0.24, 0.2),
            (0.2, 0.13), (0.16, 0.34), (-0.12, 0.22), (-0.32, 0.26)),
    "point": ((0.14, 0.02), (0.3, -0.02), (-0.05, 0.15), (0.0, 0.26),
              (0.05, 0.22), (0.07, 0.44), (-0.04, 0.22), (-0.07, 0.44)),
    "cheer": ((0.11, -0.08), (0.13, -0.26), (-0.12, -0.07), (-0.16, -0.24),
              (0.05, 0.22), (0.07, 0.44), (-0.05, 0.22), (-0.08, 0.44)),
    "think": ((0.09, 0.15), (0.08, -0.01), (-0.03, 0.16), (0.07, 0.18),
              (0.03, 0.22), (0.05, 0.44), (-0.03, 0.22), (-0.04, 0.44)),
    "sit": ((0.08, 0.15), (0.17, 0.2), (-0.04, 0.15), (0.06, 0.26),
            (0.2, 0.03), (0.21, 0.26), (0.15, 0.05), (0.13, 0.28)),
    "reach": ((0.11, 0.06), (0.24, 0.1), (0.07, 0.12), (0.2, 0.17),
              (0.1, 0.2), (0.08, 0.42), (-0.08, 0.22), (-0.2, 0.42)),
}  # fmt: skip
MOODS = ("calm", "glad", "startled", "cross", "sad")


def draw_figure(
    c: Canvas,
    who: Character,
    x: float,
    foot: float,
    height: float,
    facing: int = 1,
    pose: str = "stand",
    mood: str = "calm",
) -> None:
    """Draw a whole figure; what lies outside the canvas is cut off.

    Parameters
    ----------
    c : Canvas
        Sheet to draw on.
    who : Character
        Whom to draw.
    x, foot : float
        Middle of the figure and ground under its feet, in canvas pixels.
    height : float
        From crown to sole, in canvas pixels.
    facing : int
        1 to the right, -1 to the left.
    pose, mood : str
        A key of `POSES`; one of `MOODS`.
    """
    if who.kind == "cat":
        _cat(c, who, x, foot, height * 0.55, facing, mood)
        return
    head = height * c.hand.head_share
    body = height - head * 0.95
    joints = np.array(POSES[pose]) * (body / 0.82) * np.array([facing, 1])
    drop = 0.16 * height if pose == "sit" else 0.0
    neck = np.array([x + facing * 0.01 * height, foot - body + drop])
    hip = np.array([x, foot - body * 0.53 + drop])
    width = 0.1 * height * who.build
    arm = 0.055 * height * (0.8 + 0.2 * who.build)
    lean = {"run": 0.06, "walk": 0.015, "reach": 0.05}.get(pose, 0.0) * height * facing
    neck[0] += lean
    shoulder = neck + (0, 0.035 * height)
    _arm(c, who, shoulder - (facing * width * 0.55, 0), joints[2], joints[3], arm)
    if not who.skirt or pose in ("run", "sit"):
        for k in (6, 4):
            _leg(c, who, hip, joints[k], joints[k + 1], arm * 1.25, facing)
    else:
        for k in (7, 5):
            shoe = hip + joints[k]
            c.oval(shoe[0] + facing * arm * 0.4, shoe[1], arm * 0.9, arm * 0.5, who.legs, 0.8)
    _torso(c, who, neck, hip, width, foot, pose)
    if who.scarf:
        _scarf(c, who, neck, facing, height)
    draw_head(c, who, neck[0], neck[1] - head * 0.42, head * 0.5, facing, mood)
    _arm(c, who, shoulder + (facing * width * 0.35, 0), joints[0], joints[1], arm)


def _arm(
    c: Canvas, who: Character, at: np.ndarray, elbow: np.ndarray, hand: np.ndarray, width: float
) -> None:
    c.oval(at[0] + hand[0], at[1] + hand[1], width * 0.62, width * 0.55, who.skin, 0.8)
    path = [at, at + elbow, at + hand * 0.97]
    c.fill(limb_points(path, [width * 1.25, width * 1.05, width * 0.95]), who.coat, 0.9)


def _leg(
    c: Canvas, who: Character, hip: np.ndarray, knee: np.ndarray, foot: np.ndarray, width: float,
    facing: int,
) -> None:  # fmt: skip
    f = hip + foot
    toe = f + (facing * width * 1.1, width * 0.15)
    heel = f - (facing * width * 0.35, -width * 0.15)
    shoe = np.array(
        [
            heel,
            f - (facing * width * 0.4, width * 0.5),
            f + (facing * width * 0.3, -width * 0.4),
            toe,
        ]
    )
    c.fill(
        limb_points([hip, hip + knee, f], [width * 1.4, width * 1.15, width * 0.85]), who.legs, 0.9
    )
    c.fill(rounded_path(shoe, 2, closed=True), tuple(int(v * 0.5) for v in who.legs), 0.8)  # type: ignore[arg-type]


def _torso(
    c: Canvas, who: Character, neck: np.ndarray, hip: np.ndarray, width: float, foot: float,
    pose: str,
) -> None:  # fmt: skip
    down = foot - hip[1]
    hem_y = hip[1] + (down * 0.92 if who.skirt and pose not in ("run", "sit") else down * 0.12)
    flare = 1.7 if who.skirt and pose not in ("run", "sit") else 1.15
    shape = np.array([
        neck + (-width * 0.45, 0), neck + (width * 0.45, 0), neck + (width * 1.05, width * 0.5),
        hip + (width * 0.85, 0), (hip[0] + width * flare, hem_y), (hip[0], hem_y + width * 0.18),
        (hip[0] - width * flare, hem_y), hip + (-width * 0.85, 0),
        neck + (-width * 1.05, width * 0.5),
    ])  # fmt: skip
    c.fill(rounded_path(shape, 2, closed=True), who.coat, 1.0)
    middle = [(neck[0], neck[1] + width * 0.3), (hip[0], hem_y)]
    c.line(middle, 0.55)
    for t in (0.3, 0.5, 0.7):
        y = neck[1] + (hip[1] - neck[1]) * t
        c.oval(neck[0] + width * 0.22, y, width * 0.07, width * 0.07, who.hair, 0.4)
    if c.rng.random() < 0.5:
        side = np.array([neck + (width * 0.55, width), hip + (width * 0.8, 0),
                         (hip[0] + width * flare * 0.95, hem_y), (hip[0] + width * 0.5, hem_y),
        ])  # fmt: skip
        c.hatch(side, 62, 6, 0.4)


def _scarf(c: Canvas, who: Character, neck: np.ndarray, facing: int, height: float) -> None:
    w = height * 0.035
    tail = [neck + (0, w), neck + (-facing * height * 0.11, w * 0.3),
            neck + (-facing * height * 0.19, w * 1.6),
            neck + (-facing * height * 0.28, w * 0.2)]  # fmt: skip
    c.fill(limb_points(tail, [w * 1.2, w * 1.4, w * 1.5, w * 1.8]), who.hair, 0.8)
    c.oval(neck[0], neck[1] + w * 0.6, w * 2.0, w * 1.05, who.hair, 0.8)


def _cat(
    c: Canvas, who: Character, x: float, foot: float, height: float, facing: int, mood: str
) -> None:
    r = height * 0.24
    tail = np.array([(-0.3, -0.12), (-0.62, -0.2), (-0.72, -0.6), (-0.55, -0.85)]) * (
        facing * height,
        height,
    )
    c.fill(limb_points(tail + (x, foot), [r * 0.4, r * 0.4, r * 0.36, r * 0.3]), who.hair, 0.8)
    c.oval(x, foot - height * 0.27, height * 0.34, height * 0.28, who.hair, 1.0)
    for k in (-0.16, 0.08, 0.2):
        leg = [
            (x + facing * k * height, foot - height * 0.22),
            (x + facing * (k + 0.03) * height, foot),
        ]
        c.fill(limb_points(leg, [r * 0.55, r * 0.5]), who.hair, 0.8)
    draw_head(c, who, x + facing * height * 0.24, foot - height * 0.62, r, facing, mood)


def draw_bust(
    c: Canvas, who: Character, x: float, y: float, r: float, facing: int, mood: str
) -> None:
    """Head and shoulders for a close shot; ``x, y`` is the middle of the head of radius r."""
    body = np.array([(-0.4, 0.8), (0.4, 0.8), (1.1, 1.25), (1.9, 1.9), (2.3, 4.2), (-2.3, 4.2),
                     (-1.9, 1.9), (-1.1, 1.25)]) * r  # fmt: skip
    if who.kind == "cat":
        body = body * (0.8, 1.0)
    c.fill(
        rounded_path(body + (x, y), 2, closed=True),
        who.hair if who.kind == "cat" else who.coat,
        1.2,
    )
    if who.kind == "person":
        c.fill(
            np.array([(-0.36, 0.6), (0.36, 0.6), (0.42, 1.12), (0, 1.4), (-0.42, 1.12)]) * r
            + (x, y),
            who.skin,
            0.9,
        )
        for side in (-1, 1):
            lapel = np.array([(side * 0.42, 1.05), (side * 0.85, 1.5), (0.0, 2.3)]) * r + (x, y)
            c.line(lapel, 0.9)
    c.hatch(np.array([(1.0, 1.6), (1.9, 2.0), (2.2, 4.2), (1.1, 4.2)]) * r + (x, y), 58, 8, 0.5)
    draw_head(c, who, x, y, r, facing, mood)
