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
        0..1, rows from the top.

    Notes
    -----
    Boxes are summed, not their union, so places where panels overlap count twice; insets are
    left out and no cell counts more than every page.
    """
    rows = shelf.panel_rows
    boxes = np.column_stack([rows.numbers(name) for name in SHARES])
    good = np.isfinite(boxes).all(axis=1) & ~rows.flags("is_inset")
    weights = sheet_weights(shelf)
    pages = max(float(weights.sum()), 1e-9)
    panels = _cover(boxes[good], weights[rows.sheet[good]]) / pages
    strips, sheet = _strips(shelf, boxes)
    gutters = _cover(strips, weights[sheet]) / pages
    return np.clip(panels, 0.0, 1.0), np.clip(gutters, 0.0, 1.0)


def _strips(shelf: Shelf, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Box between the facing panels of each gutter, shape (G, 4), and its sheet."""
    rows = shelf.gutter_rows
    first = np.searchsorted(shelf.panel_rows.sheet, np.arange(len(shelf.page_of_sheet) + 1))
    start, count = first[rows.sheet], np.diff(first)[rows.sheet]
    pair = [rows.numbers(name) - 1 for name in ("panel_a", "panel_b")]
    known = np.logical_and.reduce([(k >= 0) & (k < count) for k in pair])
    a, b = (boxes[start[known] + k[known].astype(np.int64)] for k in pair)
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
    fine_boxes = np.clip(boxes, 0.0, 1.0) * [columns, rows, columns, rows]
    x0, y0, x1, y1 = np.rint(fine_boxes).astype(np.int64).T
    steps = np.zeros((rows + 1) * (columns + 1))
    for ys, xs, sign in ((y0, x0, 1), (y0, x1, -1), (y1, x0, -1), (y1, x1, 1)):
        steps += np.bincount(ys * (columns + 1) + xs, weights=sign * weights, minlength=len(steps))
    fine = steps.reshape(rows + 1, columns + 1).cumsum(axis=0).cumsum(axis=1)[:rows, :columns]
    return np.asarray(fine.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3)))
