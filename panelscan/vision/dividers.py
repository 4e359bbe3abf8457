"""Panels that share one line: a frame divided by lines that run from side to side.

A dividing line is a thin dark or light stripe right across a frame, unbroken, and as heavy
as the frame's own border; floors, shelves and horizons are mostly thinner or stop short.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from panelscan.vision.cuts import look_up_at
from panelscan.vision.halfplane import area_of, chords, clip_convex
from panelscan.vision.segments import Lines, SegmentSettings, find_lines


@dataclass(frozen=True, slots=True)
class DividerSettings:
    """What counts as a dividing line; lengths in thousandths of the page's long side."""

    reach: float = 5.0
    least_contrast: int = 18
    least_share: float = 0.94
    least_light_share: float = 0.82
    least_weight: float = 0.72
    drawn_weight: float = 200.0
    alone: float = 16.0
    most_beside: float = 0.5
    tone_slack: float = 45.0
    least_length: float = 60.0
    least_part_share: float = 0.1
    samples: int = 120
    most_tried: int = 10
    deepest: int = 6


@dataclass(frozen=True, eq=False)
class LineMap:
    """Thin lines of one polarity, looked for when first asked for: many pages need no light ones.

    Parameters
    ----------
    tone : ndarray of uint8, shape (M, N)
        The gray page.
    dark : bool
        True for dark lines, False for light ones.
    settings : DividerSettings
    """

    tone: np.ndarray
    dark: bool
    settings: DividerSettings

    @property
    def unit(self) -> float:
        """Pixels in a thousandth of the page's long side."""
        return float(max(self.tone.shape)) / 1000.0

    @cached_property
    def strength(self) -> np.ndarray:
        """How much darker (or lighter) than its surround a thin structure is, uint8 (M, N)."""
        size = 2 * max(2, round(self.settings.reach * self.unit)) + 1
        box = np.ones((size, size), dtype=np.uint8)
        kind = cv2.MORPH_BLACKHAT if self.dark else cv2.MORPH_TOPHAT
        return np.asarray(cv2.morphologyEx(self.tone, kind, box))

    @cached_property
    def lines(self) -> Lines:
        """Straight edges of those structures."""
        seen = (self.strength >= self.settings.least_contrast).astype(np.uint8)
        return find_lines(seen, SegmentSettings(least_piece=20.0, least_line=60.0))


def line_maps(gray: np.ndarray, settings: DividerSettings | None = None) -> list[LineMap]:
    """Dark lines and light lines of a page.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
    settings : DividerSettings or None
    """
    s = settings or DividerSettings()
    return [LineMap(gray, dark, s) for dark in (True, False)]


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
    unit = maps[0].unit
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
) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Lines across a ring that may divide it, longest first; each is judged when asked for."""
    borders = [_border(ring, maps[0], unit)]
    found = [(*line, 0) for line in _across(ring, maps[0], unit, s)]
    # Light lines divide where no dark border is drawn: thin gutters between painted panels.
    if borders[0][0] < s.drawn_weight:
        for k in range(1, len(maps)):
            borders.append(_border(ring, maps[k], unit))
            found += [(*line, k) for line in _across(ring, maps[k], unit, s)]
    for _, point, along, probes, k in sorted(found, key=lambda f: -f[0]):
        if _divides(probes, along, maps[k], borders[k], unit, s):
            yield point, along


def _across(
    ring: np.ndarray, line_map: LineMap, unit: float, s: DividerSettings
) -> list[tuple[float, np.ndarray, np.ndarray, np.ndarray]]:
    """Length, point, direction and probes of each line seen all the way across a ring."""
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
    probes = points[long].T[:, :, None] + at * along[long].T[:, :, None]
    strength = look_up_at(line_map.strength, probes[0], probes[1])
    share = np.zeros(len(points))
    share[long] = np.count_nonzero(strength >= s.least_contrast, axis=1) / s.samples
    row_of = np.zeros(len(points), dtype=int)
    row_of[long] = np.arange(len(long))
    pick = share.reshape(len(lines), -1).argmax(axis=1) + np.arange(len(lines)) * len(shifts)
    pick = pick[share[pick] >= (s.least_share if line_map.dark else s.least_light_share)]
    pick = pick[np.argsort(-(high - low)[pick], kind="stable")][: s.most_tried]
    return [(float((high - low)[k]), points[k], along[k], probes[:, row_of[k]]) for k in pick]


def _divides(
    probes: np.ndarray,
    along: np.ndarray,
    line_map: LineMap,
    border: tuple[float, float],
    unit: float,
    s: DividerSettings,
) -> bool:
    """Whether a line is as heavy and even as a border, and stands alone."""
    reach = np.arange(-round(s.alone * unit), round(s.alone * unit) + 1)
    near = np.abs(reach) <= s.reach * unit
    # Across the line in rows, along it in columns.
    x = probes[0] - reach[:, None] * along[1]
    y = probes[1] + reach[:, None] * along[0]
    close = look_up_at(line_map.strength, x[near], y[near])
    weight = float(close.sum(dtype=np.int64)) / close.shape[1]
    if weight < s.least_weight * border[0]:
        return False
    tone = look_up_at(line_map.tone, x[near], y[near])
    darkest = tone.min(axis=0) if line_map.dark else 255 - tone.max(axis=0).astype(int)
    limit = min(max(border[1] + s.tone_slack, 60), 150)
    least = s.least_share if line_map.dark else s.least_light_share
    if (darkest <= limit).mean() < least:
        return False
    across = look_up_at(line_map.strength, x, y).mean(axis=1, dtype=np.float64)
    # Hatching, screens of dots and shelves have their like beside them.
    window = np.convolve(across, np.ones(int(near.sum())), mode="same")
    away = np.abs(reach) >= 2 * s.reach * unit
    return not (away.any() and window[away].max() > s.most_beside * weight)


def _border(ring: np.ndarray, line_map: LineMap, unit: float) -> tuple[float, float]:
    """Weight and tone (0 for the line's own extreme) of a ring's own border."""
    run = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(run[:, 0], run[:, 1])
    long = length >= 20 * unit
    if not long.any():
        return 0.0, 0.0
    start, run, along = ring[long], run[long], (run / np.maximum(length, 1e-9)[:, None])[long]
    places = np.linspace(0.05, 0.95, 40)[:, None]
    reach = np.arange(-4.0 * unit, 4.0 * unit + 0.5, 1.0)
    # Sides, places along them, and steps across.
    x = (start[:, :1] + places.T * run[:, :1])[..., None] - reach * along[:, 1, None, None]
    y = (start[:, 1:] + places.T * run[:, 1:])[..., None] + reach * along[:, 0, None, None]
    weights = look_up_at(line_map.strength, x, y).sum(axis=2, dtype=np.int64)
    tone = look_up_at(line_map.tone, x, y)
    tones = tone.min(axis=2).astype(float) if line_map.dark else 255.0 - tone.max(axis=2)
    return float(np.median(np.median(weights, axis=1))), float(np.median(np.median(tones, axis=1)))
