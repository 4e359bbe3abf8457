"""What speaks for a side: ground beyond it, art within it, a line on it, or the page's edge.

Each step along a side is one of five things, and each adds or takes away evidence in
proportion to its length, so that evidence of sides, panels and whole pages simply adds up.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np

from panelscan.vision.cuts import Cut, look_up_at
from panelscan.vision.ground import GroundMap
from panelscan.vision.working import Working


@dataclass(frozen=True, slots=True)
class EvidenceSettings:
    """Worth of each kind of step; lengths in thousandths of the page's long side."""

    step: float = 3.0
    wall: float = 1.0
    shared: float = 0.45
    bleed: float = 0.55
    open: float = -0.12
    blocked: float = -1.0
    outside: tuple[float, ...] = (1.2, 2.2, 3.4, 4.8)
    inside: tuple[float, ...] = (-2.6, -1.7, -0.8, 0.0)
    line: tuple[float, ...] = (-2.6, -1.7, -0.8, 0.0, 0.8)
    edge: float = 2.5
    least_run: float = 18.0


@dataclass(frozen=True, eq=False)
class EvidenceMaps:
    """Maps to look evidence up in, all of shape (M, N).

    Parameters
    ----------
    ground : ndarray of uint8
        1 where a pixel looks like ground.
    soft : ndarray of uint8
        The same, with thin stripes nearly of its colour.
    line : ndarray of uint8
        1 where a thin dark or light line runs.
    unit : float
        Pixels in a thousandth of the long side.
    """

    ground: np.ndarray
    soft: np.ndarray
    line: np.ndarray
    unit: float

    @cached_property
    def together(self) -> np.ndarray:
        """All three in one: bit 0 ground, bit 1 soft, bit 2 line."""
        return np.asarray(self.ground | self.soft << 1 | self.line << 2)


@dataclass(frozen=True, eq=False)
class SideEvidence:
    """Shares of a side's length by what was found there, and their sum in working pixels."""

    wall: float
    shared: float
    bleed: float
    open: float
    blocked: float
    length: float
    worth: float


def evidence_maps(
    work: Working, ground: GroundMap, cuts: list[Cut], least_score: float = 0.5
) -> EvidenceMaps:
    """Maps for a page under one idea of its ground.

    Parameters
    ----------
    work : Working
    ground : GroundMap
    cuts : list of Cut
        Gutters found; thin stripes nearly of the ground's colour count along these only.
    least_score : float
        Cuts below this do not count.
    """
    unit = work.unit_px
    along = np.zeros_like(ground.mask)
    for cut in cuts:
        if cut.score >= least_score:
            ends = [
                np.round(p).astype(int) for p in (cut.point, cut.point + cut.length * cut.along)
            ]
            a, b = ((int(p[0]), int(p[1])) for p in ends)
            cv2.line(along, a, b, 1, max(3, round(7 * unit)))
    soft = ground.mask | (ground.soft & along)
    return EvidenceMaps(ground.mask, soft, thin_lines(work.gray, unit), unit)


def with_lines(maps: EvidenceMaps, rings: list[np.ndarray]) -> EvidenceMaps:
    """Maps with the outlines of frames whose dividing lines were found drawn in as lines."""
    line = maps.line.copy()
    for ring in rings:
        corners = [np.round(ring).astype(np.int32)]
        cv2.polylines(line, corners, True, 1, max(1, round(2 * maps.unit)))
    return replace(maps, line=line)


def thin_lines(gray: np.ndarray, unit: float) -> np.ndarray:
    """Thin dark or light structures by morphological top hats, uint8 0/1."""
    size = 2 * max(2, round(2.2 * unit)) + 1
    box = np.ones((size, size), dtype=np.uint8)
    dark = cv2.morphologyEx(gray, cv2.MORPH_BLACKHAT, box)
    light = cv2.morphologyEx(gray, cv2.MORPH_TOPHAT, box)
    return (np.maximum(dark, light) > 40).astype(np.uint8)


