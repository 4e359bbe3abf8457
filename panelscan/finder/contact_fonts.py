"""Letters of a PNG contact sheet: Pillow's own font, and the system's where that lacks some."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import ImageFont

PLAIN = {"\u00a0": " ", "\u202f": " ", "\u2009": " ", "–": "-", "—": "-", "‘": "'", "’": "'",
         "“": '"', "”": '"', "…": "..."}  # fmt: skip
"""What may stand for a sign of writing that a font lacks."""
SYSTEM = (
    "NotoSansCJK-Regular.ttc", "DejaVuSans.ttf", "Arial Unicode.ttf", "ArialUnicode.ttf",
    "YuGothM.ttc", "msgothic.ttc", "Hiragino Sans GB.ttc", "malgun.ttf", "msyh.ttc",
    "NotoSans-Regular.ttf", "LiberationSans-Regular.ttf", "arial.ttf",
)  # fmt: skip
NONE_HAS = "\uffff"  # no character: drawn as whatever a font draws for what it lacks


def letters(text: str, size: float) -> tuple[str, ImageFont.FreeTypeFont]:
    """A text as it can be drawn, and the font for it.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Height in pixels.

    Returns
    -------
    text : str
        Signs that no font has are put in plainer ones, at worst in ``?``.
    font : FreeTypeFont
    """
    own = _own(size)
    lacking = _lacking(own, text)
    text = "".join(PLAIN.get(c, c) if c in lacking else c for c in text)
    lacking = _lacking(own, text)
    if not lacking:
        return text, own
    for name in SYSTEM:
        other = _of_system(name, size)
        if other is not None and not _lacking(other, text):
            return text, other
    return "".join("?" if c in lacking else c for c in text), own


@cache
def _own(size: float) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    font = ImageFont.load_default(size)
    assert isinstance(font, ImageFont.FreeTypeFont)  # noqa: S101 - Pillow is built with FreeType
    return font


@cache
def _of_system(name: str, size: float) -> ImageFont.FreeTypeFont | None:
    from PIL import ImageFont

    try:
        return ImageFont.truetype(name, size)
    except OSError:
        return None


def _lacking(font: ImageFont.FreeTypeFont, text: str) -> set[str]:
    """Characters that the font draws like one that it cannot have."""
    return {c for c in set(text) if not c.isascii() and _drawn(font, c) == _drawn(font, NONE_HAS)}


def _drawn(font: ImageFont.FreeTypeFont, letter: str) -> tuple[tuple[int, int], bytes]:
    mask = font.getmask(letter)
    return mask.size, bytes(mask)
