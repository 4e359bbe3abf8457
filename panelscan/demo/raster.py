"""Filling polygons with exact, soft-edged coverage, and laying colours over each other.

Points are page pixels as in the rest of the package (edges on whole numbers); OpenCV puts
whole numbers on pixel centres, so every call here shifts by half a pixel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import shapely

SUB = 4
"""Sub-pixels per pixel along each axis for exact coverage."""

SHIFT = 6
"""Fixed-point bits of OpenCV's drawing calls."""

RGB = tuple[int, int, int]


@dataclass(frozen=True)
class Patch:
    """Coverage of a shape inside its box: ``alpha`` (uint8) belongs at ``rows``, ``columns``."""

    rows: slice
    columns: slice
    alpha: np.ndarray

    @property
    def is_empty(self) -> bool:
        """Whether the shape misses the canvas."""
        return self.alpha.size == 0


def fixed(points: np.ndarray) -> np.ndarray:
    """Points as OpenCV's fixed-point integers, shape (N, 1, 2)."""
    scaled = np.round((np.asarray(points, dtype=np.float64) - 0.5) * (1 << SHIFT))
    return np.clip(scaled, -(2**25), 2**25).astype(np.int32).reshape(-1, 1, 2)


def cover(shape: shapely.Polygon | np.ndarray, size: tuple[int, int]) -> Patch:
    """Exact coverage of a polygon (holes allowed), within about 0.05 px along its edges.

    Parameters
    ----------
    shape : shapely polygon, or ndarray of shape (N, 2)
        In canvas pixels.
    size : tuple of int
        Height and width of the canvas.

    Notes
    -----
    OpenCV's own soft edges lie 0.5 to 0.9 px too far out and depend on the slope (measured),
    so the shape is filled hard on a grid four times as fine and averaged.
    """
    polygon = shapely.Polygon(shape) if isinstance(shape, np.ndarray) else shape
    # A hard fill also takes every sub-pixel that its edge touches: half a sub-pixel too many.
    polygon = polygon.buffer(-0.5 / SUB, join_style="mitre")
    empty = Patch(slice(0, 0), slice(0, 0), np.zeros((0, 0), np.uint8))
    if polygon.is_empty:
        return empty
    x0, y0, x1, y1 = polygon.bounds
    left, top = max(int(x0) - 1, 0), max(int(y0) - 1, 0)
    right, bottom = min(int(x1) + 2, size[1]), min(int(y1) + 2, size[0])
    if right <= left or bottom <= top:
        return empty
    fine = np.zeros(((bottom - top) * SUB, (right - left) * SUB), np.uint8)
    rings = []
    for part in getattr(polygon, "geoms", [polygon]):
        for ring in (part.exterior, *part.interiors):
            xy = (np.asarray(ring.coords)[:-1] - (left, top)) * SUB
            rings.append(fixed(xy))
    cv2.fillPoly(fine, rings, 255, shift=SHIFT)
    box = (right - left, bottom - top)
    alpha = cv2.resize(fine, box, interpolation=cv2.INTER_AREA)
    return Patch(slice(top, bottom), slice(left, right), alpha)


def lay_color(canvas: np.ndarray, patch: Patch, rgb: RGB) -> None:
    """Lay one colour over the canvas (in place) as far as the patch covers it."""
    if not patch.is_empty:
        part = canvas[patch.rows, patch.columns]
        color = np.empty_like(part)
        color[...] = rgb
        part[...] = mix(part, color, patch.alpha)


def lay_image(canvas: np.ndarray, patch: Patch, image: np.ndarray) -> None:
    """Lay an image of the canvas's size over it (in place) as far as the patch covers it."""
    if not patch.is_empty:
        part = canvas[patch.rows, patch.columns]
        part[...] = mix(part, image[patch.rows, patch.columns], patch.alpha)


def mix(below: np.ndarray, above: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    """``below`` and ``above`` (uint8, RGB) mixed by ``alpha`` (uint8, one channel)."""
    a = (alpha.astype(np.float32) / 255.0)[..., None]
    mixed: np.ndarray = (below + (above.astype(np.float32) - below) * a + 0.5).astype(np.uint8)
    return mixed


def ring_band(points: np.ndarray, width: float) -> shapely.Polygon:
    """The drawn border of a closed outline: a band of the given width about its line."""
    ring = shapely.LinearRing(points)
    return ring.buffer(width / 2, join_style="mitre", mitre_limit=8)


def line_band(points: np.ndarray, widths: np.ndarray) -> np.ndarray:
    """Outline of a brush line: a path with a width at each point.

    Parameters
    ----------
    points : ndarray, shape (N, 2)
        At least two points.
    widths : ndarray, shape (N,)
        Full width of the line at each point.

    Returns
    -------
    ndarray, shape (2 N, 2)
    """
    along = np.gradient(points, axis=0)
    length = np.hypot(along[:, 0], along[:, 1])[:, None]
    along = along / np.maximum(length, 1e-9)
    across = np.stack([-along[:, 1], along[:, 0]], axis=1) * (widths[:, None] / 2)
    return np.concatenate([points + across, (points - across)[::-1]])


def resample(points: np.ndarray, step: float) -> np.ndarray:
    """Points at equal distance along a path, ends kept; shape (K, 2), K at least 2."""
    jumps = np.hypot(*np.diff(points, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(jumps)])
    count = max(round(places[-1] / step), 1) + 1
    at = np.linspace(0, places[-1], count)
    return np.stack([np.interp(at, places, points[:, k]) for k in (0, 1)], axis=1)


def rounded_path(points: np.ndarray, rounds: int = 2, closed: bool = False) -> np.ndarray:
    """A path with its corners cut twice or more (Chaikin 1974), ends kept when open."""
    for _ in range(rounds):
        after = np.roll(points, -1, axis=0) if closed else points[1:]
        before = points if closed else points[:-1]
        near, far = before * 0.75 + after * 0.25, before * 0.25 + after * 0.75
        cut = np.stack([near, far], axis=1).reshape(-1, points.shape[1])
        points = cut if closed else np.concatenate([points[:1], cut, points[-1:]])
    return points


def smooth_noise(rng: np.random.Generator, count: int, knots: int) -> np.ndarray:
    """Slow noise of about unit spread along a path of ``count`` points."""
    values = rng.normal(size=max(knots, 2) + 2)
    at = np.linspace(0.5, len(values) - 1.5, count)
    low = at.astype(int)
    t = at - low
    t = t * t * (3 - 2 * t)
    high = np.minimum(low + 1, len(values) - 1)
    return np.asarray(values[low] * (1 - t) + values[high] * t)


def cloud_noise(
    rng: np.random.Generator, size: tuple[int, int], cells: Sequence[int], fall: float = 0.55
) -> np.ndarray:
    """Cloudy noise over a canvas, float32 of shape ``size``, mean 0, spread about 1."""
    height, width = size
    total = np.zeros(size, np.float32)
    weight = 1.0
    for n in cells:
        rows = max(round(n * height / width), 2)
        coarse = rng.normal(size=(rows, n)).astype(np.float32)
        total += weight * cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
        weight *= fall
    spread = float(total[::7, ::7].std()) or 1.0
    return (total - float(total[::7, ::7].mean())) / spread


def outline_points(shapes: Sequence[shapely.Geometry]) -> list[np.ndarray]:
    """Outer rings of all polygons among the shapes, as (N, 2) arrays."""
    found = []
    for shape in shapes:
        for part in getattr(shape, "geoms", [shape]):
            if part.geom_type == "Polygon" and not part.is_empty:
                found.append(np.asarray(part.exterior.coords)[:-1])
    return found