def side_evidence(
    maps: EvidenceMaps, polygons: list[np.ndarray], settings: EvidenceSettings | None = None
) -> list[list[SideEvidence]]:
    """Evidence for every side of many polygons at once.

    Parameters
    ----------
    maps : EvidenceMaps
    polygons : list of ndarray, shape (K, 2)
        Corners in ring order, positive shoelace area, in working pixels.
    settings : EvidenceSettings or None

    Returns
    -------
    list of list of SideEvidence
        For each polygon one per side; side i runs from corner i to corner i + 1.
    """
    s = settings or EvidenceSettings()
    if not polygons:
        return []
    starts = np.ascontiguousarray(np.concatenate(polygons).T)
    last = np.cumsum([len(p) for p in polygons]) - 1
    after = np.arange(1, starts.shape[1] + 1)
    after[last] = np.concatenate([[0], last[:-1] + 1])
    run = starts[:, after] - starts
    length = np.maximum(np.hypot(run[0], run[1]), 1e-9)
    outward = np.stack([run[1], -run[0]]) / length
    counts = np.minimum(np.maximum((length / (s.step * maps.unit)).astype(int), 3), 400)
    owner = np.repeat(np.arange(len(counts)), counts)
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    share = (np.arange(len(owner)) - first[owner] + 0.5) / counts[owner]
    points = starts.take(owner, axis=1) + share * run.take(owner, axis=1)
    kinds = _kinds(maps, points, outward.take(owner, axis=1), s)
    kinds = _runs_only(kinds, owner, counts, length, s.least_run * maps.unit)
    means = np.add.reduceat(kinds, first, axis=1).T / counts[:, None]
    values = np.array([s.wall, s.shared, s.bleed, s.open, s.blocked])
    worth = (means @ values) * length
    flat = [SideEvidence(*row) for row in np.column_stack([means, length, worth]).tolist()]
    sides, at = [], 0
    for polygon in polygons:
        sides.append(flat[at : at + len(polygon)])
        at += len(polygon)
    return sides


def _runs_only(
    kinds: np.ndarray, owner: np.ndarray, counts: np.ndarray, length: np.ndarray, least: float
) -> np.ndarray:
    """Walls and lines count in unbroken runs only: lettering has many short straight edges."""
    # A short side may be one run from end to end.
    enough = np.minimum(least, 0.8 * length)[owner]
    pace = (length / counts)[owner]
    same = owner[1:] == owner[:-1]
    fresh = np.ones(len(owner), dtype=bool)
    for row, instead in ((0, 3), (1, 4)):
        on = kinds[row] > 0
        # A single step missing does not break a run.
        held = on.copy()
        held[1:-1] |= on[:-2] & on[2:] & same[1:] & same[:-1]
        np.logical_or(held[1:] != held[:-1], ~same, out=fresh[1:])
        starts = np.flatnonzero(fresh)
        steps = np.diff(np.append(starts, len(on)))
        short = on & (np.repeat(steps, steps) * pace < enough)
        kinds[row][short] = 0.0
        kinds[instead][short] = 1.0
    return kinds


def _kinds(
    maps: EvidenceMaps, points: np.ndarray, outward: np.ndarray, s: EvidenceSettings
) -> np.ndarray:
    """What each step is: wall, shared, bleed, open, blocked, as 0/1 floats of shape (5, K).

    Parameters
    ----------
    maps : EvidenceMaps
    points, outward : ndarray of float64, shape (2, K)
        Where the step lies and which way is out; x, then y.
    s : EvidenceSettings
    """
    offsets = sorted({*s.outside, *s.inside, *s.line})
    reach = maps.unit * np.array(offsets)[:, None]
    places = [[offsets.index(o) for o in each] for each in (s.outside, s.inside, s.line)]
    kinds = np.empty((5, points.shape[1]))
    # A few thousand steps at a time stay in the processor's cache.
    for first in range(0, points.shape[1], 3000):
        some = slice(first, first + 3000)
        (x, y), (out_x, out_y) = points[:, some], outward[:, some]
        seen = look_up_at(maps.together, x + reach * out_x, y + reach * out_y)
        outside, inside, line = (seen[k] for k in places)
        ground_beyond = np.bitwise_or.reduce(outside) & 2 > 0
        art_within = np.bitwise_and.reduce(inside) & 1 == 0
        has_line = np.bitwise_or.reduce(line) & 4 > 0
        edge = _at_edge(x, y, out_x, out_y, maps, s)
        beyond = edge | ground_beyond
        kinds[0, some] = ~edge & ground_beyond & art_within
        kinds[1, some] = ~beyond & has_line
        kinds[2, some] = edge & art_within
        kinds[3, some] = beyond & ~art_within
        kinds[4, some] = ~(beyond | has_line)
    return kinds


def _at_edge(
    x: np.ndarray,
    y: np.ndarray,
    out_x: np.ndarray,
    out_y: np.ndarray,
    maps: EvidenceMaps,
    s: EvidenceSettings,
) -> np.ndarray:
    """Whether the page's own edge is what lies beyond a step."""
    rows, columns = maps.ground.shape
    room = s.edge * maps.unit
    edge = ((out_x < -0.7) & (x < room)) | ((out_x > 0.7) & (x > columns - room))
    edge |= (out_y < -0.7) & (y < room)
    return np.asarray(edge | ((out_y > 0.7) & (y > rows - room)))
