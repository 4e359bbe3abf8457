# ruff: noqa: E501 (a table of strokes)
"""Our own stroke letters: each a few pen strokes on a grid 4 wide and 6 high, y down."""

from __future__ import annotations

from functools import cache

import numpy as np

_STROKES = {
    "A": "0,6 2,0 4,6|0.8,4 3.2,4", "B": "0,0 0,6 2.6,6 3.6,4.8 2.6,3.2 0,3|0,0 2.4,0 3.2,1.4 2.4,2.8 0,3",
    "C": "3.8,1 2.6,0 1,0.3 0,2.2 0.2,4.4 1.4,6 2.8,6 3.9,5", "D": "0,0 0,6 2,6 3.7,4.6 3.7,1.4 2,0 0,0",
    "E": "3.4,0 0,0 0,6 3.6,6|0,3 2.8,2.9", "F": "3.5,0 0,0 0,6|0,3 2.7,2.9",
    "G": "3.8,1 2.6,0 1,0.3 0,2.2 0.2,4.6 1.6,6 3.2,5.8 3.9,4.6 3.9,3.3 2.2,3.3", "H": "0,0 0,6|3.6,0 3.6,6|0,3 3.6,3",
    "I": "0.6,0 0.6,6", "J": "3,0 3,4.6 2,6 0.8,5.9 0,4.8", "K": "0,0 0,6|3.6,0 0.2,3.2 3.8,6", "L": "0,0 0,6 3.2,6",
    "M": "0,6 0.5,0 2.3,4 4.1,0 4.6,6", "N": "0,6 0,0 3.6,6 3.6,0", "O": "2,0 0.5,0.8 0,3 0.6,5.3 2,6 3.5,5.2 4,3 3.4,0.8 2,0",
    "P": "0,6 0,0 2.6,0 3.6,1.5 2.6,3.1 0,3.3", "Q": "2,0 0.5,0.8 0,3 0.6,5.3 2,6 3.5,5.2 4,3 3.4,0.8 2,0|2.6,4.4 4.2,6.4",
    "R": "0,6 0,0 2.5,0 3.5,1.4 2.5,2.9 0,3.1|1.6,3 3.8,6", "S": "3.5,0.9 2.3,0 0.9,0.2 0.2,1.5 1,2.7 2.8,3.4 3.6,4.7 2.8,5.9 1.2,6 0,5",
    "T": "0,0 4,0|2,0 2,6", "U": "0,0 0,4.4 1,6 2.6,6 3.6,4.6 3.6,0", "V": "0,0 2,6 4,0", "W": "0,0 1.2,6 2.6,1.6 4,6 5.2,0",
    "X": "0,0 3.8,6|3.8,0 0,6", "Y": "0,0 2,2.8 4,0|2,2.8 2,6", "Z": "0,0 3.8,0 0,6 3.9,6",
    "0": "2,0 0.4,1 0,3 0.5,5.3 2,6 3.4,5.2 3.8,3 3.3,0.8 2,0", "1": "0.2,1.2 1.4,0 1.4,6", "2": "0.2,1.3 1.6,0 3.2,0.6 3.3,2 0,6 3.6,6",
    "3": "0.3,0.6 2,0 3.3,1.2 2.4,2.7 1.2,2.8|2.4,2.8 3.6,4.2 2.4,5.9 0,5.5", "4": "2.8,6 2.8,0 0,4.2 3.9,4.2",
    "5": "3.3,0 0.5,0 0.3,2.6 2.2,2.3 3.5,3.8 2.8,5.7 0,5.8", "6": "3.2,0.3 1.4,1.4 0.2,3.6 0.8,5.7 2.6,6 3.6,4.6 2.6,3.1 0.5,3.6",
    "7": "0,0 3.7,0 1.3,6", "8": "2,3 0.5,1.8 1,0.2 2.8,0.1 3.4,1.6 2,3 0.2,4.3 0.8,5.9 2.9,6 3.7,4.5 2,3",
    "9": "3.4,2.4 1.6,3 0.2,1.8 1,0.1 2.8,0.1 3.5,1.6 3.2,4 1.6,6",
    ".": "0.2,5.6 0.5,6", ",": "0.6,5.5 0.1,6.9", "!": "0.5,0 0.5,4|0.5,5.5 0.6,6", "?": "0.2,1.2 1.4,0 2.9,0.7 2.9,2 1.5,3.2 1.5,4.2|1.5,5.5 1.6,6",
    "'": "0.4,0 0.2,1.6", "-": "0.2,3.2 2.2,3.1", ":": "0.3,2.2 0.5,2.5|0.3,5.4 0.5,5.7", "~": "0,3.4 1,2.6 2,3.4 3,2.6", "/": "0,6 2.6,0",
}  # fmt: skip
_WIDTHS = {
    "I": 1.2, "J": 3.0, "M": 4.6, "W": 5.2, "1": 1.8, ".": 0.8, ",": 0.9, "!": 1.0, "'": 0.7,
    "-": 2.4, ":": 0.8, " ": 2.4, "?": 3.0, "L": 3.2,
}  # fmt: skip
CAP_HEIGHT = 6.0
SPACING = 1.35


def glyph_width(letter: str) -> float:
    """Advance width of a letter without spacing, in grid units."""
    return _WIDTHS.get(letter.upper(), 3.8)


@cache
def glyph_strokes(letter: str) -> tuple[np.ndarray, ...]:
    """Pen strokes of a letter, each of shape (N, 2); none for a space or an unknown letter."""
    text = _STROKES.get(letter.upper(), "")
    strokes = []
    for part in text.split("|"):
        if part:
            strokes.append(np.array([[float(v) for v in p.split(",")] for p in part.split()]))
    return tuple(strokes)


def text_width(text: str) -> float:
    """Width of a line of text in grid units."""
    return sum(glyph_width(ch) + SPACING for ch in text) - SPACING if text else 0.0


def text_strokes(
    text: str, cap_px: float, rng: np.random.Generator, lean: float = 0.0, shake: float = 0.12
) -> list[np.ndarray]:
    """Strokes of a line of text whose top-left corner is the origin.

    Parameters
    ----------
    text : str
        One line; letters are drawn as capitals.
    cap_px : float
        Height of the capitals in pixels.
    lean : float
        Slant, 0.2 a usual italic.
    shake : float
        Spread of each letter's place and corners in grid units.
    """
    scale = cap_px / CAP_HEIGHT
    x = 0.0
    lines = []
    for ch in text:
        jump = rng.normal(size=2) * shake
        for stroke in glyph_strokes(ch):
            p = stroke + rng.normal(size=stroke.shape) * shake * 0.6 + jump
            p = np.stack([p[:, 0] + x + lean * (CAP_HEIGHT - p[:, 1]), p[:, 1]], axis=1)
            lines.append(p * scale)
        x += glyph_width(ch) + SPACING
    return lines
