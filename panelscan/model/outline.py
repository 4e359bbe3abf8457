"""The outline of a panel, page or balloon: one closed ring of corners."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

Point = tuple[float, float]


@dataclass(frozen=True)
class Outline:
    """A simple closed polygon without holes.

    Parameters
    ----------
    points : tuple of (x, y)
        At least three corners, the first not repeated at the end. Use `Outline.of` to
        make one from any sequence: it puts the ring counterclockwise in stored numbers
        (positive shoelace area; with y pointing down it turns clockwise to the eye), as
        GeoParquet 1.1 ``"orientation": "counterclockwise"`` asks for.

    Raises
    ------
    ValueError
        If there are fewer than three corners, a figure is not finite, the ring turns the
        wrong way or crosses itself.

    Notes
    -----
    Which frame the numbers live in (source pixels, page-relative, millimetres) is said by
    whoever holds the outline.

    Examples
    --------
    >>> square = Outline.of([(0, 0), (0, 2), (2, 2), (2, 0)])
    >>> square.points
    ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0))
    >>> square.area
    4.0
    """

    points: tuple[Point, ...]

    def __post_init__(self) -> None:
        if len(self.points) < 3:
            raise ValueError("an outline needs at least three corners")
        area = signed_area(self.points)
        if not math.isfinite(area):  # any infinite or missing number spoils the sum
            raise ValueError("an outline's corners must be finite numbers")
        if area <= 0:
            raise ValueError("an outline must enclose an area and be counterclockwise in numbers")
        if not _is_convex_quad(self.points) and not self.shape.is_valid:
            raise ValueError("an outline must not cross itself")

    @classmethod
    def of(cls, points: Iterable[Sequence[float]]) -> Outline:
        """Outline from any corners: closes, orients and starts at the top-left-most corner."""
        ring = [(float(x), float(y)) for x, y in points]
        if len(ring) > 1 and ring[0] == ring[-1]:
            ring.pop()
        if signed_area(ring) < 0:
            ring.reverse()
        if ring:
            start = min(range(len(ring)), key=lambda i: (ring[i][0] + ring[i][1], ring[i]))
            ring = ring[start:] + ring[:start]
        return cls(tuple(ring))

    @classmethod
    def box(cls, x_min: float, y_min: float, x_max: float, y_max: float) -> Outline:
        """Upright rectangle."""
        return cls.of([(x_min, y_min), (x_max, y_min), (x_max, y_max), (x_min, y_max)])

    @classmethod
    def from_shape(cls, shape: Polygon) -> Outline:
        """Outline of a shapely polygon's outer ring."""
        return cls.of(shape.exterior.coords)

    @cached_property
    def shape(self) -> Polygon:
        """The outline as a shapely polygon."""
        return Polygon(self.points)

    @property
    def area(self) -> float:
        """Enclosed area in squared units of the frame."""
        return signed_area(self.points)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(x_min, y_min, x_max, y_max)``."""
        xs = [p[0] for p in self.points]
        ys = [p[1] for p in self.points]
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def width(self) -> float:
        """Width of the bounding box."""
        x_min, _, x_max, _ = self.bounds
        return x_max - x_min

    @property
    def height(self) -> float:
        """Height of the bounding box."""
        _, y_min, _, y_max = self.bounds
        return y_max - y_min

    @property
    def centroid(self) -> Point:
        """Centre of gravity."""
        c = self.shape.centroid
        return c.x, c.y

    def edges(self) -> list[tuple[Point, Point]]:
        """Sides in ring order; side i runs from corner i to corner i + 1."""
        return list(zip(self.points, (*self.points[1:], self.points[0]), strict=True))

    def array(self) -> np.ndarray:
        """Corners as a float64 array of shape (N, 2), x before y."""
        return np.asarray(self.points, dtype=np.float64)

    def moved(self, dx: float = 0.0, dy: float = 0.0) -> Outline:
        """The outline shifted."""
        return Outline(tuple((x + dx, y + dy) for x, y in self.points))

    def scaled(self, sx: float, sy: float) -> Outline:
        """The outline scaled about the origin (both factors positive)."""
        return Outline(tuple((x * sx, y * sy) for x, y in self.points))

    def mirrored(self, width: float) -> Outline:
        """The outline mirrored left to right on a page of the given width."""
        return Outline.of((width - x, y) for x, y in self.points)

    def iou(self, other: Outline) -> float:
        """Intersection over union of the exact polygon areas, 0..1."""
        common = common_area(self.shape, other.shape)
        union = self.area + other.area - common
        return float(common / union) if union > 0 else 0.0


def _is_convex_quad(points: Sequence[Point]) -> bool:
    """Three or four corners that all turn the same way: it cannot cross itself."""
    if len(points) > 4:
        return False
    (ax, ay), (bx, by), (cx, cy) = points[-2], points[-1], points[0]
    for dx, dy in (*points[1:], points[0]):
        if (bx - ax) * (cy - by) - (by - ay) * (cx - bx) <= 0:
            return False
        ax, ay, bx, by, cx, cy = bx, by, cx, cy, dx, dy
    return True


def common_area(a: Polygon, b: Polygon) -> float:
    """Area of the intersection of two polygons.

    GEOS 3.14 can answer with bare points for two polygons that are the same but for the
    last bits of their corners; where the answer is empty although the polygons meet, it is
    worked out again on a fine grid.

    Examples
    --------
    >>> corners = [(91.579, 10.694), (158.791, 7.061), (171.156, 235.835), (103.944, 239.468)]
    >>> nudged = Polygon([(x, y + 1.1e-14 * k) for k, (x, y) in enumerate(corners)])
    >>> bool(abs(common_area(Polygon(corners), nudged) / nudged.area - 1) < 1e-9)
    True
    """
    area = float(a.intersection(b).area)
    if area > 0 or not a.intersects(b):
        return area
    reach = max(abs(v) for v in (*a.bounds, *b.bounds))
    return float(shapely.intersection(a, b, grid_size=1e-9 * reach).area)


def signed_area(points: Sequence[Sequence[float]]) -> float:
    """Shoelace area; positive when counterclockwise in stored numbers."""
    total = 0.0
    x0, y0 = points[-1] if points else (0.0, 0.0)
    for x1, y1 in points:
        total += x0 * y1 - x1 * y0
        x0, y0 = x1, y1
    return total / 2.0
