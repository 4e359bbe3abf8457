"""Regions of art: what the ground, seen at several leak guards, does not reach.

Ground open to the page's edge leaks into a panel through a gap in its border. Eroding the
ground first closes gaps up to twice the guard's radius (and thin gutters with them), so
regions are taken at several radii and all of them become candidates.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.flood import disk, flood_from_edge


@dataclass(frozen=True, slots=True)
class RegionSettings:
    """Leak guards and least sizes; lengths in thousandths of the page's long side."""

    guards: tuple[float, ...] = (0.0, 1.2, 2.6, 5.0)
    least_side: float = 28.0
    least_area_share: float = 0.003


@dataclass(frozen=True, eq=False)
class Region:
    """A connected region of art with its holes filled.

    Parameters
    ----------
    box : tuple of int
        ``(x, y, width, height)`` in working pixels.
    mask : ndarray of uint8, shape (height, width)
        1 inside the region.
    guard : float
        Leak guard's radius at which it was seen, in thousandths of the long side.
    area : int
        Pixels inside.
    """

    box: tuple[int, int, int, int]
    mask: np.ndarray
    guard: float
    area: int


def guarded_ground(ground: np.ndarray, radius: int) -> np.ndarray:
    """Ground open to the edge that a disk of the given radius can reach, uint8 0/1.

    Parameters
    ----------
    ground : ndarray of uint8, shape (M, N)
        1 where a pixel looks like ground.
    radius : int
        Radius of the leak guard in pixels; 0 for none.
    """
    if radius == 0:
        return flood_from_edge(ground)
    padded = np.pad(ground, radius + 1, constant_values=1)
    reached = flood_from_edge(cv2.erode(padded, disk(radius)))
    r = radius + 1
    return np.ascontiguousarray(cv2.dilate(reached, disk(radius))[r:-r, r:-r])


def regions_of(open_ground: np.ndarray, guard: float, s: RegionSettings) -> list[Region]:
    """Connected parts of what is not open ground, holes filled, small ones left out."""
    rows, columns = open_ground.shape
    unit = max(rows, columns) / 1000.0
    contours, _ = cv2.findContours(1 - open_ground, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    found = []
    for contour in contours:
        x, y, w, h = cv2.boundingRect(contour)
        if min(w, h) < s.least_side * unit:
            continue
        mask = np.zeros((h, w), dtype=np.uint8)
        cv2.drawContours(mask, [contour], -1, 1, cv2.FILLED, offset=(-x, -y))
        area = cv2.countNonZero(mask)
        if area >= s.least_area_share * rows * columns:
            found.append(Region((x, y, w, h), mask, guard, area))
    return found
