"""Room for lettering: trade rules of thumb, as numbers.

All of this is common practice, not a standard; the artist and the letterer decide.

References
----------
A page holds at most about 210 words: ascribed to editor Mort Weisinger by Alan Moore
(interview, repeated 2005). ``floor(210 / n)`` words a panel on a page of n panels: table by
D. Culver, 2013. At most 20 to 25 words a balloon: letterers' pages. About three balloons a
panel: a publisher's script guide, quoted second-hand.
"""

from __future__ import annotations

from math import ceil, floor

import numpy as np

from panelscan.finder.beats import Beat
from panelscan.finder.scene_words import MOST_WORDS

WORDS_A_PAGE = MOST_WORDS
WORDS_A_BALLOON = 25
BALLOONS_A_PANEL = 3


def words_per_panel(panel_count: int) -> int:
    """Words that each of `panel_count` equal panels holds.

    Examples
    --------
    >>> [words_per_panel(n) for n in (6, 9)]
    [35, 23]
    """
    if panel_count < 1:
        raise ValueError("a page needs at least one panel to letter")
    return floor(WORDS_A_PAGE / panel_count)


def room_words(area: np.ndarray, page_area: np.ndarray | float) -> np.ndarray:
    """Words that panels hold: the page's 210 words shared out by area, rounded down.

    Equal panels get what `words_per_panel` says.

    Parameters
    ----------
    area : ndarray of float
        Area of each panel, any unit.
    page_area : ndarray or float
        Area of all panels of its page together, same unit.
    """
    # The nudge keeps an exact share (35 of 210) from falling to 34 by float noise.
    words: np.ndarray = np.floor(WORDS_A_PAGE * np.asarray(area) / page_area + 1e-6)
    return words


def balloons_needed(words: int) -> int:
    """Fewest balloons that carry `words` words.

    Examples
    --------
    >>> balloons_needed(60)
    3
    """
    return ceil(words / WORDS_A_BALLOON)


def lettering_advice(beats: list[Beat] | tuple[Beat, ...], first_number: int = 1) -> list[str]:
    """What a letterer would say of the words of these beats, whatever the panels.

    Parameters
    ----------
    beats : sequence of Beat
        Beats that share a page or a scene.
    first_number : int
        Number of the first beat in the scene, from 1.

    Examples
    --------
    >>> lettering_advice([Beat("Talk", words=30, balloons=(30,))])
    ['Beat 1 has a balloon of 30 words; 25 is the usual most.']
    """
    advice = []
    for number, beat in enumerate(beats, start=first_number):
        longest = max(beat.balloons, default=0)
        needed = max(len(beat.balloons), balloons_needed(beat.words))
        if longest > WORDS_A_BALLOON:
            advice.append(
                f"Beat {number} has a balloon of {longest} words; {WORDS_A_BALLOON} is the usual "
                "most."
            )
        if needed > BALLOONS_A_PANEL:
            advice.append(
                f"Beat {number} ({beat.words} words) takes {needed} balloons; about "
                f"{BALLOONS_A_PANEL} a panel is usual. Part it in two beats."
            )
    return advice


def page_advice(beats: list[Beat] | tuple[Beat, ...], page_name: str) -> list[str]:
    """Says so where the words of a page pass the usual ceiling."""
    words = sum(beat.words for beat in beats)
    if words <= WORDS_A_PAGE:
        return []
    return [f"{page_name} carries {words} words; {WORDS_A_PAGE} a page is the usual most."]
