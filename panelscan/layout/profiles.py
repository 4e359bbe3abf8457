"""Where panels begin and end along lines across the page."""

from __future__ import annotations

import numpy as np


def extents_at(rings: np.ndarray, levels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Left-most and right-most place of each ring on its own level line.

    Parameters
    ----------
    rings : ndarray of float64, shape (..., V, 2)
        Closed rings, x before y.
    levels : ndarray of float64, shape (...)
        Height of the line for each ring, with as many axes as there are axes of rings;
        broadcast against them.

    Returns
    -------
    left, right : ndarray of float64, shape (...)
        NaN where the line misses the ring.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 2.0], [0.0, 2.0]])
    >>> left, right = extents_at(square, np.array(1.0))
    >>> float(left), float(right)
    (0.0, 4.0)
    """
    # Corners go first: picking the least along the first axis is many times faster.
    x0, y0 = np.moveaxis(rings[..., 0], -1, 0).copy(), np.moveaxis(rings[..., 1], -1, 0).copy()
    x1, y1 = np.roll(x0, -1, axis=0), np.roll(y0, -1, axis=0)
    crosses = (y0 <= levels) != (y1 <= levels)
    rise = np.where(y1 == y0, 1.0, y1 - y0)
    x = x0 + (levels - y0) / rise * (x1 - x0)
    left = np.where(crosses, x, np.inf).min(axis=0)
    right = np.where(crosses, x, -np.inf).max(axis=0)
    missed = ~crosses.any(axis=0)
    return np.where(missed, np.nan, left), np.where(missed, np.nan, right)


def fitted(values: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Straight lines through rows of values by least squares.

    Parameters
    ----------
    values, at : ndarray of float64, shape (P, S)
        S samples for each of P lines.

    Returns
    -------
    slope, offset, rms : ndarray of float64, shape (P,)
        ``values ~ offset + slope * at``, and the RMS of what is left over.
    """
    middle = at.mean(axis=1, keepdims=True)
    spread = at - middle
    slope = (spread * values).sum(axis=1) / np.maximum((spread**2).sum(axis=1), 1e-300)
    offset = values.mean(axis=1) - slope * middle[:, 0]
    rest = values - offset[:, None] - slope[:, None] * at
    return slope, offset, np.sqrt((rest**2).mean(axis=1))
