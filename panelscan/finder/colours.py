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
    "#60c0a0",  # sea green
    "#e08060",  # brick
    "#f8f860",  # yellow
    "#c0a0c0",  # mauve
    "#a0f8e0",  # mint
    "#e060f8",  # violet
    "#c0e0a0",  # leaf
    "#f8c0f8",  # pink
)


def beat_colour(number: int) -> str:
    """Colour of a beat, counted from 0; after eight the colours come again.

    Examples
    --------
    >>> beat_colour(0) == beat_colour(8)
    True
    """
    return BEATS[number % len(BEATS)]
