"""Laying one stage of a page over another: turn, scale and shift found from the panels.

References
----------
S. Umeyama, "Least-squares estimation of transformation parameters between two point
patterns", IEEE TPAMI 13(4), 1991, doi 10.1109/34.88573 (cited from memory). Here weighted
anew a few times so that the corners that stayed decide, not those that moved.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from panelscan.model.outline import Outline, common_area

LEAST_IOU = 0.2


@dataclass(frozen=True)
class Registration:
    """How the first stage is laid over the second.

    Parameters
    ----------
    turn_deg : float
        Turn, clockwise to the eye positive.
    scale : float
        Length in the second divided by length in the first.
    shift : tuple of float
        Added after turning and scaling, in units of the second.
    pairs : tuple of (int, int)
        Panels that answer each other: place in the first, place in the second.
    """

    turn_deg: float
    scale: float
    shift: tuple[float, float]
    pairs: tuple[tuple[int, int], ...]

    def points(self, points: np.ndarray) -> np.ndarray:
        """Points of the first stage, shape (N, 2), in the frame of the second."""
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return np.asarray(self.scale * points @ np.array([[c, s], [-s, c]]) + self.shift)

    def outline(self, outline: Outline) -> Outline:
        """An outline of the first stage in the frame of the second."""
        return Outline.of(self.points(outline.array()).tolist())


def register(first: Sequence[Outline], second: Sequence[Outline]) -> Registration:
    """Find turn, scale and shift that lay the panels of one stage over those of another.

    Parameters
    ----------
    first, second : sequence of Outline
        Panels, each in its own picture's units; up to some 15 degrees apart.

    Returns
    -------
    Registration
        The identity stretched to the other's bounding box where no panels answer each other.

    Examples
    --------
    >>> page = [Outline.box(0, 0, 10, 10), Outline.box(12, 0, 20, 10), Outline.box(0, 12, 20, 30)]
    >>> found = register(page, [p.scaled(2, 2).moved(5, 7) for p in page])
    >>> round(found.scale, 6), [round(v, 6) for v in found.shift]
    (2.0, [5.0, 7.0])
    """
    current = _by_boxes(first, second)
    for _ in range(8):
        moved = [current.outline(o) for o in first]
        pairs = matched_panels(moved, second)
        if not pairs:
            return current
        better = _fitted(first, second, pairs)
        if better.pairs == current.pairs and _near(better, current):
            return better
        current = better
    return current


def _by_boxes(first: Sequence[Outline], second: Sequence[Outline]) -> Registration:
    """A first guess: the bounding boxes of all panels on each other."""
    if not first or not second:
        return Registration(0.0, 1.0, (0.0, 0.0), ())
    a, b = _bounds(first), _bounds(second)
    scale = math.sqrt(((b[2] - b[0]) * (b[3] - b[1])) / ((a[2] - a[0]) * (a[3] - a[1])))
    shift = (
        (b[0] + b[2]) / 2 - scale * (a[0] + a[2]) / 2,
        (b[1] + b[3]) / 2 - scale * (a[1] + a[3]) / 2,
    )
    return Registration(0.0, scale, shift, ())


def _bounds(outlines: Sequence[Outline]) -> tuple[float, float, float, float]:
    boxes = np.array([o.bounds for o in outlines])
    x0, y0 = boxes[:, :2].min(axis=0)
    x1, y1 = boxes[:, 2:].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def matched_panels(
    first: Sequence[Outline], second: Sequence[Outline]
) -> tuple[tuple[int, int], ...]:
    """Panels that answer each other: the one-to-one pairing with the greatest overlap.

    Pairs whose intersection over union is below 0.2 do not count.
    """
    from scipy.optimize import linear_sum_assignment

    if not first or not second:
        return ()
    overlap = np.array([[_iou(a.shape, b.shape) for b in second] for a in first])
    rows, columns = linear_sum_assignment(-overlap)
    return tuple(
        (int(i), int(j)) for i, j in zip(rows, columns, strict=True) if overlap[i, j] >= LEAST_IOU
    )


def _iou(a: Polygon, b: Polygon) -> float:
    common = common_area(a, b)
    return common / float(a.area + b.area - common)


def _fitted(
    first: Sequence[Outline], second: Sequence[Outline], pairs: tuple[tuple[int, int], ...]
) -> Registration:
    """The similarity of least weighted squares, weights falling with each corner's misfit."""
    a, b = _points(first, second, pairs)
    size = float(np.ptp(b, axis=0).max()) or 1.0
    found = _umeyama(a, b, np.ones(len(a)), pairs)
    for _ in range(25):
        miss = np.linalg.norm(found.points(a) - b, axis=1)
        floor = max(0.7 * float(np.median(miss)), 2e-4 * size)
        found = _umeyama(a, b, 1.0 / (1.0 + (miss / floor) ** 2) ** 2, pairs)
    return found


def _points(
    first: Sequence[Outline], second: Sequence[Outline], pairs: tuple[tuple[int, int], ...]
) -> tuple[np.ndarray, np.ndarray]:
    """Corners that answer each other (corners of the boxes where their number differs)."""
    left, right = [], []
    for i, j in pairs:
        a, b = first[i].array(), second[j].array()
        if a.shape != b.shape:
            a, b = _box_points(first[i]), _box_points(second[j])
        left.append(a)
        right.append(b)
    return np.concatenate(left), np.concatenate(right)


def _box_points(outline: Outline) -> np.ndarray:
    x0, y0, x1, y1 = outline.bounds
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _umeyama(
    a: np.ndarray, b: np.ndarray, weights: np.ndarray, pairs: tuple[tuple[int, int], ...]
) -> Registration:
    """Weighted least-squares similarity without mirroring, in closed form for the plane."""
    w = weights / weights.sum()
    mean_a, mean_b = w @ a, w @ b
    p, q = a - mean_a, b - mean_b
    dot = float((w[:, None] * p * q).sum())
    cross = float((w * (p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])).sum())
    spread = float((w[:, None] * p * p).sum()) or 1.0
    turn = math.atan2(cross, dot)
    scale = math.hypot(dot, cross) / spread
    c, s = math.cos(turn), math.sin(turn)
    shift = mean_b - scale * mean_a @ np.array([[c, s], [-s, c]])
    return Registration(math.degrees(turn), scale, (float(shift[0]), float(shift[1])), pairs)


def _near(a: Registration, b: Registration) -> bool:
    return (
        abs(a.turn_deg - b.turn_deg) < 1e-6
        and abs(a.scale / b.scale - 1) < 1e-8
        and math.dist(a.shift, b.shift) < 1e-6
    )
