"""Panels joined to one, as rows: how a grid looks when a gutter is left out.

A grid with a panel cut in two is the same grid again once the two are joined, wherever the
cut was; so "the same but for one panel" is found by joining, in the grid asked for or in
the one found. How far a joined panel reaches is the farther reach of its two parts.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from panelscan.layout.fields import DIAGONAL_WEIGHT, EDGE_WEIGHT, ORDER_WEIGHT

GAP_WITHIN = 0.08  # share of the page between two panels that may still be one
FLUSH_WITHIN = 0.05  # share of the page by which their ends may differ


@lru_cache(maxsize=64)
def _pairs(count: int) -> tuple[np.ndarray, np.ndarray]:
    first, second = np.triu_indices(count, 1)
    return first, second


@lru_cache(maxsize=64)
def _kept(count: int) -> np.ndarray:
    """For each pair of panels, the panels that stay once the second joins the first."""
    _, second = _pairs(count)
    return np.array([np.delete(np.arange(count), j) for j in second]).reshape(-1, count - 1)


def join_pairs(rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Panels that would make one whole panel: side by side, ends flush.

    Parameters
    ----------
    rows : ndarray, shape (K, N, 14)
        Rows of K grids with N panels each, as from `layout.fields.panel_rows`.

    Returns
    -------
    grid, first, second : ndarray of int, shape (J,)
        J joins: of which grid, and which two of its panels.
    """
    count = rows.shape[1]
    if count < 2:
        none = np.arange(0)
        return none, none, none
    i, j = _pairs(count)
    x0, y0, x1, y1 = np.moveaxis(rows[:, :, :4] / EDGE_WEIGHT * (-1, -1, 1, 1), 2, 0)

    def flush(low: np.ndarray, high: np.ndarray) -> np.ndarray:
        ends = np.maximum(np.abs(low[:, i] - low[:, j]), np.abs(high[:, i] - high[:, j]))
        return np.asarray(ends < FLUSH_WITHIN)

    def touch(low: np.ndarray, high: np.ndarray) -> np.ndarray:
        gap = np.maximum(low[:, i] - high[:, j], low[:, j] - high[:, i])
        return np.asarray(np.abs(gap) < GAP_WITHIN)

    grid, pair = np.nonzero((flush(y0, y1) & touch(x0, x1)) | (flush(x0, x1) & touch(y0, y1)))
    return grid, i[pair], j[pair]


def joined(rows: np.ndarray, grid: np.ndarray, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Rows of grids with two panels joined at the place of the first.

    Parameters
    ----------
    rows : ndarray, shape (K, N, 14)
    grid, first, second : ndarray of int, shape (J,)
        As from `join_pairs`; ``first < second``.

    Returns
    -------
    ndarray, shape (J, N - 1, 14)
    """
    count = rows.shape[1]
    place = first * count - first * (first + 1) // 2 + second - first - 1  # in `_pairs` order
    new = rows[grid[:, None], _kept(count)[place]]
    each = np.arange(len(grid))
    new[each, first] = np.maximum(rows[grid, first], rows[grid, second])
    new[:, :, 8] = _places_after(rows[grid], new, first, second)
    return np.asarray(new)


def _places_after(
    rows: np.ndarray, new: np.ndarray, first: np.ndarray, second: np.ndarray
) -> np.ndarray:
    """Places in the order once two panels and the gutter between them are one, (J, N - 1).

    The gutter adds to the area read, so every place moves a little. Areas are taken from the
    boxes: exact for upright panels, near enough for slanted ones.
    """
    each, last = np.arange(len(rows)), new.shape[1]
    sizes = (rows[:, :, 0] + rows[:, :, 2]) * (rows[:, :, 1] + rows[:, :, 3])
    total = sizes.sum(axis=1)
    one, two = sizes[each, first] / total, sizes[each, second] / total
    box = new[each, first]
    whole = (box[:, 0] + box[:, 2]) * (box[:, 1] + box[:, 3]) / total
    gutter = np.maximum(whole - one - two, 0.0)
    k = np.arange(last)[None, :]
    # The second panel's own area now comes with the first, before those that lay between.
    moved = np.where(k < second[:, None], two[:, None], 0.0) + gutter[:, None]
    places = new[:, :, 8] / ORDER_WEIGHT + np.where(k > first[:, None], moved, 0.0)
    start = rows[each, first, 8] / ORDER_WEIGHT - one / 2
    places[each, first] = start + (one + two + gutter) / 2
    result: np.ndarray = ORDER_WEIGHT * places / (1 + gutter[:, None])
    return result


def cut(rows: np.ndarray, panel: int, across: bool, share: float = 0.5) -> np.ndarray:
    """Rows of the grid with one panel cut in two; shape (N + 1, 14).

    Parameters
    ----------
    rows : ndarray, shape (N, 14)
    panel : int
        The panel that is cut, taken as an upright rectangle.
    across : bool
        The cut runs across (two panels above each other) instead of down.
    share : float
        Share of the panel that the first part takes, 0..1.
    """
    low, high = (1, 3) if across else (0, 2)
    middle = share * rows[panel, high] - (1 - share) * rows[panel, low]
    one, two = rows[panel].copy(), rows[panel].copy()
    one[high], two[low] = middle, -middle
    for part in (one, two):
        x0, y0, x1, y1 = part[:4] / EDGE_WEIGHT * (-1, -1, 1, 1)
        reach = np.array([-x0 - y0, x1 - y0, x1 + y1, y1 - x0]) * np.sqrt(0.5)
        part[4:8] = DIAGONAL_WEIGHT * reach
    # The first part is read before the middle of the whole, the second after it.
    area = ORDER_WEIGHT * _area_share(rows, panel)
    one[8] -= area * (1 - share) / 2
    two[8] += area * share / 2
    return np.concatenate([rows[:panel], [one, two], rows[panel + 1 :]])


def _area_share(rows: np.ndarray, panel: int) -> float:
    sizes = (rows[:, 0] + rows[:, 2]) * (rows[:, 1] + rows[:, 3])
    return float(sizes[panel] / sizes.sum())
