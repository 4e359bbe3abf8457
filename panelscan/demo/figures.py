"""People, cats and machines of the demo pages: simple, but alive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.demo.canvas import Canvas, limb_points, oval_points
from panelscan.demo.hands import SKINS, Palette
from panelscan.demo.raster import RGB, rounded_path


@dataclass(frozen=True)
class Character:
    """One of a book's cast.

    Parameters
    ----------
    name : str
        Name in the story.
    kind : str
        ``"person"``, ``"cat"`` or ``"machine"``.
    skin, hair, coat, legs : tuple of int
        Colours.
    hair_cut : str
        ``"bob"``, ``"spikes"``, ``"bun"``, ``"long"``, ``"cap"`` or ``"hood"``.
    scarf : bool
        Wears a scarf that blows in the wind.
    skirt : bool
        Wears a long skirt or robe.
    build : float
        Breadth, 1 usual.
    """

    name: str
    kind: str
    skin: RGB
    hair: RGB
    coat: RGB
    legs: RGB
    hair_cut: str
    scarf: bool = False
    skirt: bool = False
    build: float = 1.0


HAIRS: tuple[RGB, ...] = (
    (48, 40, 44), (206, 104, 48), (232, 196, 112), (104, 66, 44), (214, 214, 218), (92, 52, 92),
)  # fmt: skip
CUTS = ("bob", "spikes", "bun", "long", "cap", "hood")


def make_cast(rng: np.random.Generator, palette: Palette, count: int = 4) -> list[Character]:
    """A cast of different characters for a book."""
    cuts = list(rng.permutation(CUTS))
    coats = [palette.accent, palette.dark, palette.near, palette.wood, palette.light, palette.far]
    kinds = ["person", "person", "person", "cat", "machine", "person"]
    cast = []
    for k in range(count):
        cast.append(
            Character(
                name=f"figure {k}",
                kind=kinds[k] if k < 2 else str(rng.choice(kinds)),
                skin=SKINS[int(rng.integers(len(SKINS)))],
                hair=HAIRS[int(rng.integers(len(HAIRS)))],
                coat=coats[k % len(coats)],
                legs=coats[(k + 2) % len(coats)],
                hair_cut=str(cuts[k % len(cuts)]),
                scarf=bool(rng.random() < 0.4),
                skirt=bool(rng.random() < 0.35),
                build=float(rng.uniform(0.85, 1.3)),
            )
        )
    return cast


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
