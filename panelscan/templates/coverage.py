"""How much of each pixel a shape covers, exactly.

Signed areas are summed along each row (the accumulation method of scan-line font
rasterizers): every edge adds, to the pixels it crosses, the area to its right; a running
sum along the row turns that into coverage. Work grows with the length of the outlines, not
with the size of the page.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

Ring = np.ndarray


class Coverage:
    """Coverage of a set of rings on a picture, asked for band by band.

    Parameters
    ----------
    rings : iterable of ndarray, shape (N, 2)
        Closed rings in pixels, x before y, edges on whole numbers. Outer rings turn one
        way, holes the other; outer rings that overlap count once.
    width, height : int
        Size of the picture in pixels.

    Examples
    --------
    >>> shape = Coverage([np.array([(0.5, 0), (2, 0), (2, 1), (0.5, 1)])], 3, 1)
    >>> left, cover = shape.band(0, 1)
    >>> left, cover.tolist()
    (0, [[128, 255, 0]])
    """

    def __init__(self, rings: Iterable[Ring], width: int, height: int) -> None:
        self.width, self.height = width, height
        rows, columns, covers, areas = _cells(rings, width, height)
        order = np.argsort(rows, kind="stable")
        self._rows, self._columns = rows[order], columns[order]
        self._covers, self._areas = covers[order], areas[order]

    def band(self, top: int, deep: int) -> tuple[int, np.ndarray] | None:
        """Coverage of `deep` rows from row `top`.

        Returns
        -------
        (int, ndarray of uint8) or None
            First column, and coverage 0..255 of shape (deep, columns), or (1, columns)
            where all rows are alike; None where nothing is covered.
        """
        a, b = np.searchsorted(self._rows, (top, top + deep))
        if a == b:
            return None
        rows, columns = self._rows[a:b] - top, self._columns[a:b]
        covers, areas = self._covers[a:b], self._areas[a:b]
        left, right = int(columns.min()), min(self.width, int(columns.max()) + 1)
        if right <= left:
            return None
        alike = _one_row(rows, columns, covers, areas, deep)
        if alike:
            n = len(rows) // deep
            rows, columns, covers, areas = rows[:n], columns[:n], covers[:n], areas[:n]
        return left, _summed(
            rows, columns - left, covers, areas, 1 if alike else deep, right - left
        )


def _one_row(
    rows: np.ndarray, columns: np.ndarray, covers: np.ndarray, areas: np.ndarray, deep: int
) -> bool:
    """Whether every row of the band has the same cells."""
    if len(rows) % deep:
        return False
    table = (-1, len(rows) // deep)
    if not np.array_equal(rows.reshape(table)[:, 0], np.arange(deep)):
        return False
    return all(
        bool((grid == grid[0]).all())
        for grid in (columns.reshape(table), covers.reshape(table), areas.reshape(table))
    )


def _summed(
    rows: np.ndarray,
    columns: np.ndarray,
    covers: np.ndarray,
    areas: np.ndarray,
    deep: int,
    wide: int,
) -> np.ndarray:
    """Coverage of a band from its cells."""
    total = np.zeros((deep, wide + 2), dtype=np.float32)
    places = np.minimum(columns, wide)
    np.add.at(total, (rows, places), (covers - areas).astype(np.float32))
    np.add.at(total, (rows, places + 1), areas.astype(np.float32))
    np.cumsum(total, axis=1, out=total)
    np.abs(total, out=total)
    np.minimum(total, 1.0, out=total)
    total *= 255.0
    total += 0.5
    return total[:, :wide].astype(np.uint8)


def _cells(
    rings: Iterable[Ring], width: int, height: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Row, column, signed height and signed area of each stretch of edge within one pixel."""
    edges = [np.column_stack([ring, np.roll(ring, -1, axis=0)]) for ring in rings]
    pieces = [np.zeros((0, 4))]
    for edge in np.concatenate(edges) if edges else []:
        pieces.append(_cut(edge, width, height))
    x0, y0, x1, y1 = np.concatenate(pieces).T
    rows = np.floor((y0 + y1) / 2).astype(np.int64)
    columns = np.floor((x0 + x1) / 2).astype(np.int64)
    # Edges left of the picture count as lying on its left edge; right of it they do nothing.
    covers = y1 - y0
    share = np.where(columns < 0, 0.0, (x0 + x1) / 2 - columns)
    columns = np.clip(columns, 0, width)
    keep = (rows >= 0) & (rows < height) & (covers != 0)
    return rows[keep], columns[keep], covers[keep], (covers * share)[keep]


def _cut(edge: np.ndarray, width: int, height: int) -> np.ndarray:
    """The edge cut at every pixel border, shape (K, 4) of x0, y0, x1, y1; none if level."""
    x0, y0, x1, y1 = edge
    low, high = max(min(y0, y1), 0.0), min(max(y0, y1), float(height))
    if low >= high:
        return np.zeros((0, 4))
    borders = np.arange(np.ceil(low), np.floor(high) + 1)
    y = np.unique(np.concatenate([[low, high], borders]))
    x = x0 + (y - y0) * ((x1 - x0) / (y1 - y0))
    if x0 != x1:
        a, b = max(min(x0, x1), -1.0), min(max(x0, x1), width + 1.0)
        across = np.arange(np.ceil(a), np.floor(b) + 1) if a < b else np.zeros(0)
        at = y0 + (across - x0) * ((y1 - y0) / (x1 - x0))
        inside = (at > low) & (at < high)
        x, y = np.concatenate([x, across[inside]]), np.concatenate([y, at[inside]])
        order = np.argsort(y, kind="stable")
        x, y = x[order], y[order]
    pieces = np.column_stack([x[:-1], y[:-1], x[1:], y[1:]])
    return pieces if y1 > y0 else pieces[:, [2, 3, 0, 1]]
