"""The net's word as candidates and as evidence, in the same currency as all other evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up_at
from panelscan.vision.learned import LearnedMaps
from panelscan.vision.polygons import fit_quad
from panelscan.vision.shapes import shaped_outlines


@dataclass(frozen=True, slots=True)
class LearnedSettings:
    """How much the net's word counts.

    Gains are in page lengths for a whole page length of side; log-odds are cut at
    ``most_odds``, so that the net can be outvoted.
    """

    most_odds: float = 4.0
    side_gain: float = 0.8
    area_gain: float = 0.35
    thresholds: tuple[float, ...] = (0.0, 1.5, 3.0)
    least_area: int = 60
    reach: tuple[float, ...] = (-1.5, -0.75, 0.0, 0.75, 1.5)
    edge: float = 2.0
    step: float = 1.5
    least_side: float = 26.0


def learned_candidates(
    maps: LearnedMaps, size: tuple[int, int], unit: float, settings: LearnedSettings | None = None
) -> list[Candidate]:
    """Frames around the regions that the net takes for panels' insides.

    Parameters
    ----------
    maps : LearnedMaps
        The net's answer on the working image.
    size : tuple of int
        Width and height of the working image.
    unit : float
        Working pixels in a thousandth of the long side.
    settings : LearnedSettings or None

    Returns
    -------
    list of Candidate
        Not yet weighed.
    """
    s = settings or LearnedSettings()
    found: list[Candidate] = []
    seen: list[Sequence[int]] = []
    for threshold in s.thresholds:
        core = (maps.inside > threshold).astype(np.uint8)
        # Telling regions apart is quick; measuring all of them the way OpenCV does is not.
        _, found_labels = cv2.connectedComponents(core, connectivity=4)
        labels = np.asarray(found_labels)
        areas = np.bincount(labels.ravel())
        for k in 1 + np.flatnonzero(areas[1:] >= s.least_area):
            region = (labels == k).view(np.uint8)
            box = cv2.boundingRect(region)
            if any(np.abs(np.subtract(box, other)).max() <= 1 for other in seen):
                continue
            seen.append(box)
            for ring in _rings(region, box, maps, size, unit):
                if (np.ptp(ring, axis=0) >= s.least_side * unit).all():
                    found.append(Candidate(ring, "net"))
    return found


def _rings(
    region: np.ndarray, box: Sequence[int], maps: LearnedMaps, size: tuple[int, int], unit: float
) -> list[np.ndarray]:
    """Outlines that a region may have, in working pixels."""
    pad = 4
    x, y, width, height = box
    window = np.zeros((height + 2 * pad, width + 2 * pad), np.float32)
    window[pad:-pad, pad:-pad] = region[y : y + height, x : x + width]
    # The inside was taught to stop two map pixels short of the border's middle.
    grown = cv2.dilate(window, cv2.getStructuringElement(cv2.MORPH_RECT, (5, 5)))
    factor = 1.0 / maps.scale
    full = (max(2, round(grown.shape[1] * factor)), max(2, round(grown.shape[0] * factor)))
    mask = (cv2.resize(grown, full, interpolation=cv2.INTER_LINEAR) > 0.5).astype(np.uint8)
    corner = (np.array([x, y], dtype=float) - pad) * factor
    low = np.maximum(np.ceil(-corner).astype(int), 0)
    high = np.minimum(np.floor(np.array(size) - corner).astype(int), full)
    mask = np.ascontiguousarray(mask[low[1] : high[1], low[0] : high[0]])
    if not mask.any():
        return []
    fitted = fit_quad(mask, unit)
    rings = [] if fitted is None else [fitted[0]]
    rings += shaped_outlines(mask, unit)
    return [ring + corner + low for ring in rings]


def with_learned(
    candidates: list[Candidate], maps: LearnedMaps, settings: LearnedSettings | None = None
) -> list[Candidate]:
    """Candidates with the net's evidence added to their gain.

    Along sides the mean log-odds of a border count (nothing along the page's own edge), over
    the area those of being inside a panel.
    """
    s = settings or LearnedSettings()
    if not candidates:
        return []
    rows, columns = maps.border.shape
    border = np.clip(maps.border, -s.most_odds, s.most_odds) / s.most_odds
    inside = np.clip(maps.inside, -s.most_odds, s.most_odds) / s.most_odds
    rings = [candidate.corners * maps.scale for candidate in candidates]
    along = s.side_gain / max(rows, columns) * _along(border, rings, s)
    share = s.area_gain / (rows * columns)
    return [
        replace(c, gain=c.gain + float(a) + share * _within(inside, ring))
        for c, a, ring in zip(candidates, along, rings, strict=True)
    ]


def _along(border: np.ndarray, rings: list[np.ndarray], s: LearnedSettings) -> np.ndarray:
    """Sum over each outline of the best odds near each step, times the step's length."""
    rows, columns = border.shape
    start = np.concatenate(rings).T
    run = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings]).T - start
    length = np.hypot(run[0], run[1])
    normal = np.stack([run[1], -run[0]]) / np.maximum(length, 1e-6)
    counts = np.maximum(np.rint(length / s.step).astype(int), 3)
    owner = np.repeat(np.arange(len(counts)), counts)
    first = np.cumsum(counts) - counts
    share = (np.arange(len(owner)) - first[owner] + 0.5) / counts[owner]
    x, y = start.take(owner, axis=1) + share * run.take(owner, axis=1)
    across, down = normal.take(owner, axis=1)
    reach = np.array(s.reach)[:, None]
    odds = look_up_at(border, x + reach * across, y + reach * down).max(axis=0)
    # Along the page's own edge no border is drawn.
    at_edge = (np.abs(across) > 0.7) & ((x < s.edge) | (x > columns - s.edge))
    at_edge |= (np.abs(down) > 0.7) & ((y < s.edge) | (y > rows - s.edge))
    odds[at_edge] = 0.0
    sums = np.add.reduceat(odds, first) / counts * np.where(length < 1e-6, 0.0, length)
    corners = np.array([len(ring) for ring in rings])
    return np.asarray(np.add.reduceat(sums, np.cumsum(corners) - corners))


def _within(inside: np.ndarray, ring: np.ndarray) -> float:
    """Sum of odds over the area of a ring."""
    low = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(ring.max(axis=0)).astype(int), inside.shape[::-1])
    if (high <= low).any():
        return 0.0
    window = inside[low[1] : high[1], low[0] : high[0]]
    stencil = np.zeros(window.shape, np.uint8)
    cv2.fillPoly(stencil, [np.round((ring - low) * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    return cv2.mean(window, stencil)[0] * cv2.countNonZero(stencil)
