"""Colours of beats, told apart by colour-blind eyes too; a number always stands beside.

The eight were found by a search for the largest least difference (CIEDE2000) between any two,
in full sight and in simulated protan, deutan and tritan sight alike, with dark lettering on
them at a contrast of at least 4.5 to 1; a test measures both.
"""

from __future__ import annotations

INK = "#22303c"
QUIET = "#5b6670"
PAPER = "#ffffff"
PAGE = "#eef1f3"
PLAIN = "#ffffff"
GIVE = "#a4400d"

BEATS = (
    "#e8a058",  # amber
    "#b8f8f8",  # ice
    "#a088e8",  # iris
    "#f8f888",  # butter
    "#70a0a0",  # slate green
    "#f8d0b8",  # peach
    "#d0b8f8",  # lilac
    "#b8a088",  # sand
)


def beat_colour(number: int) -> str:
    """Colour of a beat, counted from 0; after eight the colours come again.

    Examples
    --------
    >>> beat_colour(0) == beat_colour(8)
    True
    """
    return BEATS[number % len(BEATS)]
