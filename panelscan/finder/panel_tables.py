"""Panels of indexed pages as rows for exact comparison, many pages at once.

The same rows as `panelscan.layout.fields.panel_rows`, taken from the index's corners
instead of from grid objects; a test holds the two together.
"""

from __future__ import annotations

import numpy as np

from panelscan.finder.index_arrays import IndexArrays, unpack, unpack_flags
from panelscan.layout.distance import ALONE
from panelscan.layout.fields import (
    BLEED_WEIGHT,
    DIAGONAL_WEIGHT,
    EDGE_WEIGHT,
    INSET_WEIGHT,
    ORDER_WEIGHT,
    ROW_LENGTH,
)

BATCH = 8  # matchings made between two looks at whether more can still matter
ROUNDING = 1e-7  # rows nearer than this are the same but for rounding
_HALF = np.sqrt(0.5)
_SIDES = [[-1, 0], [0, -1], [1, 0], [0, 1]]
_CORNERS = [[-_HALF, -_HALF], [_HALF, -_HALF], [_HALF, _HALF], [-_HALF, _HALF]]
_REACHES = np.array(_SIDES + _CORNERS)
_WEIGHTS = np.array([EDGE_WEIGHT] * 4 + [DIAGONAL_WEIGHT] * 4)


def spans(starts: np.ndarray, chosen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Indices of everything that `chosen` own, side by side, and where each one's begin.

    Examples
    --------
    >>> spans(np.array([0, 2, 3, 6]), np.array([2, 0]))
    (array([3, 4, 5, 0, 1]), array([0, 3, 5]))
    """
    first = np.asarray(starts)[chosen].astype(np.int64)
    counts = np.asarray(starts)[np.asarray(chosen) + 1] - first
    own = np.concatenate([[0], np.cumsum(counts)])
    index = np.arange(own[-1]) + np.repeat(first - own[:-1], counts)
    return index, own


def rows_of_pages(arrays: IndexArrays, pages: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows of the panels of `pages`, and where each page's rows begin.

    Returns
    -------
    rows : ndarray of float64, shape (N, 14)
    starts : ndarray of int, shape (len(pages) + 1,)
    """
    panels, starts = spans(arrays.starts, pages)
    corners, corner_starts = spans(arrays.corner_starts, panels)
    rows = np.zeros((len(panels), ROW_LENGTH))
    if not len(panels):
        return rows, starts
    reaches = unpack(arrays.corners[corners]).astype(float) @ _REACHES.T
    rows[:, :8] = np.maximum.reduceat(reaches, corner_starts[:-1], axis=0) * _WEIGHTS
    areas = arrays.areas[panels].astype(float)
    before = np.cumsum(areas) - areas / 2
    owner = np.repeat(np.arange(len(pages)), np.diff(starts))
    total = np.add.reduceat(areas, starts[:-1])
    rows[:, 8] = ORDER_WEIGHT * (before - (np.cumsum(total) - total)[owner]) / total[owner]
    rows[:, 9:13] = BLEED_WEIGHT * unpack_flags(arrays.bleeds[panels])
    rows[:, 13] = INSET_WEIGHT * (arrays.hosts[panels] >= 0)
    return rows, starts


def distances_to(
    rows: np.ndarray, others: np.ndarray, starts: np.ndarray, best: int | None = None
) -> np.ndarray:
    """Distances of one grid's rows to many grids' rows, as `layout.distance.grid_distance`.

    Parameters
    ----------
    rows : ndarray, shape (N, 14)
    others : ndarray, shape (M, 14)
        Rows of many grids side by side.
    starts : ndarray of int, shape (C + 1,)
        Where each grid's rows begin; every grid has at least one.
    best : int, optional
        Only so many of the nearest need to be exact; all others come out no nearer than
        those, but perhaps nearer than they are.

    Returns
    -------
    ndarray of float64, shape (C,)
    """
    counts = np.diff(starts)
    if not len(rows):
        return np.full(len(counts), ALONE)
    squares = (rows**2).sum(axis=1)[:, None] + (others**2).sum(axis=1)[None, :]
    squares -= 2 * rows @ others.T
    cost = np.minimum(np.sqrt(np.maximum(squares, 0.0)), ALONE)
    cost[cost < ROUNDING] = 0.0
    found: np.ndarray = np.empty(len(counts))
    open_ = np.zeros(len(counts), dtype=bool)
    for count in np.unique(counts):
        own = np.flatnonzero(counts == count)
        columns = starts[own][:, None] + np.arange(count)
        found[own], open_[own] = _cheapest_partners(cost[:, columns].transpose(1, 0, 2))
    alone: np.ndarray = ALONE * np.abs(counts - len(rows))
    larger = np.maximum(counts, len(rows))
    found += alone
    found /= larger
    pending = np.flatnonzero(open_)
    pending = pending[np.argsort(found[pending], kind="stable")]
    for start in range(0, len(pending), BATCH):
        part = pending[start : start + BATCH]
        if best is not None and best < len(found):
            known = np.delete(found, pending[start:])
            if len(known) >= best and np.partition(known, best - 1)[best - 1] <= found[part[0]]:
                break
        for k in part:
            own_cost = cost[:, starts[k] : starts[k + 1]]
            found[k] = (_assigned(own_cost) + alone[k]) / larger[k]
    return found


def _cheapest_partners(cost: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sum of each panel's cheapest partner, for K tables of shape (N, M).

    Returns
    -------
    least : ndarray of float, shape (K,)
        No matching can cost less.
    is_open : ndarray of bool, shape (K,)
        Two panels want the same partner, so that the matching may cost more.
    """
    if cost.shape[1] > cost.shape[2]:
        cost = cost.transpose(0, 2, 1)
    partners = np.sort(cost.argmin(axis=2), axis=1)
    return cost.min(axis=2).sum(axis=1), (partners[:, 1:] == partners[:, :-1]).any(axis=1)


def _assigned(cost: np.ndarray) -> float:
    """Least sum of a one-to-one matching."""
    from scipy.optimize import linear_sum_assignment

    return float(cost[linear_sum_assignment(cost)].sum())
