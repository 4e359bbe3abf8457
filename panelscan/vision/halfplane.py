"""Convex regions cut by straight lines."""

from __future__ import annotations

import numpy as np


def clip_convex(polygon: np.ndarray, point: np.ndarray, inward: np.ndarray) -> np.ndarray:
    """Part of a convex polygon on one side of a line (Sutherland and Hodgman 1974).

    Parameters
    ----------
    polygon : ndarray of float64, shape (K, 2)
        Corners in ring order.
    point : ndarray, shape (2,)
        A point on the line.
    inward : ndarray, shape (2,)
        Normal that points to the part kept.

    Returns
    -------
    ndarray, shape (L, 2)
        Empty where nothing is left.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> clip_convex(square, np.array([1.0, 0]), np.array([1.0, 0])).tolist()
    [[1.0, 0.0], [2.0, 0.0], [2.0, 2.0], [1.0, 2.0]]
    """
    if not len(polygon):
        return polygon
    side = (polygon - point) @ inward
    kept = []
    for k in range(len(polygon)):
        a, b = polygon[k], polygon[(k + 1) % len(polygon)]
        sa, sb = side[k], side[(k + 1) % len(polygon)]
        if sa >= 0:
            kept.append(a)
        if (sa > 0 > sb) or (sa < 0 < sb):
            kept.append(a + (b - a) * sa / (sa - sb))
    return np.array(kept) if len(kept) >= 3 else np.zeros((0, 2))


def chord(
    polygon: np.ndarray, point: np.ndarray, along: np.ndarray
) -> tuple[np.ndarray, np.ndarray] | None:
    """Ends of the part of a line inside a convex polygon, in the line's direction.

    Returns
    -------
    (start, end) or None
        None where the line misses the polygon.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> start, end = chord(square, np.array([1.0, 5.0]), np.array([0.0, 1.0]))
    >>> start.tolist(), end.tolist()
    ([1.0, 0.0], [1.0, 2.0])
    """
    ends = np.roll(polygon, -1, axis=0)
    normal = np.array([-along[1], along[0]])
    da, db = (polygon - point) @ normal, (ends - point) @ normal
    cross = (da > 0) != (db > 0)
    if cross.sum() < 2:
        return None
    share = da[cross] / (da[cross] - db[cross])
    hits = polygon[cross] + (ends[cross] - polygon[cross]) * share[:, None]
    place = (hits - point) @ along
    low, high = float(place.min()), float(place.max())
    return point + low * along, point + high * along


def area_of(polygon: np.ndarray) -> float:
    """Area of a simple polygon of shape (K, 2), in squared units, never negative."""
    if len(polygon) < 3:
        return 0.0
    x, y = polygon[:, 0], polygon[:, 1]
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)
