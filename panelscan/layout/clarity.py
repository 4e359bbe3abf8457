"""How surely readers take one path: shares of readers fitted to published experiments.

People were given pages of empty panels and numbered them in the order they would read
them. The published shares are the anchors; between them the logarithm of the odds runs
straight, and where an anchor's place on the scale was not published it is our own
assumption and says so. All of this advises: an artist can steer a reader by other means
than the grid, and people who seldom read comics keep to rows more.

References
----------
N. Cohn, "Navigating comics: an empirical and theoretical approach to strategies of reading
comic page layouts", Frontiers in Psychology 4:186, 2013, doi 10.3389/fpsyg.2013.00186.

N. Cohn and H. Campbell, "Navigating Comics II: Constraints on the Reading Order of Comic
Page Layouts", Applied Cognitive Psychology 29(2):193-199, 2015, doi 10.1002/acp.3086.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class PublishedShare:
    """One published share of readers who go row by row.

    Parameters
    ----------
    arrangement : str
        What the page looked like.
    rows_share : float
        Share of readers who took the row-first path, 0..1.
    source : str
        Paper.
    standing : str
        ``"abstract"`` (author's own text was read), ``"second-hand"`` (quoted in public
        notes; the paper's table was not read) or ``"assumed"`` (ours).
    """

    arrangement: str
    rows_share: float
    source: str
    standing: str


GRID = PublishedShare(
    "pure grid", 0.945, "Cohn 2013: 94 %; Cohn & Campbell 2015: 95 %", "second-hand"
)
STAGGER = PublishedShare("staggered gutters", 0.895, "both papers: 89-90 %", "second-hand")
BLOCKAGE = PublishedShare("tall panel closes a stack", 0.315, "Cohn 2013: about 32 %", "abstract")
FULL_BLOCKAGE = PublishedShare(
    "the same, with an upright gutter unbroken over the page", 0.09,
    "Cohn & Campbell 2015: under 10 %", "second-hand",
)  # fmt: skip
SEPARATION = PublishedShare("one gutter made wide", 0.72, "Cohn 2013: about 72 %", "second-hand")
OVERLAP = PublishedShare("one panel laid on another", 0.5, "both papers: about half", "second-hand")
TALL_BETWEEN = PublishedShare(
    "tall panel between two stacks whose gutters line up", 0.6,
    "one printed page of 1943, described in a project blog", "assumed",
)  # fmt: skip
INSET = PublishedShare("host before its inset", 0.85, "no figure found", "assumed")
PLAIN = PublishedShare("only one path offers itself", 0.99, "no figure found", "assumed")
FOLD = PublishedShare("left page before right page", 0.9, "no figure found", "assumed")

PUBLISHED = (GRID, STAGGER, BLOCKAGE, FULL_BLOCKAGE, SEPARATION, OVERLAP)
ASSUMED = (TALL_BETWEEN, INSET, PLAIN, FOLD)

STAGGER_AT = 0.2
"""Slip at which the published share for staggering is taken to hold (assumed)."""
BLOCKED_AT = 1 / math.sqrt(2)
"""Slip of a tall panel that closes a stack of two: height 1 over root of 2 times 1."""
SAME_ROW = -4.0
"""Log odds against the farther panel where two stand level (assumed: near certain)."""
WIDE_RATIO = 3.0
"""Upright gutter against level gutter at which "wide" is taken to hold (assumed)."""
LEAST_SEPARATED = 0.55
"""No experiment shows a wide gutter alone turning the majority; hold it there (assumed)."""
OVERLAP_AT = 0.08
"""Share of the smaller panel covered from which readers are taken to be split (assumed)."""
OVERLAP_FROM = 0.01
"""Share of the smaller panel below which an overlap is taken for drawing wobble."""


def log_odds(share: float) -> float:
    """Natural logarithm of the odds of a share strictly between 0 and 1."""
    return math.log(share / (1.0 - share))


def share_of(odds_log: float) -> float:
    """Share whose log odds are given."""
    return 1.0 / (1.0 + math.exp(-odds_log))


def rows_share(slip: float, unbroken: bool = False) -> float:
    """Share of readers who go on along the row although its gutter slips.

    Parameters
    ----------
    slip : float
        How far a panel crosses the line between two rows, against the geometric mean of
        its own height and that of what stands beside it: 0 in a grid, 0.707 where a tall
        panel closes a stack of two.
    unbroken : bool
        The upright gutter runs unbroken over the whole height of the page.

    Returns
    -------
    float
        Share of row-first readers, falling with every step of the slip.

    Examples
    --------
    >>> [round(rows_share(slip), 3) for slip in (0.0, 0.2, 0.70710678)]
    [0.945, 0.895, 0.315]
    >>> round(rows_share(0.70710678, unbroken=True), 2)
    0.09
    """
    return share_of(float(rows_odds(np.array(slip), unbroken)))


def rows_odds(slip: np.ndarray, unbroken: bool = False) -> np.ndarray:
    """Log odds of `rows_share`, for many slips at once."""
    blocked = FULL_BLOCKAGE if unbroken else BLOCKAGE
    knots = (0.0, STAGGER_AT, BLOCKED_AT, 1.0)
    odds = [log_odds(s.rows_share) for s in (GRID, STAGGER, blocked)]
    return np.asarray(np.interp(slip, knots, [*odds, min(SAME_ROW, odds[-1])]))


def separated_share(column_gutter: float, tier_gutter: float) -> float:
    """Share of row-first readers of a grid by the widths of its gutters.

    Parameters
    ----------
    column_gutter, tier_gutter : float
        Widths of the upright and of the level gutters, in the same units.

    Returns
    -------
    float
        The grid's share where both are alike, 0.72 where the upright gutter is three
        times as wide, a little more than the grid's share where the level one is wider.

    Examples
    --------
    >>> round(separated_share(3, 3), 3), round(separated_share(9, 3), 2)
    (0.945, 0.72)
    """
    if column_gutter <= 0:
        return GRID.rows_share
    ratio = column_gutter / max(tier_gutter, column_gutter / 100)
    reach = math.log(ratio) / math.log(WIDE_RATIO)
    start, wide = log_odds(GRID.rows_share), log_odds(SEPARATION.rows_share)
    if reach <= 0:
        return share_of(start - 0.25 * max(reach, -1.0))
    return max(LEAST_SEPARATED, share_of(start + (wide - start) * reach))


def overlap_share(covered: float) -> float:
    """Share of readers who keep to the plain order of two panels that overlap.

    Parameters
    ----------
    covered : float
        Common area as a share of the smaller panel.

    Examples
    --------
    >>> overlap_share(0.0), round(overlap_share(0.3), 2)
    (1.0, 0.51)
    """
    if covered <= OVERLAP_FROM:
        return 1.0
    reach = min(1.0, (covered - OVERLAP_FROM) / (OVERLAP_AT - OVERLAP_FROM))
    # A hair above one half, so that the plain order stays the first of the two.
    return 1.0 - reach * (1.0 - OVERLAP.rows_share - 0.01)
