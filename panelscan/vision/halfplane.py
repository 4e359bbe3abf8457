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


def chords(
    polygon: np.ndarray, points: np.ndarray, along: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Where lines enter and leave a convex polygon, as distances from their points.

    Parameters
    ----------
    polygon : ndarray of float64, shape (K, 2)
        Corners in ring order.
    points, along : ndarray of float64, shape (J, 2)
        A point and the unit direction of each line.

    Returns
    -------
    low, high : ndarray of float64, shape (J,)
        Both 0 where the line misses the polygon.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> low, high = chords(square, np.array([[1.0, 5.0]]), np.array([[0.0, 1.0]]))
    >>> low.tolist(), high.tolist()
    ([-5.0], [-3.0])
    """
    edge = _next(polygon) - polygon
    after = _next(edge)
    turn = 1.0 if edge[:, 0] @ after[:, 1] >= edge[:, 1] @ after[:, 0] else -1.0
    inward = turn * np.stack([-edge[:, 1], edge[:, 0]], axis=1)
    # Liang and Barsky 1984 for any convex ring: each edge bounds the line from one end.
    depth = np.einsum("jkc,kc->jk", points[:, None] - polygon[None], inward)
    speed = along @ inward.T
    level = np.abs(speed) < 1e-9
    at = -depth / np.where(level, 1.0, speed)
    low = np.where(~level & (speed > 0), at, -np.inf).max(axis=1)
    high = np.where(~level & (speed < 0), at, np.inf).min(axis=1)
    missed = (low >= high) | (level & (depth < 0)).any(axis=1)
    missed |= ~np.isfinite(low) | ~np.isfinite(high)
    return np.where(missed, 0.0, low), np.where(missed, 0.0, high)


def area_of(polygon: np.ndarray) -> float:
    """Area of a simple polygon of shape (K, 2), in squared units, never negative."""
    if len(polygon) < 3:
        return 0.0
    after = _next(polygon)
    return float(abs(polygon[:, 0] @ after[:, 1] - polygon[:, 1] @ after[:, 0]) / 2)


def _next(ring: np.ndarray) -> np.ndarray:
    """For each corner the next one; several times faster than np.roll on short arrays."""
    return np.concatenate([ring[1:], ring[:1]])
