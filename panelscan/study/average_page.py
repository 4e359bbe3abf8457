"""The average page: where panels lie, and where gutters fall."""

from __future__ import annotations

import numpy as np

from panelscan.study.estimate import sheet_weights
from panelscan.study.shelf import Shelf

ROWS, COLUMNS = 96, 64
FINE = 4
CHUNK = 500_000
"""Boxes at a time, to keep memory small."""
SHARES = ("x_min_share", "y_min_share", "x_max_share", "y_max_share")


def average_page(shelf: Shelf) -> tuple[np.ndarray, np.ndarray]:
    """Share of pages on which a panel, and on which a gutter, covers each cell of the page.

    Returns
    -------
    panels, gutters : ndarray of float, shape (96, 64)
        0..1, rows from the top.

    Notes
    -----
    Boxes are summed, not their union, so places where panels overlap count twice; insets are
    left out and no cell counts more than every page.
    """
    rows = shelf.panel_rows
    boxes = np.empty((len(rows), 4), dtype=np.float32)
    for column, name in enumerate(SHARES):
        boxes[:, column] = rows.numbers(name)
    weights = sheet_weights(shelf)
    pages = max(float(weights.sum()), 1e-9)
    counted = np.where(rows.flags("is_inset"), 0.0, weights[rows.sheet])
    panels = _cover(boxes, counted) / pages
    strips, sheet = _strips(shelf, boxes)
    gutters = _cover(strips, weights[sheet]) / pages
    return np.clip(panels, 0.0, 1.0), np.clip(gutters, 0.0, 1.0)


def _strips(shelf: Shelf, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Box between the facing panels of each gutter, shape (G, 4), and its sheet."""
    rows = shelf.gutter_rows
    pair = [shelf.panel_at(rows.sheet, rows.numbers(name)) for name in ("panel_a", "panel_b")]
    known = (pair[0] >= 0) & (pair[1] >= 0)
    a, b = (boxes[k[known]] for k in pair)
    between = np.column_stack([np.minimum(a[:, 2:], b[:, 2:]), np.maximum(a[:, :2], b[:, :2])])
    facing = np.column_stack([np.maximum(a[:, :2], b[:, :2]), np.minimum(a[:, 2:], b[:, 2:])])
    across = rows.equals("kind", "tier")[known][:, None]
    strips = np.where(across, facing, between)
    strips[:, 1::2] = np.where(across, between, facing)[:, 1::2]
    open_ = (strips[:, 2] > strips[:, 0]) & (strips[:, 3] > strips[:, 1])
    return strips[open_], rows.sheet[known][open_]


def _cover(boxes: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Sum of weighted boxes over the cells, shape (96, 64)."""
    rows, columns = ROWS * FINE, COLUMNS * FINE
    steps = np.zeros((rows + 1) * (columns + 1))
    for start in range(0, len(boxes), CHUNK):
        some, weight = boxes[start : start + CHUNK], weights[start : start + CHUNK]
        known = np.isfinite(some).all(axis=1)
        cells = np.clip(some[known], 0.0, 1.0) * [columns, rows, columns, rows]
        x0, y0, x1, y1 = np.rint(cells).astype(np.int64).T
        for ys, xs, sign in ((y0, x0, 1), (y0, x1, -1), (y1, x0, -1), (y1, x1, 1)):
            at = ys * (columns + 1) + xs
            steps += np.bincount(at, weights=sign * weight[known], minlength=len(steps))
    fine = steps.reshape(rows + 1, columns + 1).cumsum(axis=0).cumsum(axis=1)[:rows, :columns]
    return np.asarray(fine.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3)))
