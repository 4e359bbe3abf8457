"""Which way a book is read, from its pages and what its file says.

Signs, as log odds that add up:

- The file's own word: a PDF can say that its book is read from the right (ISO 32000-1:2008,
  12.2, Table 150, Direction; clause and table from memory). Left to right is what a PDF
  says by default, so that word counts less.
- Where lettering starts inside the panels (`layout.lettering_start`).
- A stack with a tall panel beside it is read without doubt when the tall panel comes first,
  and splits readers when it closes the stack (`clarity`, from Cohn 2013). Artists who think
  of the reader therefore put tall panels rather at the side where reading starts.
- A bound book has more room, and fewer bleeds, at the spine. Page one lies to the right of
  the spine in a left-to-right book and to the left of it in a right-to-left one.

Panels alone seldom settle the matter: most pages are as readable from either side. The
weights are our own judgement and kept small (common practice, no source); the artist's word
always wins.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from panelscan.layout import clarity
from panelscan.layout.lettering_start import Starts, lettering_starts
from panelscan.layout.sheet import make_sheet
from panelscan.layout.xy_cut import Cutter
from panelscan.model.direction import DirectionSource, JudgedDirection
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection

TALL_WEIGHT = 0.2
"""Log odds for each tall panel beside a stack, at the side that it stands on."""
SPINE_WEIGHT = 0.25
"""Log odds for each pair of pages whose margins tell the spine's side."""
SAID_RTL, SAID_LTR = -8.0, 2.0
"""Log odds of the file's word: saying "right to left" takes a decision."""
MOST_LETTERING, MOST_PANELS = 5.0, 2.0
"""Bounds of what lettering and panels may add: neither outvotes the file's decision."""
MOST_ODDS, MOST_SAID_ODDS = 3.0, 4.6
"""Nothing makes the answer surer than this: without the file's word, and with it."""
LTR_PRIOR = 1.6
"""Log odds before any page is seen: a book that is not declared is read left to right about
five times in six. One stack more or less must not turn a whole book round."""
TURN_ODDS = 0.62
"""Log odds from which a book is called right-to-left: a probability of 0.65. Taking a book for
one by mistake puts all its pages in disorder, so the doubtful ones stay left-to-right."""
LEAST_SIGN = 0.25
"""Log odds below which a sign is no reason."""
UNEQUAL = 0.01

Pages = Sequence[Sequence[Outline]]


def infer_direction(
    pages: Pages, lettering: Pages = (), said: ReadingDirection | None = None
) -> tuple[ReadingDirection, float]:
    """Direction of a book from its pages; see `judge_direction`.

    Examples
    --------
    >>> stack = [Outline.box(0, 0, 4, 4), Outline.box(0, 5, 4, 9)]
    >>> infer_direction([[*stack, Outline.box(5, 0, 9, 9)]])
    (<ReadingDirection.LTR: 'ltr'>, 0.8)
    """
    judged = judge_direction(pages, lettering, said)
    return judged.direction, judged.confidence


def judge_direction(
    pages: Pages, lettering: Pages = (), said: ReadingDirection | None = None
) -> JudgedDirection:
    """Direction of a book, how surely, and what speaks for it most.

    Parameters
    ----------
    pages : sequence of sequence of Outline
        Panels of each page in the book's order, page one first (pages that are missing as
        empty sequences). Units do not matter, but are the same within a page.
    lettering : sequence of sequence of Outline
        Balloons and captions of each page, where they are known; as many as pages.
    said : ReadingDirection or None
        What the book's file says itself.

    Returns
    -------
    JudgedDirection
        Right-to-left only where clearly more speaks for it (`TURN_ODDS`); so the confidence
        lies between 0.35 and 0.99. With nothing to go by it is the share of books that are
        read left to right, not what the pages say.

    Examples
    --------
    >>> judged = judge_direction([], said=ReadingDirection.RTL)
    >>> judged.direction.value, judged.confidence, judged.source.value
    ('rtl', 0.99, 'file')
    """
    signs = {
        DirectionSource.FILE: _said_odds(said),
        DirectionSource.LETTERING: _within(_lettering_odds(pages, lettering), MOST_LETTERING),
        DirectionSource.PANELS: _within(
            sum(_tall_odds(page) for page in pages) + _spine_odds(pages), MOST_PANELS
        ),
    }
    most = MOST_SAID_ODDS if said is not None else MOST_ODDS
    odds = _within(LTR_PRIOR + sum(signs.values()), most)
    rtl = odds <= -TURN_ODDS
    return JudgedDirection(
        ReadingDirection.RTL if rtl else ReadingDirection.LTR,
        round(clarity.share_of(-odds if rtl else odds), 2),
        _reason(signs, rtl),
    )


def _lettering_odds(pages: Pages, lettering: Pages) -> float:
    both = zip(pages, lettering, strict=False)
    return sum((lettering_starts(*page) for page in both), Starts()).log_odds


def _said_odds(said: ReadingDirection | None) -> float:
    if said is None:
        return 0.0
    return SAID_RTL if said is ReadingDirection.RTL else SAID_LTR


def _within(odds: float, most: float) -> float:
    return float(np.clip(odds, -most, most))


def _reason(signs: dict[DirectionSource, float], rtl: bool) -> DirectionSource:
    """The strongest sign that points the way taken."""
    toward = {source: -odds if rtl else odds for source, odds in signs.items()}
    best = max(toward, key=lambda source: toward[source])
    return best if toward[best] >= LEAST_SIGN else DirectionSource.ASSUMED


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
