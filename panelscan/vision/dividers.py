"""Panels that share one line: a frame divided by lines that run from side to side.

A dividing line is a thin dark or light stripe right across a frame, unbroken, and as heavy
as the frame's own border; floors, shelves and horizons are mostly thinner or stop short.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.cuts import look_up
from panelscan.vision.halfplane import area_of, chords, clip_convex
from panelscan.vision.segments import Lines, SegmentSettings, find_lines


@dataclass(frozen=True, slots=True)
class DividerSettings:
    """What counts as a dividing line; lengths in thousandths of the page's long side."""

    reach: float = 3.4
    least_contrast: int = 22
    least_share: float = 0.9
    least_weight: float = 0.7
    least_length: float = 60.0
    least_part_share: float = 0.1
    samples: int = 160
    deepest: int = 6


@dataclass(frozen=True, eq=False)
class LineMap:
    """Thin lines of one polarity.

    Parameters
    ----------
    strength : ndarray of uint8, shape (M, N)
        How much darker (or lighter) than its surround a thin structure is.
    lines : Lines
        Its straight edges.
    """

    strength: np.ndarray
    lines: Lines


def line_maps(gray: np.ndarray, settings: DividerSettings | None = None) -> list[LineMap]:
    """Dark lines and light lines of a page.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
    settings : DividerSettings or None
    """
    s = settings or DividerSettings()
    unit = max(gray.shape) / 1000.0
    size = 2 * max(2, round(s.reach * unit)) + 1
    box = np.ones((size, size), dtype=np.uint8)
    maps = []
    for kind in (cv2.MORPH_BLACKHAT, cv2.MORPH_TOPHAT):
        strength = np.asarray(cv2.morphologyEx(gray, kind, box))
        seen = (strength >= s.least_contrast).astype(np.uint8)
        lines = find_lines(seen, SegmentSettings(least_piece=20.0, least_line=60.0))
        maps.append(LineMap(strength, lines))
    return maps


def divided(
    frame: np.ndarray, maps: list[LineMap], settings: DividerSettings | None = None
) -> list[np.ndarray]:
    """Parts that a frame is divided into by lines across it, at every stage of dividing.

    Parameters
    ----------
    frame : ndarray of float64, shape (K, 2)
        Convex ring with positive area, in working pixels.
    maps : list of LineMap
    settings : DividerSettings or None

    Returns
    -------
    list of ndarray
        Convex rings, empty where nothing divides the frame.
    """
    s = settings or DividerSettings()
    unit = max(maps[0].strength.shape) / 1000.0
    least_area = s.least_part_share * area_of(frame)
    parts: list[np.ndarray] = []
    waiting = [(frame, 0)]
    while waiting:
        ring, depth = waiting.pop()
        if depth >= s.deepest:
            continue
        for point, along in _dividing_lines(ring, maps, unit, s):
            normal = np.array([-along[1], along[0]])
            halves = [clip_convex(ring, point, n) for n in (normal, -normal)]
            if min(area_of(h) for h in halves) < min(least_area, 0.2 * area_of(ring)):
                continue
            parts += halves
            waiting += [(h, depth + 1) for h in halves]
            break
    return parts


def _dividing_lines(
    ring: np.ndarray, maps: list[LineMap], unit: float, s: DividerSettings
) -> list[tuple[np.ndarray, np.ndarray]]:
    """Lines across a ring that may divide it, best first."""
    found = []
    for line_map in maps:
        border = _border_weight(ring, line_map.strength, unit)
        for share, weight, length, point, along in _across(ring, line_map, unit, s):
            if weight >= s.least_weight * border:
                found.append((share * length, point, along))
    found.sort(key=lambda f: -f[0])
    return [(point, along) for _, point, along in found]


def _across(
    ring: np.ndarray, line_map: LineMap, unit: float, s: DividerSettings
) -> list[tuple[float, float, float, np.ndarray, np.ndarray]]:
    """Share seen, weight, length, point and direction of each line across a ring."""
    lines = line_map.lines
    if not len(lines):
        return []
    shifts = np.array([0.4, 1.2, 2.2, 3.4]) * unit
    points = (lines.point[:, None] + shifts[None, :, None] * lines.outward[:, None]).reshape(-1, 2)
    along = np.repeat(lines.along, len(shifts), axis=0)
    low, high = chords(ring, points, along)
    long = np.flatnonzero(high - low >= s.least_length * unit)
    if not len(long):
        return []
    place = 0.012 + 0.976 * (np.arange(s.samples) + 0.5) / s.samples
    at = low[long, None] + place[None, :] * (high - low)[long, None]
    probes = points[long, None] + at[..., None] * along[long, None]
    strength = look_up(line_map.strength, probes.reshape(-1, 2)).reshape(len(long), -1)
    share = (strength >= s.least_contrast).mean(axis=1)
    kept = []
    for row in np.flatnonzero(share >= s.least_share):
        k = long[row]
        weight = _weight(probes[row], along[k], line_map.strength, unit)
        kept.append((float(share[row]), weight, float(high[k] - low[k]), points[k], along[k]))
    return kept


def _weight(points: np.ndarray, along: np.ndarray, strength: np.ndarray, unit: float) -> float:
    """How heavy a line is: its strength summed across, median along it."""
    normal = np.array([-along[1], along[0]])
    reach = np.arange(-4.0 * unit, 4.0 * unit + 0.5, 1.0)
    probes = points[:, None] + reach[None, :, None] * normal
    values = look_up(strength, probes.reshape(-1, 2)).reshape(len(points), -1)
    return float(np.median(values.astype(np.float64).sum(axis=1)))


def _border_weight(ring: np.ndarray, strength: np.ndarray, unit: float) -> float:
    """How heavy a frame's own border is, median of its sides; 0 where none is drawn."""
    weights = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        length = float(np.hypot(*(b - a)))
        if length < 20 * unit:
            continue
        share = np.linspace(0.05, 0.95, 60)
        points = a + share[:, None] * (b - a)
        weights.append(_weight(points, (b - a) / length, strength, unit))
    return float(np.median(weights)) if weights else 0.0
