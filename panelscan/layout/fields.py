"""A grid as arrays for comparing: one row of numbers a panel, and coarse fields over the page.

All in page-relative units (x in shares of the width, y of the height), so that a page's
aspect plays no part.
"""

from __future__ import annotations

import math

import numpy as np

from panelscan.model.grid import Grid
from panelscan.model.page import PageEdge

EDGE_WEIGHT = 0.5
DIAGONAL_WEIGHT = 0.25
ORDER_WEIGHT = 1.0
BLEED_WEIGHT = 0.12
INSET_WEIGHT = 0.25
_HALF = math.sqrt(0.5)
_DIRECTIONS = np.array(
    [
        [-1, 0], [0, -1], [1, 0], [0, 1],
        [-_HALF, -_HALF], [_HALF, -_HALF], [_HALF, _HALF], [-_HALF, _HALF],
    ]
)  # fmt: skip
_WEIGHTS = np.array([EDGE_WEIGHT] * 4 + [DIAGONAL_WEIGHT] * 4)
_EDGES = tuple(PageEdge)
ROW_LENGTH = 14


def panel_rows(grid: Grid) -> np.ndarray:
    """One row of weighted numbers for each panel; Euclidean distance between rows compares panels.

    Parameters
    ----------
    grid : Grid
        N panels.

    Returns
    -------
    ndarray of float64, shape (N, 14)
        How far the panel reaches in eight directions (its support function: four sides and
        four corners, steady under any jitter), its place in the order, its bleeds, and
        whether it is an inset. The place is the share of the panels' area that is read
        before the middle of the panel, so splitting one panel leaves the others' alone.
    """
    rows = np.zeros((len(grid.panels), ROW_LENGTH))
    for row, panel in zip(rows, grid.panels, strict=True):
        row[:8] = (panel.outline.array() @ _DIRECTIONS.T).max(axis=0) * _WEIGHTS
        row[9:13] = [BLEED_WEIGHT * (edge in panel.bleed) for edge in _EDGES]
        row[13] = INSET_WEIGHT * (panel.host is not None)
    rows[:, 8] = ORDER_WEIGHT * order_places(grid)
    return rows


def order_places(grid: Grid) -> np.ndarray:
    """Share of the panels' area read before the middle of each panel, shape (N,), 0..1."""
    areas = np.array([p.outline.area for p in grid.panels])
    if not len(areas):
        return areas
    result: np.ndarray = (np.cumsum(areas) - areas / 2) / areas.sum()
    return result


def boxes_of(grid: Grid) -> np.ndarray:
    """Bounding boxes, shape (N, 4): x_min, y_min, x_max, y_max."""
    return np.array([p.outline.bounds for p in grid.panels]).reshape(-1, 4)
