"""What shape a panel is: rectangle, slanted, polygon or round; and how far its sides turn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely

CORNER_SHARE = 0.025
"""Bends smaller than this share of the panel's diagonal are wobble, not corners."""
SLANT_FROM_DEG = 2.0
ROUND_FILL = math.pi / 4
"""An ellipse fills this share of its box."""


class PanelShape(StrEnum):
    """Coarse name of a panel's shape."""

    RECTANGLE = "rectangle"
    SLANTED = "slanted"
    POLYGON = "polygon"
    ROUND = "round"


@dataclass(frozen=True)
class ShapeNote:
    """Shape of one panel.

    Parameters
    ----------
    shape : PanelShape
        Its name.
    slant_deg : float
        Largest turn of a long side from upright or level, 0 to 45.
    corner_count : int
        Corners without the wobble of a hand-drawn line.
    """

    shape: PanelShape
    slant_deg: float
    corner_count: int


def shape_notes(rings: Sequence[np.ndarray] | np.ndarray) -> list[ShapeNote]:
    """Shapes of panels in true proportions.

    Parameters
    ----------
    rings : sequence of ndarray, each of shape (V, 2)
        Corners in units that are the same along x and y; a ring may be padded by repeating
        its last corner.

    Returns
    -------
    list of ShapeNote

    Examples
    --------
    >>> shape_notes([np.array([[0, 0], [4, 0], [5, 2], [0, 2]], dtype=float)])[0].shape
    <PanelShape.SLANTED: 'slanted'>
    """
    slim = [_without_padding(ring) for ring in rings]
    quads = [k for k, ring in enumerate(slim) if len(ring) == 4]
    notes: dict[int, ShapeNote] = {}
    if quads:
        slants = _slants(np.array([slim[k] for k in quads]))
        for k, slant in zip(quads, slants.tolist(), strict=True):
            shape = PanelShape.RECTANGLE if slant < SLANT_FROM_DEG else PanelShape.SLANTED
            notes[k] = ShapeNote(shape, slant, 4)
    return [notes[k] if k in notes else _note(ring) for k, ring in enumerate(slim)]


def plain_corners(ring: np.ndarray) -> np.ndarray:
    """Corners without wobble, shape (C, 2), in ring order."""
    if len(ring) <= 4:
        return ring
    span = ring.max(axis=0) - ring.min(axis=0)
    start = int(np.argmin(ring.sum(axis=1)))
    turned = np.roll(ring, -start, axis=0)
    closed = shapely.linestrings(np.vstack([turned, turned[:1]]))
    slim = shapely.simplify(closed, CORNER_SHARE * float(np.hypot(*span)))
    corners: np.ndarray = shapely.get_coordinates(slim)[:-1]
    return corners if len(corners) >= 3 else ring


def _without_padding(ring: np.ndarray) -> np.ndarray:
    """The ring without repeats of its last corner at the end."""
    if len(ring) == 4 and ring[2, 0] != ring[3, 0]:  # nearly all panels
        return ring
    count = len(ring)
    while count > 3 and ring[count - 2, 0] == ring[-1, 0] and ring[count - 2, 1] == ring[-1, 1]:
        count -= 1
    return ring[:count]


def _slants(rings: np.ndarray) -> np.ndarray:
    """Largest turn of a long side from upright or level, in degrees, of rings (M, V, 2)."""
    sides = np.abs(np.roll(rings, -1, axis=1) - rings)
    lengths = np.hypot(sides[..., 0], sides[..., 1])
    turns = np.degrees(np.arctan2(sides[..., 1], sides[..., 0]))
    turns = np.minimum(turns, 90 - turns)
    long = lengths >= 0.15 * lengths.max(axis=1, keepdims=True)
    result: np.ndarray = np.where(long, turns, 0.0).max(axis=1)
    return result


def _note(ring: np.ndarray) -> ShapeNote:
    corners = plain_corners(ring)
    slant = float(_slants(corners[None])[0])
    if len(corners) > 5 and _is_round(ring):
        return ShapeNote(PanelShape.ROUND, 0.0, len(corners))
    if len(corners) != 4:
        return ShapeNote(PanelShape.POLYGON, slant, len(corners))
    shape = PanelShape.RECTANGLE if slant < SLANT_FROM_DEG else PanelShape.SLANTED
    return ShapeNote(shape, slant, 4)


def _is_round(ring: np.ndarray) -> bool:
    """An ellipse: it fills pi/4 of its box and bulges everywhere."""
    span = ring.max(axis=0) - ring.min(axis=0)
    shape = shapely.polygons(ring)
    hull = shapely.convex_hull(shape)
    fill = float(hull.area) / max(float(span[0] * span[1]), 1e-24)
    return abs(fill - ROUND_FILL) < 0.06 and float(shape.area) > 0.95 * float(hull.area)
