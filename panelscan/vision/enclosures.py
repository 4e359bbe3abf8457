"""Frames that the net's borders enclose on all sides, as an inset's do on its host's art.

Votes and the net's insides tell little of a panel a few dozen pixels high; a border drawn all
round it is still seen.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up_at
from panelscan.vision.learned import LearnedMaps
from panelscan.vision.votes import snapped


@dataclass(frozen=True, slots=True)
class EnclosureSettings:
    """What counts as enclosed; lengths in thousandths of the page's long side.

    Parameters
    ----------
    walls : tuple of float
        Log-odds from which on a border counts as a wall.
    least_side : float
        A shorter side makes no panel.
    least_full : float
        Least share of its turned box that an enclosed place fills.
    reach : tuple of float
        How far from a side, in map pixels, its border may lie.
    edge : float
        So near to the page's edge, in map pixels, a side needs no border.
    border_px : float
        From the outermost free pixels on both sides to the middle of the borders beyond.
    snap, pull : float
        How far a side looks for its border, and what a move costs.
    """

    walls: tuple[float, ...] = (0.5, -1.0)
    least_side: float = 26.0
    least_full: float = 0.8
    reach: tuple[float, ...] = (-1.5, -0.75, 0.0, 0.75, 1.5)
    edge: float = 2.0
    border_px: float = 3.0
    snap: float = 6.0
    pull: float = 0.02


def enclosed_candidates(
    maps: LearnedMaps, size: tuple[int, int], unit: float, settings: EnclosureSettings | None = None
) -> list[Candidate]:
    """Frames round the places that the net's borders part from the rest of the page.

    Parameters
    ----------
    maps : LearnedMaps
    size : tuple of int
        Width and height of the working image.
    unit : float
        Working pixels in a thousandth of the long side.
    settings : EnclosureSettings or None

    Returns
    -------
    list of Candidate
        In working pixels, not yet weighed.
    """
    s = settings or EnclosureSettings()
    least = s.least_side * unit * maps.scale
    found: list[Candidate] = []
    for wall in s.walls:
        free = (maps.border <= wall).astype(np.uint8)
        contours, _ = cv2.findContours(free, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
        for contour in contours:
            middle, sides, turn = cv2.minAreaRect(contour)
            if min(sides) + s.border_px < least or cv2.contourArea(
                contour
            ) < s.least_full * np.prod(sides):
                continue
            box = cv2.boxPoints((middle, (sides[0] + s.border_px, sides[1] + s.border_px), turn))
            ring = _from_top_left(box.astype(np.float64) + 0.5) / maps.scale
            ring = snapped(ring, maps, size, s.snap * unit, s.pull)
            if not any(np.abs(c.corners - ring).max() < 2 * unit for c in found):
                found.append(Candidate(ring, "enclosed"))
    return found


def _from_top_left(box: np.ndarray) -> np.ndarray:
    """Corners from the top left one, in the sense of rising angles in stored numbers."""
    off = box - box.mean(axis=0)
    box = box[np.argsort(np.arctan2(off[:, 1], off[:, 0]))]
    return np.roll(box, -int(np.argmin(box.sum(axis=1))), axis=0)


def with_borders(
    candidates: list[Candidate], maps: LearnedMaps, settings: EnclosureSettings | None = None
) -> list[Candidate]:
    """Candidates with the share of their weakest side along which the net sees a border.

    Parameters
    ----------
    candidates : list of Candidate
    maps : LearnedMaps
    settings : EnclosureSettings or None
    """
    s = settings or EnclosureSettings()
    if not candidates:
        return []
    start = np.concatenate([c.corners for c in candidates]) * maps.scale
    end = np.concatenate([np.roll(c.corners, -1, axis=0) for c in candidates]) * maps.scale
    sides = _bordered(maps.border, start, end, s)
    counts = np.array([len(c.corners) for c in candidates])
    weakest = np.minimum.reduceat(sides, np.cumsum(counts) - counts)
    return [replace(c, bordered=float(b)) for c, b in zip(candidates, weakest, strict=True)]


def _bordered(
    border: np.ndarray, start: np.ndarray, end: np.ndarray, s: EnclosureSettings
) -> np.ndarray:
    """Share of each side, from ``start`` to ``end`` of shape (C, 2), with a border near it."""
    rows, columns = border.shape
    share = (np.arange(24) + 0.5) / 24
    run = end - start
    normal = np.stack([run[:, 1], -run[:, 0]], axis=1) / np.maximum(np.hypot(*run.T), 1e-6)[:, None]
    x = start[:, :1] + share * run[:, :1]
    y = start[:, 1:] + share * run[:, 1:]
    seen = np.zeros(x.shape, dtype=bool)
    for reach in s.reach:
        seen |= look_up_at(border, x + reach * normal[:, :1], y + reach * normal[:, 1:]) > 0
    # Along the page's own edge no border is drawn.
    across, down = np.abs(normal.T)[..., None]
    seen |= (across > 0.7) & ((x < s.edge) | (x > columns - s.edge))
    seen |= (down > 0.7) & ((y < s.edge) | (y > rows - s.edge))
    return np.asarray(seen.mean(axis=1))
