"""Which way a book is read, from the geometry of its pages: a hint, often a weak one.

Most pages are as readable from the left as from the right, so geometry alone seldom
settles the matter. Two habits leave traces:

- A stack with a tall panel beside it is read without doubt when the tall panel comes
  first, and splits readers when it closes the stack (`clarity`). Artists who think of
  the reader therefore put tall panels rather at the side where reading starts.
- A bound book has more room, and fewer bleeds, at the spine. Page one lies to the right of
  the spine in a left-to-right book and to the left of it in a right-to-left one.

The weights are our own judgement and kept small (common practice, no source); the artist's
word always wins.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from panelscan.layout import clarity
from panelscan.layout.sheet import make_sheet
from panelscan.layout.xy_cut import Cutter
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection

TALL_WEIGHT = 0.45
"""Log odds for each tall panel beside a stack, at the side that it stands on."""
SPINE_WEIGHT = 0.25
"""Log odds for each pair of pages whose margins tell the spine's side."""
MOST_ODDS = 3.0
LTR_PRIOR = 1.6
"""Log odds before any page is seen: a book that is not declared is read left to right about
five times in six. One stack more or less must not turn a whole book round."""
UNEQUAL = 0.01


def infer_direction(pages: Sequence[Sequence[Outline]]) -> tuple[ReadingDirection, float]:
    """Direction of a book from its pages.

    Parameters
    ----------
    pages : sequence of sequence of Outline
        Panels of each page in the book's order, page one first (pages that are missing as
        empty sequences). Units do not matter, but are the same within a page.

    Returns
    -------
    direction : ReadingDirection
        Left-to-right unless more speaks for the other.
    confidence : float
        Probability that the direction is right, 0.5 to 0.95; with nothing to go by it is
        the share of books that are read left to right, not what the pages say.

    Examples
    --------
    >>> stack = [Outline.box(0, 0, 4, 4), Outline.box(0, 5, 4, 9)]
    >>> infer_direction([[*stack, Outline.box(5, 0, 9, 9)]])
    (<ReadingDirection.LTR: 'ltr'>, 0.76)
    """
    odds = sum(_tall_odds(page) for page in pages) + _spine_odds(pages)
    odds = float(np.clip(odds + LTR_PRIOR, -MOST_ODDS, MOST_ODDS))
    direction = ReadingDirection.RTL if odds < -1e-9 else ReadingDirection.LTR
    return direction, round(clarity.share_of(abs(odds)), 2)


def _tall_odds(page: Sequence[Outline]) -> float:
    """Positive where tall panels stand to the left of stacks more often than to the right."""
    if len(page) < 3:
        return 0.0
    x_min, y_min, x_max, y_max = _live(page)
    corners = [o.array() - (x_min, y_min) for o in page]
    sheet = make_sheet(corners, x_max - x_min, y_max - y_min, mirrored=False)
    cutter = Cutter(sheet)
    odds = 0.0
    for row in cutter.split(sheet.tops, rows=True):
        columns = cutter.split(row, rows=False)
        if len(columns) < 2:
            continue
        stacked = [len(c) > 1 for c in columns]
        odds += TALL_WEIGHT * (stacked[-1] and not stacked[0])
        odds -= TALL_WEIGHT * (stacked[0] and not stacked[-1])
    return odds


def _spine_odds(pages: Sequence[Sequence[Outline]]) -> float:
    """Positive where odd pages keep their wider margin at the left.

    The page's own frame is not known here: sides are compared between odd and even pages.
    """
    lefts: tuple[list[float], list[float]] = ([], [])
    for number, page in enumerate(pages):
        if page:
            x_min, _, x_max, _ = _live(page)
            lefts[number % 2].append((x_min + x_max) / 2 / max(x_max - x_min, 1e-12))
    pairs = min(len(lefts[0]), len(lefts[1]))
    if pairs < 2:
        return 0.0
    shift = float(np.median(lefts[0]) - np.median(lefts[1]))
    spread = float(np.median([abs(v - np.median(side)) for side in lefts for v in side]))
    if abs(shift) < max(UNEQUAL, 2 * spread):
        return 0.0
    return float(np.sign(shift)) * SPINE_WEIGHT * min(pairs, 6)


def _live(page: Sequence[Outline]) -> tuple[float, float, float, float]:
    boxes = np.array([o.bounds for o in page])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
