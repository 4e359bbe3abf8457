"""Drawing hands and drawing styles: how lines, heads, balloons and borders come out.

A hand is a person's way of drawing; a style is the medium (ink, screentone, flat colour and
so on). Any hand can work in any style. One hand is kept out of all tuning.
"""

from __future__ import annotations

from dataclasses import dataclass

from panelscan.demo.raster import RGB

STYLES = ("ink", "screentone", "flat", "painted", "pencil", "crayon", "onebit")
"""Media: black and white ink, gray by dots, flat colour, painted, pencil, coloured pencil,
black and white without gray."""

COLOR_STYLES = ("flat", "painted", "crayon")


@dataclass(frozen=True)
class Hand:
    """A way of drawing. Lengths are pixels on a page 2,000 px high.

    Parameters
    ----------
    name : str
        Name of the hand.
    line : float
        Usual width of a contour.
    taper : float
        0 even lines, 1 lines that thin out to nothing at both ends.
    wobble : float
        Spread of the line about its path.
    border : float
        Usual width of a panel border.
    border_wobble : float
        Spread of a hand-drawn border about its straight course.
    overshoot : float
        How far hand-drawn sides run past their corners.
    head_share : float
        Height of the head as a share of a figure's height.
    eyes : str
        ``"dot"``, ``"wide"`` or ``"ring"``.
    jaw : float
        0 round, 1 square heads.
    letters : str
        ``"pen"`` (our own stroke letters), ``"slant"`` (the same, leaning) or ``"type"``.
    balloon : str
        ``"round"``, ``"squash"`` (rounded box) or ``"wavy"``.
    balloon_line : float
        Width of the balloons' outline; 0 for none.
    """

    name: str
    line: float
    taper: float
    wobble: float
    border: float
    border_wobble: float
    overshoot: float
    head_share: float
    eyes: str
    jaw: float
    letters: str
    balloon: str
    balloon_line: float


HANDS = {
    "brush": Hand(
        "brush", line=3.0, taper=0.75, wobble=0.6, border=3.6, border_wobble=2.6, overshoot=0,
        head_share=0.2, eyes="ring", jaw=0.25, letters="pen", balloon="wavy", balloon_line=2.4,
    ),
    "nib": Hand(
        "nib", line=2.1, taper=0.45, wobble=0.3, border=4.6, border_wobble=1.4, overshoot=5,
        head_share=0.17, eyes="wide", jaw=0.1, letters="type", balloon="round", balloon_line=2.0,
    ),
    "wash": Hand(
        "wash", line=1.6, taper=0.5, wobble=0.5, border=3.0, border_wobble=2.0, overshoot=3,
        head_share=0.19, eyes="dot", jaw=0.5, letters="slant", balloon="squash", balloon_line=0,
    ),
    "marker": Hand(
        "marker", line=4.2, taper=0.1, wobble=1.5, border=4.8, border_wobble=3.6, overshoot=9,
        head_share=0.34, eyes="ring", jaw=0.75, letters="pen", balloon="squash",
        balloon_line=3.4,
    ),
}  # fmt: skip

LEFT_OUT_HAND = "marker"
"""Never used while the detector is tuned; scored apart."""

TUNING_HANDS = tuple(name for name in HANDS if name != LEFT_OUT_HAND)


@dataclass(frozen=True)
class Palette:
    """Colours of a scene or a book: names are roles, not hues."""

    sky: RGB
    wall: RGB
    far: RGB
    near: RGB
    floor: RGB
    wood: RGB
    accent: RGB
    light: RGB
    dark: RGB


PALETTES = (
    Palette((150, 196, 222), (226, 214, 186), (142, 168, 160), (96, 132, 92), (184, 154, 118),
            (150, 104, 66), (206, 78, 60), (250, 240, 196), (44, 48, 66)),
    Palette((240, 150, 140), (214, 120, 130), (168, 92, 128), (110, 78, 116), (150, 112, 122),
            (112, 74, 80), (236, 92, 84), (255, 214, 170), (56, 36, 62)),
    Palette((112, 96, 160), (132, 112, 172), (86, 78, 138), (62, 60, 108), (92, 82, 124),
            (84, 66, 104), (206, 84, 116), (226, 204, 236), (30, 28, 56)),
    Palette((218, 226, 196), (236, 226, 198), (176, 186, 150), (150, 140, 104), (206, 186, 150),
            (164, 122, 82), (222, 140, 56), (252, 246, 224), (62, 56, 46)),
    Palette((58, 78, 104), (70, 88, 100), (44, 62, 86), (34, 48, 62), (56, 58, 64),
            (70, 56, 52), (236, 176, 70), (246, 226, 150), (16, 20, 32)),
    Palette((196, 222, 228), (206, 214, 214), (152, 180, 190), (112, 150, 152), (190, 188, 176),
            (142, 122, 104), (44, 120, 146), (250, 250, 240), (36, 52, 60)),
    Palette((250, 196, 110), (240, 206, 150), (212, 142, 86), (166, 96, 70), (198, 158, 112),
            (134, 84, 52), (186, 54, 48), (255, 240, 190), (70, 38, 30)),
    Palette((214, 230, 240), (244, 240, 232), (214, 222, 226), (190, 206, 196), (228, 222, 210),
            (198, 176, 150), (226, 110, 96), (255, 252, 240), (60, 66, 80)),
)  # fmt: skip

SKINS: tuple[RGB, ...] = (
    (244, 208, 178), (222, 170, 132), (170, 116, 84), (112, 76, 58), (236, 190, 160),
    (196, 206, 190),
)  # fmt: skip


def shade(rgb: RGB, factor: float) -> RGB:
    """Darker (below 1) or lighter (above 1) colour."""
    if factor <= 1:
        return tuple(int(v * factor) for v in rgb)  # type: ignore[return-value]
    return tuple(int(255 - (255 - v) / factor) for v in rgb)  # type: ignore[return-value]
