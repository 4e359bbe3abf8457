"""Hand-drawn outlines made of few straight sides, where they are meant to be.

An outline traced along a hand-drawn border has many corners. If a polygon of at most six
sides follows it closely, its sides are fitted to the traced line by total least squares; a
round or torn outline fits none and stays as it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from panelscan.model.outline import Outline, Point, common_area

MOST_SIDES = 6
LEAST_IOU = 0.93
STEP_MM = 1.0
_LESSER = 0.12  # share of a side at either end that does not count: corners are often round


@dataclass(frozen=True, slots=True)
class Straightened:
    """An outline of straight sides, and how far the traced line lies off them (90 % of it)."""

    outline: Outline
    off_mm: float


def straightened(outline: Outline, most_mm: float) -> Straightened | None:
    """The polygon of three to six sides that a hand-drawn outline is meant to be.

    Parameters
    ----------
    outline : Outline
        In mm, with any number of corners.
    most_mm : float
        Nine tenths of the line must lie within this of the sides.

    Returns
    -------
    Straightened or None
        None where no such polygon follows the outline.

    Examples
    --------
    >>> wavy = [(x, 0.4 * math.sin(x)) for x in range(0, 101, 5)] + [(100, 60), (0, 60)]
    >>> found = straightened(Outline.of(wavy), 1.5)
    >>> len(found.outline.points), found.off_mm < 0.5
    (4, True)
    """
    if most_mm <= 0:
        return None
    ring = _from_a_corner(outline)
    samples = _sampled(outline)
    for factor in (2.0, 1.5, 1.0, 0.75, 0.5):
        rough = Polygon(ring).simplify(factor * most_mm)
        if not isinstance(rough, Polygon) or len(rough.exterior.coords) - 1 > MOST_SIDES:
            continue
        found = _refitted(np.asarray(rough.exterior.coords)[:-1], samples)
        if found is None:
            continue
        off = float(np.quantile(_distances(found, samples), 0.9))
        common = common_area(found.shape, outline.shape)
        if off <= most_mm and common / (found.area + outline.area - common) >= LEAST_IOU:
            return Straightened(found, off)
    return None


def _from_a_corner(outline: Outline) -> list[Point]:
    """The ring begun at the corner farthest from the middle: simplifying keeps its first."""
    points = list(outline.points)
    x, y = outline.centroid
    start = max(range(len(points)), key=lambda i: math.dist(points[i], (x, y)))
    return points[start:] + points[:start]


def _sampled(outline: Outline) -> np.ndarray:
    """Points along the outline about a millimetre apart, shape (N, 2)."""
    line = outline.shape.exterior
    count = max(24, int(line.length / STEP_MM))
    spots = shapely.line_interpolate_point(line, np.linspace(0, line.length, count, endpoint=False))
    return np.column_stack([shapely.get_x(spots), shapely.get_y(spots)])


def _refitted(corners: np.ndarray, samples: np.ndarray) -> Outline | None:
    """Each side fitted to the samples nearest to it, then crossed with its neighbors."""
    ends = np.roll(corners, -1, axis=0)
    along = ends - corners
    lengths = np.linalg.norm(along, axis=1)
    share = np.einsum("nsk,sk->ns", samples[:, None] - corners, along) / lengths**2
    foot = corners + np.clip(share, 0, 1)[..., None] * along
    side = np.linalg.norm(samples[:, None] - foot, axis=2).argmin(axis=1)
    lines = []
    for s in range(len(corners)):
        own = share[side == s, s]
        near = samples[side == s][(own > _LESSER) & (own < 1 - _LESSER)]
        lines.append(_fitted_line(near) if len(near) >= 4 else _line_of(corners[s], ends[s]))
    points = []
    for s, ((ax, ay), ao) in enumerate(lines):
        (bx, by), bo = lines[s - 1]
        det = bx * ay - by * ax
        if abs(det) < 0.1:
            return None
        points.append(((bo * ay - ao * by) / det, (bx * ao - ax * bo) / det))
    try:
        return Outline.of(points)
    except ValueError:
        return None


def _fitted_line(points: np.ndarray) -> tuple[tuple[float, float], float]:
    """Normal and offset of the line of total least squares."""
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
    normal = axes[1]
    return (float(normal[0]), float(normal[1])), float(normal @ middle)


def _line_of(a: np.ndarray, b: np.ndarray) -> tuple[tuple[float, float], float]:
    """Normal and offset of the line through two points."""
    dx, dy = (b - a) / np.linalg.norm(b - a)
    return (float(-dy), float(dx)), float(-dy * a[0] + dx * a[1])


def _distances(outline: Outline, samples: np.ndarray) -> np.ndarray:
    """Distance of each sample from the outline's sides."""
    return np.asarray(shapely.distance(outline.shape.exterior, shapely.points(samples)))
