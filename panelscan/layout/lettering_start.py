"""At which side of the panels lettering starts: the best sign of which way a book is read.

Balloons and captions of a panel are read from its top, and in the direction of the page:
the first stands at the upper left of a panel that is read from the left, at the upper right
of one that is read from the right, and the next hangs lower on the other side. A caption
that opens a panel sits in the corner where reading starts, one that closes it in the corner
where reading ends. All of this is common practice without a source; which way the words run
inside the balloons does not matter, for only the balloons' places count.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.model.outline import Outline

FAITHFUL = np.linspace(0.6, 0.9, 13)
"""Shares of a book's panels that may be lettered in its direction, all as likely: nobody knows
beforehand how faithful a book is (our own judgement; on our page maker's pages, read by our
finder, about four in five are)."""
LOWER, HARDLY_LOWER = 0.1, 0.05
"""Shares of the panel's height by which the second piece hangs lower: surely, and perhaps."""
PERHAPS = 0.6
"""What a panel counts whose second piece hangs only hardly lower."""
MUCH_LOWER = 0.5
"""Drop from which the side tells nothing any more: reading comes down the panel anyhow."""
BESIDE = 0.5
"""Share of the narrower piece up to which two may lie one under the other."""
CORNER = 0.06
"""Share of the panel's width (or height) within which a caption sits in the corner."""
FREE = 0.15
"""Share of the panel's width that it leaves free at the other side, at least."""
BOX_FILL = 0.93
"""Share of its bounding box from which a piece of lettering is a caption's box."""


@dataclass(frozen=True)
class Starts:
    """How much of a page's lettering starts at the left, and how much at the right.

    Examples
    --------
    >>> Starts(2, 0).log_odds > 0 > Starts(1, 3).log_odds
    True
    """

    left: float = 0.0
    right: float = 0.0

    def __add__(self, other: Starts) -> Starts:
        return Starts(self.left + other.left, self.right + other.right)

    @property
    def log_odds(self) -> float:
        """Log odds for left to right.

        Notes
        -----
        Ratio of the chances of these counts in a book read from the left and in one read
        from the right, over all shares that a book may hold to (`FAITHFUL`): counts that
        contradict each other also say that this book's lettering tells little.
        """
        return _log_chance(self.left, self.right) - _log_chance(self.right, self.left)


def lettering_starts(panels: Sequence[Outline], pieces: Sequence[Outline]) -> Starts:
    """At which side the lettering of one page starts.

    Parameters
    ----------
    panels : sequence of Outline
        The page's panels.
    pieces : sequence of Outline
        Balloons and captions in the same units.

    Returns
    -------
    Starts
        Counts of panels and captions; a mirrored page gives them changed over.

    Examples
    --------
    >>> panel = Outline.box(0, 0, 100, 100)
    >>> pieces = [Outline.of([(5, 15), (25, 5), (45, 15), (25, 25)]), Outline.box(60, 20, 80, 40)]
    >>> lettering_starts([panel], pieces)
    Starts(left=1.0, right=0.0)
    >>> lettering_starts([panel.mirrored(100)], [p.mirrored(100) for p in pieces])
    Starts(left=0.0, right=1.0)
    """
    if not panels or not pieces:
        return Starts()
    boxes = np.array([p.bounds for p in panels])
    lettering = np.array([p.bounds for p in pieces])
    fills = np.array([p.area for p in pieces]) / (lettering[:, 2:] - lettering[:, :2]).prod(axis=1)
    homes = _homes(boxes, lettering)
    found = Starts()
    for panel in sorted(set(homes) - {-1}):
        own = [k for k, home in enumerate(homes) if home == panel]
        found += _panel_starts(boxes[panel], lettering[own], fills[own] >= BOX_FILL)
    return found


def _homes(boxes: np.ndarray, pieces: np.ndarray) -> list[int]:
    """The smallest panel that holds most of each piece; -1 where none does."""
    common = np.minimum(boxes[:, None, 2:], pieces[None, :, 2:]) - np.maximum(
        boxes[:, None, :2], pieces[None, :, :2]
    )
    shared = np.maximum(common, 0).prod(axis=2) / (pieces[:, 2:] - pieces[:, :2]).prod(axis=1)
    sizes = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1)
    held = np.where(shared > 0.5, sizes[:, None], np.inf)
    smallest: np.ndarray = np.where(np.isfinite(held).any(axis=0), held.argmin(axis=0), -1)
    homes: list[int] = smallest.tolist()
    return homes


def _panel_starts(box: np.ndarray, pieces: np.ndarray, are_boxes: np.ndarray) -> Starts:
    """At which side the lettering of one panel starts: one count at most."""
    size = box[2:] - box[:2]
    near, far = (pieces[:, :2] - box[:2]) / size, (box[2:] - pieces[:, 2:]) / size
    ranked = np.argsort(near[:, 1], kind="stable").tolist()
    if len(ranked) > 1:
        onward = _step(near, far, *ranked[:2])
        if onward:
            return _to(onward, abs(onward))
    for k, is_last in ((ranked[0], False), (ranked[-1], True)):
        corner = min(near[k, 0], far[k, 0]) <= CORNER and max(near[k, 0], far[k, 0]) >= FREE
        level = far[k, 1] if is_last else near[k, 1]
        if are_boxes[k] and corner and level <= CORNER:
            at_right = bool(near[k, 0] > far[k, 0])
            return _to(1.0 if at_right == is_last else -1.0, 1.0)
    return Starts()


def _step(near: np.ndarray, far: np.ndarray, first: int, second: int) -> float:
    """Which way the second piece of lettering lies from the first: how much it counts, or 0.

    ``near`` and ``far`` hold the room left of and above the pieces, and right of and below
    them, in shares of the panel.
    """
    drop = near[second, 1] - near[first, 1]
    widths = 1 - near[:, 0] - far[:, 0]
    right = min(1 - far[first, 0], 1 - far[second, 0])
    common = right - max(near[first, 0], near[second, 0])
    if not HARDLY_LOWER < drop <= MUCH_LOWER or common > BESIDE * min(widths[[first, second]]):
        return 0.0
    aside = near[second, 0] - far[second, 0] - near[first, 0] + far[first, 0]
    return float(math.copysign(1.0 if drop > LOWER else PERHAPS, aside))


def _to(onward: float, count: float) -> Starts:
    """Reading goes on to the right where ``onward`` is positive."""
    return Starts(left=count) if onward > 0 else Starts(right=count)


def _log_chance(held: float, against: float) -> float:
    """Logarithm of the mean chance of so many panels that hold and so many that do not."""
    chances = held * np.log(FAITHFUL) + against * np.log(1 - FAITHFUL)
    return float(chances.max() + np.log(np.exp(chances - chances.max()).mean()))
