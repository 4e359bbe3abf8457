"""What the chosen panels leave unexplained: art, and borders that the net saw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.ground import GroundMap
from panelscan.vision.learned import LearnedMaps

BESIDE_PX = 9
"""Borders within half of this of an outline, in map pixels, are that panel's."""


def art_left_out(ground: GroundMap, panels: Sequence[Candidate]) -> float:
    """Share of the art that lies in no panel, 0 to 1.

    Parameters
    ----------
    ground : GroundMap
    panels : sequence of Candidate
    """
    art = 1 - ground.mask
    total = cv2.countNonZero(art)
    for panel in panels:
        cv2.fillPoly(art, [np.round(panel.corners).astype(np.int32)], 0)
    return cv2.countNonZero(art) / total if total else 0.0


@dataclass(frozen=True, slots=True)
class BordersLeft:
    """Borders that are no panel's.

    Parameters
    ----------
    length : float
        Map pixels in shares of the page's long side.
    middle : tuple of float or None
        Middle of the largest connected one, in working pixels.
    """

    length: float = 0.0
    middle: tuple[float, float] | None = None


def borders_left_out(maps: LearnedMaps, panels: Sequence[Candidate]) -> BordersLeft:
    """Borders that the net saw and that are no panel's.

    A panel that was missed, or joined with its neighbour, leaves the line of its border.

    Parameters
    ----------
    maps : LearnedMaps
    panels : sequence of Candidate
    """
    border = (maps.border > 0).astype(np.uint8)
    for panel in panels:
        ring = np.round(panel.corners * maps.scale).astype(np.int32)
        cv2.polylines(border, [ring], True, 0, BESIDE_PX)
    length = cv2.countNonZero(border) / max(border.shape)
    if not length:
        return BordersLeft()
    _, _, stats, middles = cv2.connectedComponentsWithStats(border, connectivity=8)
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    x, y = (middles[largest] + 0.5) / maps.scale
    return BordersLeft(float(length), (float(x), float(y)))
