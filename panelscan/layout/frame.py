"""The page's own upright coordinates: a skewed or slanted frame laid flat.

A photo or a crooked scan shows the page as a quadrilateral. Tiers and gutters are level
and upright only in the page's own frame, so panels are carried there before anything is
measured, and results carried back.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np
import shapely

from panelscan.model.outline import Outline, Point


@dataclass(frozen=True, eq=False)
class FrameMap:
    """Two-way map between source coordinates and the upright page.

    Parameters
    ----------
    width, height : float
        Size of the upright page, in source units (mean of the opposite sides).
    to_page_matrix, to_source_matrix : ndarray of float64, shape (3, 3)
        Projective maps, inverse to each other.

    Examples
    --------
    >>> page = frame_map(Outline.box(10, 20, 110, 170))
    >>> page.width, page.height
    (100.0, 150.0)
    >>> page.to_page(np.array([[60.0, 95.0]])).round(6).tolist()
    [[50.0, 75.0]]
    """

    width: float
    height: float
    to_page_matrix: np.ndarray
    to_source_matrix: np.ndarray

    def to_page(self, points: np.ndarray) -> np.ndarray:
        """Source points of shape (N, 2) in the upright page, origin at its top-left corner."""
        return _project(self.to_page_matrix, points)

    def to_source(self, points: np.ndarray) -> np.ndarray:
        """Points of shape (N, 2) of the upright page in source coordinates."""
        return _project(self.to_source_matrix, points)


def frame_map(frame: Outline) -> FrameMap:
    """Map of a page frame onto an upright page.

    Parameters
    ----------
    frame : Outline
        The page in source units. Four corners that bulge give a projective map (a photo);
        any other shape is replaced by its bounding box.

    Returns
    -------
    FrameMap
        Whose upright page keeps the frame's size in source units.
    """
    corners = frame.array() if _is_convex_four(frame) else _box_corners(frame)
    ends = corners.tolist()
    top, right, bottom, left = (math.dist(ends[i], ends[(i + 1) % 4]) for i in range(4))
    width, height = (top + bottom) / 2, (left + right) / 2
    target = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)
    if _is_upright(corners):
        shift = np.eye(3)
        shift[:2, 2] = corners[0]
        back = np.eye(3)
        back[:2, 2] = -corners[0]
        return FrameMap(width, height, back, shift)
    forward = _homography(corners, target)
    return FrameMap(width, height, forward, np.linalg.inv(forward))


def unit_map(width: float, height: float) -> FrameMap:
    """Map of page-relative units (0..1 both ways) onto a page of the given size."""
    forward = np.diag([width, height, 1.0])
    return FrameMap(width, height, forward, np.linalg.inv(forward))


def all_to_page(page: FrameMap, rings: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Several rings in the upright page, in one step."""
    if not rings:
        return []
    flat = page.to_page(np.concatenate(rings))
    ends = accumulate((len(ring) for ring in rings), initial=0)
    return [flat[start:end] for start, end in pairwise(ends)]


def as_outline(points: np.ndarray) -> Outline | None:
    """Outline of points of shape (N, 2); None where they enclose nothing or cross."""
    try:
        return Outline.of(points.tolist())
    except ValueError:
        hull = shapely.convex_hull(shapely.multipoints(points))
        return Outline.from_shape(hull) if hull.geom_type == "Polygon" and hull.area > 0 else None


def as_outlines(rings: np.ndarray) -> list[Outline | None]:
    """`as_outline` for many rings with equally many corners, shape (N, V, 2)."""
    x, y = rings[..., 0], rings[..., 1]
    turned = (x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y).sum(axis=1) < 0
    rings = np.where(turned[:, None, None], rings[:, ::-1], rings)
    starts = np.lexsort((rings[..., 1], rings[..., 0], rings.sum(axis=2)), axis=1)[:, :1]
    along = (starts + np.arange(rings.shape[1])) % rings.shape[1]
    settled = np.take_along_axis(rings, along[:, :, None], axis=1)
    return [_settled_outline(ring) for ring in settled.tolist()]


def _settled_outline(ring: list[list[float]]) -> Outline | None:
    """Outline of a ring that starts and turns as outlines do."""
    try:
        return Outline(tuple([(x, y) for x, y in ring]))
    except ValueError:
        return as_outline(np.array(ring))


def as_point(point: np.ndarray) -> Point:
    """Point from an array of two numbers."""
    return float(point[0]), float(point[1])


def _box_corners(frame: Outline) -> np.ndarray:
    return Outline.box(*frame.bounds).array()


def _is_convex_four(frame: Outline) -> bool:
    """Four corners, none of them bent inward or (nearly) straight."""
    if len(frame.points) != 4:
        return False
    sides = np.roll(frame.array(), -1, axis=0) - frame.array()
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    return bool((turns > 1e-3 * frame.area).all())


def _is_upright(corners: np.ndarray) -> bool:
    spans = np.abs(np.diff(np.vstack([corners, corners[:1]]), axis=0))
    slack = 1e-9 * float(spans.max())
    return bool(np.all(spans[[0, 2], 1] <= slack) and np.all(spans[[1, 3], 0] <= slack))


def _homography(source: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Projective map of four points onto four points (direct linear solution)."""
    rows, values = [], []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        values += [u, v]
    solution = np.linalg.solve(np.array(rows), np.array(values))
    return np.append(solution, 1.0).reshape(3, 3)


def _project(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    flat = np.asarray(points, dtype=np.float64) @ matrix[:, :2].T + matrix[:, 2]
    depth = flat[:, 2:]
    if np.any(depth <= 0) or not math.isfinite(float(depth.sum())):
        depth = np.maximum(depth, 1e-9)
    result: np.ndarray = flat[:, :2] / depth
    return result
