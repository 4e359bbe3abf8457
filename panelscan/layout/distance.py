"""How far apart two grids are, with the pairs of panels that show why.

The distance is the best one-to-one matching of panels, where a pair costs the difference of
place, size, shape, place in the order and bleeds up to a limit, and a panel without a
partner costs that limit; the sum is divided by the larger number of panels. This is a
metric on sets (no distance for the same grid, symmetric, never longer than a detour).

References
----------
D. Schuhmacher, B.-T. Vo, B.-N. Vo, "A consistent metric for performance evaluation of
multi-object filters", IEEE Transactions on Signal Processing 56(8), 2008, doi
10.1109/TSP.2008.920469 (proof that it is a metric, order p = 1; cited from memory; tested
here).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.layout.fields import panel_rows
from panelscan.model.grid import Grid

ALONE = 0.5
"""Cost of a panel without a partner, and the most that a pair costs."""
SAME = 0.02
"""Distance below which two grids are called the same but for jitter."""


@dataclass(frozen=True)
class PanelPair:
    """Two panels that answer each other.

    Parameters
    ----------
    first, second : int
        Places in the reading orders of the two grids, from 0.
    cost : float
        How much they differ, 0 to `ALONE`.
    """

    first: int
    second: int
    cost: float


@dataclass(frozen=True)
class GridDistance:
    """Distance of two grids and what it is made of.

    Parameters
    ----------
    value : float
        0 for the same grid, at most `ALONE` (0.5).
    pairs : tuple of PanelPair
        Matched panels, in the order of the first grid.
    unmatched_first, unmatched_second : tuple of int
        Panels of either grid without a partner.
    mirror_value : float
        Distance of the second grid to the mirror image of the first.
    mirror_of : bool
        The second grid is the mirror image of the first, and not the same grid.
    """

    value: float
    pairs: tuple[PanelPair, ...]
    unmatched_first: tuple[int, ...]
    unmatched_second: tuple[int, ...]
    mirror_value: float
    mirror_of: bool


def grid_distance(a: Grid, b: Grid) -> GridDistance:
    """Distance between two grids, in page-relative units.

    Parameters
    ----------
    a, b : Grid
        The page's aspect and the book's direction play no part; the order of the panels
        does.

    Returns
    -------
    GridDistance

    Examples
    --------
    >>> from panelscan.model.grid import GridPanel
    >>> from panelscan.model.outline import Outline
    >>> tall = GridPanel(Outline.box(0.6, 0.0, 1.0, 1.0))
    >>> stack = [GridPanel(Outline.box(0, y, 0.55, y + 0.45)) for y in (0.0, 0.55)]
    >>> page = Grid((*stack, tall))
    >>> grid_distance(page, page).value, grid_distance(page, page.mirrored()).mirror_of
    (0.0, True)
    """
    rows_a, rows_b = panel_rows(a), panel_rows(b)
    value, pairs = matched(rows_a, rows_b)
    mirror_value, _ = matched(panel_rows(a.mirrored()), rows_b)
    left, right = {p.first for p in pairs}, {p.second for p in pairs}
    return GridDistance(
        value=value,
        pairs=pairs,
        unmatched_first=tuple(i for i in range(len(rows_a)) if i not in left),
        unmatched_second=tuple(j for j in range(len(rows_b)) if j not in right),
        mirror_value=mirror_value,
        mirror_of=mirror_value < SAME <= value,
    )


def matched(rows_a: np.ndarray, rows_b: np.ndarray) -> tuple[float, tuple[PanelPair, ...]]:
    """Distance of two grids given as rows of `fields.panel_rows`, and the matched pairs.

    Parameters
    ----------
    rows_a, rows_b : ndarray of float64, shape (N, 14) and (M, 14)
        Panels as rows.

    Returns
    -------
    value : float
        The distance.
    pairs : tuple of PanelPair
        Pairs that cost less than a panel alone.
    """
    from scipy.optimize import linear_sum_assignment

    n, m = len(rows_a), len(rows_b)
    if not n or not m:
        return (ALONE if n != m else 0.0), ()
    cost = _costs(rows_a, rows_b)
    first, second = linear_sum_assignment(cost)
    chosen = cost[first, second]
    value = (float(chosen.sum()) + ALONE * abs(n - m)) / max(n, m)
    pairs = tuple(
        PanelPair(int(i), int(j), float(c))
        for i, j, c in zip(first, second, chosen, strict=True)
        if c < ALONE
    )
    return value, pairs


def distances(rows: np.ndarray, others: Sequence[np.ndarray]) -> np.ndarray:
    """Distances of one grid to many, all as rows of `fields.panel_rows`; shape (len(others),).

    Only the values, without pairs and mirror images: what a search needs.
    """
    from scipy.optimize import linear_sum_assignment

    found = np.empty(len(others))
    for k, other in enumerate(others):
        n, m = len(rows), len(other)
        if not n or not m:
            found[k] = ALONE if n != m else 0.0
            continue
        cost = _costs(rows, other)
        first, second = linear_sum_assignment(cost)
        found[k] = (float(cost[first, second].sum()) + ALONE * abs(n - m)) / max(n, m)
    return found


def _costs(rows_a: np.ndarray, rows_b: np.ndarray) -> np.ndarray:
    gap = rows_a[:, None, :] - rows_b[None, :, :]
    result: np.ndarray = np.minimum(np.sqrt(np.einsum("abk,abk->ab", gap, gap)), ALONE)
    return result
