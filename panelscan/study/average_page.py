"""The average page: where panels lie, and where gutters fall."""

from __future__ import annotations

import numpy as np

from panelscan.study.estimate import sheet_weights
from panelscan.study.shelf import Shelf

ROWS, COLUMNS = 96, 64
FINE = 4
SHARES = ("x_min_share", "y_min_share", "x_max_share", "y_max_share")


def average_page(shelf: Shelf) -> tuple[np.ndarray, np.ndarray]:
    """Share of pages on which a panel, and on which a gutter, covers each cell of the page.

    Returns
    -------
    panels, gutters : ndarray of float, shape (96, 64)
        0..1, rows from the top. A gutter is what lies free between the outermost panels of a
        page; margins are not gutters.

    Notes
    -----
    Boxes are summed, not their union, so places where panels overlap count twice; insets are
    left out and no cell counts more than every page.
    """
    rows = shelf.panel_rows
    boxes = np.column_stack([rows.numbers(name) for name in SHARES])
    good = np.isfinite(boxes).all(axis=1) & ~rows.flags("is_inset")
    boxes, sheet = np.clip(boxes[good], 0.0, 1.0), rows.sheet[good]
    weights = sheet_weights(shelf)
    pages = max(float(weights.sum()), 1e-9)
    panels = _cover(boxes, weights[sheet]) / pages
    taken, some = _whole_boxes(boxes, sheet, len(weights))
    within = _cover(taken, weights[some]) / pages
    return np.clip(panels, 0.0, 1.0), np.clip(within - panels, 0.0, 1.0)


def _whole_boxes(boxes: np.ndarray, sheet: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Box around all panels of each sheet that has some, and those sheets."""
    taken = np.tile([2.0, 2.0, -1.0, -1.0], (count, 1))
    for side in (0, 1):
        np.minimum.at(taken[:, side], sheet, boxes[:, side])
        np.maximum.at(taken[:, side + 2], sheet, boxes[:, side + 2])
    some = np.flatnonzero(taken[:, 2] >= 0)
    return taken[some], some


def _cover(boxes: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Sum of weighted boxes over the cells, shape (96, 64)."""
    rows, columns = ROWS * FINE, COLUMNS * FINE
    x0, y0, x1, y1 = np.rint(boxes * [columns, rows, columns, rows]).astype(np.int64).T
    steps = np.zeros((rows + 1) * (columns + 1))
    for ys, xs, sign in ((y0, x0, 1), (y0, x1, -1), (y1, x0, -1), (y1, x1, 1)):
        steps += np.bincount(ys * (columns + 1) + xs, weights=sign * weights, minlength=len(steps))
    fine = steps.reshape(rows + 1, columns + 1).cumsum(axis=0).cumsum(axis=1)[:rows, :columns]
    return np.asarray(fine.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3)))
