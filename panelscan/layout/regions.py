"""Convex regions of a page and straight cuts through them; shared by drawing and writing.

Units: widths of the page along x and y alike; y runs down. A cut's slant is in degrees,
clockwise to the eye.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Line:
    """A straight cut: points p with ``normal . p = offset``; normal points to the far side."""

    normal: tuple[float, float]
    offset: float

    def moved(self, by: float) -> Line:
        """Parallel line, farther along the normal."""
        return Line(self.normal, self.offset + by)


def normal_of(rows: bool, slant_deg: float) -> tuple[float, float]:
    """Normal of a level (rows) or upright cut with a slant, pointing down or right.

    Examples
    --------
    >>> normal_of(True, 0.0), normal_of(False, 0.0)
    ((0.0, 1.0), (1.0, 0.0))
    """
    turn = math.radians(slant_deg)
    if rows:
        return -math.sin(turn) + 0.0, math.cos(turn)
    return math.cos(turn), math.sin(turn) + 0.0


def line_through(rows: bool, slant_deg: float, x: float, y: float) -> Line:
    """Cut with a slant through a point."""
    normal = normal_of(rows, slant_deg)
    return Line(normal, normal[0] * x + normal[1] * y)


def clipped(region: np.ndarray, line: Line, far: bool) -> np.ndarray:
    """Part of a convex region on one side of a line.

    Parameters
    ----------
    region : ndarray of float64, shape (V, 2)
        Convex ring.
    line : Line
        The cut.
    far : bool
        Keep the far side (the one the normal points to).

    Returns
    -------
    ndarray of float64, shape (W, 2)
        Fewer than three corners where nothing is left.
    """
    # Regions have few corners: plain numbers are faster here than arrays.
    nx, ny = line.normal
    sign = 1.0 if far else -1.0
    ring: list[list[float]] = region.tolist()
    side = [sign * (x * nx + y * ny - line.offset) for x, y in ring]
    kept: list[tuple[float, float]] = []
    for k, (x, y) in enumerate(ring):
        here, there = side[k], side[(k + 1) % len(ring)]
        if here >= 0:
            kept.append((x, y))
        if (here > 0 > there) or (here < 0 < there):
            share = here / (here - there)
            x1, y1 = ring[(k + 1) % len(ring)]
            kept.append((x + share * (x1 - x), y + share * (y1 - y)))
    return np.array(kept).reshape(-1, 2)


def centre_span(region: np.ndarray, rows: bool) -> tuple[float, float, float]:
    """Where the centre line of a region's box runs through it.

    Parameters
    ----------
    region : ndarray of float64, shape (V, 2)
        Convex ring.
    rows : bool
        True: along the upright centre line (to cut it into rows); False: the level one.

    Returns
    -------
    start, end, at : float
        From ``start`` to ``end`` along the line, which lies at ``at`` on the other axis.
    """
    along, across = (1, 0) if rows else (0, 1)
    ring: list[list[float]] = region.tolist()
    at = (min(p[across] for p in ring) + max(p[across] for p in ring)) / 2
    places = []
    for k, a in enumerate(ring):
        b = ring[(k + 1) % len(ring)]
        if (a[across] <= at) != (b[across] <= at):
            share = (at - a[across]) / (b[across] - a[across])
            places.append(a[along] + share * (b[along] - a[along]))
    places = places or [p[along] for p in ring]
    return min(places), max(places), at


def cut_up(
    region: np.ndarray, rows: bool, lines: Sequence[tuple[float, float, float]]
) -> list[np.ndarray]:
    """Parts of a region between cuts.

    Parameters
    ----------
    region : ndarray of float64, shape (V, 2)
        Convex ring.
    rows : bool
        Kind of the cuts.
    lines : sequence of (place, slant_deg, gap)
        Each cut's place along the region's centre line, slant and gutter width.

    Returns
    -------
    list of ndarray
        One more than cuts, near side first.
    """
    _, _, at = centre_span(region, rows)
    cuts = []
    for place, slant, gap in lines:
        x, y = (at, place) if rows else (place, at)
        cuts.append((line_through(rows, slant, x, y), gap))
    parts = []
    for k in range(len(cuts) + 1):
        part = region
        if k:
            line, gap = cuts[k - 1]
            part = clipped(part, line.moved(gap / 2), far=True)
        if k < len(cuts):
            line, gap = cuts[k]
            part = clipped(part, line.moved(-gap / 2), far=False)
        parts.append(part)
    return parts


def box_ring(x_min: float, y_min: float, x_max: float, y_max: float) -> np.ndarray:
    """Corners of a box, shape (4, 2)."""
    return np.array([[x_min, y_min], [x_max, y_min], [x_max, y_max], [x_min, y_max]])
