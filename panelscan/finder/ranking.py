"""The artist's ratings and past choices move the ranking a little, openly and reversibly.

Ratings are the label ``rating`` (1 to 5); a choice is the label ``chosen``, a count that goes
up each time a grid of the library is written as a template. Both are labels of the library
like any other: they are listed, changed and taken away with `panelscan tag`. `panelscan info
--liking` lists how far each page is moved, and a hit that was moved says so.
"""

from __future__ import annotations

import getpass
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from panelscan.corpus.labels import Label, PageLabels, add_labels, labels_now
from panelscan.corpus.store import Library, now_utc
from panelscan.errors import PanelscanError
from panelscan.finder.hits import Hit

CHOSEN = "chosen"
MOST = 0.04
"""Farthest that ratings and choices together move a page, in units of grid distance."""
PER_STAR = 0.01
PER_DOUBLING = 0.005
BEAT_SCALE = 10.0
"""Costs of beats are about this much larger than distances of grids."""


@dataclass(frozen=True, slots=True)
class Liking:
    """What the artist said of a page.

    Parameters
    ----------
    rating : int or None
        1 to 5.
    chosen : int
        Times that the grid was taken.
    """

    rating: int | None = None
    chosen: int = 0

    @property
    def move(self) -> float:
        """How far the page moves, below 0 is up; at most `MOST` either way.

        Examples
        --------
        >>> Liking(5).move, Liking(1).move, Liking(3).move
        (-0.02, 0.02, 0.0)
        """
        stars = 0 if self.rating is None else self.rating - 3
        move = -PER_STAR * stars - PER_DOUBLING * math.log2(1 + self.chosen)
        return max(-MOST, min(MOST, move)) + 0.0

    def words(self) -> list[str]:
        """Why the page moved, in sentences."""
        way = "up" if self.move < 0 else "down"
        told = []
        if self.rating is not None and self.rating != 3:
            told.append(f"you rated it {self.rating} of 5")
        if self.chosen:
            told.append(f"you took it {self.chosen} time{'s' if self.chosen > 1 else ''}")
        return [f"Moved {way} a little: {' and '.join(told)}."] if told and self.move else []


def likings(labels: PageLabels) -> dict[str, Liking]:
    """What is said of each page that has a rating or was chosen."""
    ratings, chosen = labels.by_page.get("rating", {}), labels.by_page.get(CHOSEN, {})
    return {
        page: Liking(_number(ratings.get(page)), _number(chosen.get(page)) or 0)
        for page in sorted({*ratings, *chosen})
    }


def _number(text: str | None) -> int | None:
    return int(text) if text is not None and text.isdigit() else None


def ranked(hits: Sequence[Hit], liked: Mapping[str, Liking], scale: float = 1.0) -> list[Hit]:
    """Hits moved by what the artist likes and put in order; the reason is added.

    Parameters
    ----------
    hits : sequence of Hit
    liked : mapping of page id to Liking
        Empty to leave all as it is.
    scale : float
        1 where scores are distances of grids, `BEAT_SCALE` where they are costs of beats.
    """
    moved = []
    for hit in hits:
        liking = liked.get(hit.page_id, Liking())
        move = scale * liking.move
        moved.append(
            replace(
                hit,
                score=hit.score + move,
                moved=move,
                reasons=(*hit.reasons, *liking.words()),
            )
        )
    return sorted(moved, key=lambda h: (h.score, h.page))


def remember_choice(library: Library, page_id: str, who: str) -> int:
    """Note that a page's grid was taken for a new page.

    Returns
    -------
    int
        How often it was taken by now.
    """
    count = likings(labels_now(library.place)).get(page_id, Liking()).chosen + 1
    add_labels(library.place, [Label(CHOSEN, str(count), page_id=page_id)], who, now_utc())
    return count


def note_choice(library: Library, page_id: str, who: str = "") -> str:
    """Note a choice where the library can be written, and say what was done in a sentence.

    A library that cannot be written never stands in the way of a template.

    Parameters
    ----------
    library : Library
    page_id : str
        Page whose grid was taken.
    who : str
        The person; the one logged in by default.
    """
    try:
        count = remember_choice(library, page_id, who or user_name())
    except PanelscanError:
        return "The library cannot be written, so it does not note that this grid was taken."
    times = "once" if count == 1 else f"{count} times"
    return f"The library notes that this grid was taken, {times} by now: find moves it up a little."


def forget_choices(library: Library, page_ids: Iterable[str], who: str = "") -> int:
    """Take back all choices of the grids of some pages.

    Returns
    -------
    int
        Pages that had any.
    """
    chosen = labels_now(library.place).by_page.get(CHOSEN, {})
    gone = [Label(CHOSEN, None, page_id=page) for page in page_ids if page in chosen]
    add_labels(library.place, gone, who or user_name(), now_utc())
    return len(gone)


def user_name() -> str:
    """Name of the one logged in; a plain word where the system knows none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "artist"
