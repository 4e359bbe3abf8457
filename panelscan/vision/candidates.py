"""Candidate panels: frames around all regions and parts of the page that might be one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from shapely import Polygon

from panelscan.vision.cuts import CutNode, look_up
from panelscan.vision.dividers import LineMap, divided
from panelscan.vision.evidence import EvidenceMaps, SideEvidence, side_evidence
from panelscan.vision.polygons import fit_quad
from panelscan.vision.regions import RegionSettings, regions_of
from panelscan.vision.shapes import shaped_outlines


@dataclass(frozen=True, slots=True)
class CandidateSettings:
    """What becomes a candidate and what it is worth.

    Costs and gains are in page lengths (the long side is 1).
    """

    panel_cost: float = 0.11
    corner_cost: float = 0.012
    free_corners: int = 8
    curve_cost: float = 0.002
    art_gain: float = 0.35
    least_side: float = 26.0
    least_area_share: float = 0.004
    same_corner: float = 3.0
    most_overlap: float = 0.12
    least_part_of_art: float = 0.02
    scattered: float = 0.3
    least_walled: float = 0.6
    inset_gain: float = 0.18
    inset_share: float = 0.5
    inset_inside: float = 0.6
    same_side: float = 7.0
    inset_open: float = 0.2
    scattered_cost: float = 0.3


@dataclass(frozen=True, eq=False)
class Candidate:
    """A possible panel in working pixels.

    Parameters
    ----------
    corners : ndarray of float64, shape (K, 2)
        Ring with positive shoelace area.
    source : str
        What proposed it.
    whole : float
        Share of its box that the box of its largest connected piece takes.
    sides : tuple of SideEvidence
        Evidence of side i, from corner i to corner i + 1.
    art : int
        Pixels of art inside.
    gain : float
        Evidence less cost, in page lengths.
    """

    corners: np.ndarray
    source: str
    whole: float = 1.0
    sides: tuple[SideEvidence, ...] = ()
    art: int = 0
    gain: float = 0.0

    @property
    def walled(self) -> float:
        """Share of the outline with a wall or the page's edge."""
        length = sum(side.length for side in self.sides)
        held = sum(side.length * (side.wall + side.bleed) for side in self.sides)
        return held / length if length else 0.0


def propose(
    open_ground: np.ndarray,
    guarded: list[tuple[float, np.ndarray]],
    trees: list[CutNode],
    settings: CandidateSettings | None = None,
) -> list[Candidate]:
    """Frames around every region at every leak guard and around every part of the cut trees.

    Parameters
    ----------
    open_ground : ndarray of uint8, shape (M, N)
        Ground open to the page's edge.
    guarded : list of (float, ndarray)
        Leak guard and the ground open to the edge under it.
    trees : list of CutNode
        Parts of the page.
    settings : CandidateSettings or None

    Returns
    -------
    list of Candidate
        Without doubles, not yet weighed.
    """
    s = settings or CandidateSettings()
    unit = max(open_ground.shape) / 1000.0
    found: list[Candidate] = []
    seen: list[np.ndarray] = []
    for guard, ground in guarded:
        for region in regions_of(ground, guard, RegionSettings()):
            # Most regions look the same at every leak guard.
            figure = np.array([*region.box, np.sqrt(region.area)], dtype=float)
            if any(np.abs(figure - other).max() < s.same_corner * unit for other in seen):
                continue
            seen.append(figure)
            _add(found, region.mask, region.box[:2], f"region {guard:g}", unit, s)
    art = 1 - open_ground
    rows, columns = open_ground.shape
    page = np.array([[0.0, 0], [columns, 0], [columns, rows], [0, rows]])
    found.append(Candidate(page, "page"))
    for tree in trees:
        for node in tree.walk():
            for mask, corner, source, whole in _parts(art, node.polygon, s):
                _add(found, mask, corner, source, unit, s, whole)
    return found


def _parts(
    art: np.ndarray, polygon: np.ndarray, s: CandidateSettings
) -> list[tuple[np.ndarray, tuple[int, int], str, float]]:
    """Art in a part of the page: all of it together, and each large piece alone."""
    if len(polygon) < 3:
        return []
    low = np.maximum(np.floor(polygon.min(axis=0)).astype(int), 0)
    high = np.ceil(polygon.max(axis=0)).astype(int)
    window = art[low[1] : high[1] + 1, low[0] : high[0] + 1]
    stencil = np.zeros(window.shape, dtype=np.uint8)
    cv2.fillConvexPoly(stencil, np.round(polygon - low).astype(np.int32), 1)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(window & stencil, connectivity=4)
    areas = stats[1:, cv2.CC_STAT_AREA]
    if not len(areas):
        return []
    large = np.flatnonzero(areas >= s.least_part_of_art * areas.sum()) + 1
    keep = np.zeros(count, dtype=np.uint8)
    keep[large] = 1
    corner = (int(low[0]), int(low[1]))
    spread = np.ptp(np.concatenate([stats[large, :2], stats[large, :2] + stats[large, 2:4]]), 0)
    boxes = stats[large, 2].astype(float) * stats[large, 3]
    parts = [(keep[labels], corner, "part", float(boxes.max() / max(1, spread[0] * spread[1])))]
    if 1 < len(large) <= 6:
        parts += [((labels == k).astype(np.uint8), corner, "piece", 1.0) for k in large]
    return parts


def _add(
    found: list[Candidate],
    mask: np.ndarray,
    corner: tuple[int, ...],
    source: str,
    unit: float,
    s: CandidateSettings,
    whole: float = 1.0,
) -> None:
    """Add the frame around a region, and the other shapes it may have."""
    fitted = fit_quad(mask, unit)
    rings = [] if fitted is None else [fitted[0]]
    if source != "part":
        rings += shaped_outlines(mask, unit)
    for ring in rings:
        corners = ring + np.array(corner[:2], dtype=np.float64)
        if (np.ptp(corners, axis=0) < s.least_side * unit).any():
            continue
        near = s.same_corner * unit if len(corners) == 4 else unit
        alike = (c.corners for c in found if len(c.corners) == len(corners))
        if not any(np.abs(c - corners).max() < near for c in alike):
            found.append(Candidate(corners, source, whole))


def divide(
    weighed: list[Candidate], maps: list[LineMap], settings: CandidateSettings | None = None
) -> list[Candidate]:
    """Parts of frames that are divided by single lines, as further candidates.

    Parameters
    ----------
    weighed : list of Candidate
        With their evidence.
    maps : list of LineMap
    settings : CandidateSettings or None
    """
    s = settings or CandidateSettings()
    sound = [c for c in weighed if len(c.corners) == 4 and c.walled >= s.least_walled]
    middles = np.array([c.corners.mean(axis=0) for c in sound]).reshape(-1, 2)
    found: list[Candidate] = []
    for candidate in sound:
        ring = candidate.corners.astype(np.float32)
        if sum(cv2.pointPolygonTest(ring, (float(x), float(y)), False) > 0 for x, y in middles) > 3:
            continue
        for part in divided(candidate.corners, maps):
            if not any(_same(part, c.corners, 3 * s.same_corner) for c in found):
                found.append(Candidate(part, "divided"))
    return found


def _same(a: np.ndarray, b: np.ndarray, near: float) -> bool:
    return len(a) == len(b) and bool(np.abs(a - b).max() < near)


def weigh(
    candidates: list[Candidate],
    maps: EvidenceMaps,
    art: np.ndarray,
    settings: CandidateSettings | None = None,
) -> list[Candidate]:
    """Candidates with their evidence and gain, those without gain left out.

    Parameters
    ----------
    candidates : list of Candidate
    maps : EvidenceMaps
    art : ndarray of uint8, shape (M, N)
        1 where something is drawn.
    settings : CandidateSettings or None
    """
    s = settings or CandidateSettings()
    long_side = maps.unit * 1000.0
    total = max(1, int(cv2.countNonZero(art)))
    candidates = [c for c in candidates if is_simple(c.corners)]
    weighed = []
    sums = cv2.integral(art)
    evidence = side_evidence(maps, [c.corners for c in candidates])
    for candidate, sides in zip(candidates, evidence, strict=True):
        inside = _box_sum(sums, candidate.corners)
        gain = sum(side.worth for side in sides) / long_side
        gain += s.art_gain * inside / total - s.panel_cost - _shape_cost(len(sides), s)
        if candidate.whole < s.scattered:
            gain -= s.scattered_cost
        weighed.append(replace(candidate, sides=tuple(sides), art=inside, gain=gain))
    return weighed


def _shape_cost(corners: int, s: CandidateSettings) -> float:
    """Cost of saying an outline: each of the first corners, and less for points of a curve."""
    more = max(0, corners - s.free_corners)
    return s.corner_cost * (corners - more) + s.curve_cost * more


def _box_sum(sums: np.ndarray, corners: np.ndarray) -> int:
    """Sum of a 0/1 map over the box whose sides are the mean sides of a frame."""
    rows, columns = sums.shape[0] - 1, sums.shape[1] - 1
    x = np.sort(corners[:, 0])
    y = np.sort(corners[:, 1])
    half = len(x) // 2
    x0, x1 = np.clip([x[:half].mean(), x[half:].mean()], 0, columns).astype(int)
    y0, y1 = np.clip([y[:half].mean(), y[half:].mean()], 0, rows).astype(int)
    return int(sums[y1, x1] - sums[y0, x1] - sums[y1, x0] + sums[y0, x0])


def is_simple(ring: np.ndarray) -> bool:
    """Whether a ring of shape (K, 2) encloses an area and does not cross itself."""
    shape = Polygon(ring)
    return bool(shape.is_valid and shape.area > 1.0)


def conflicts(
    candidates: list[Candidate],
    open_ground: np.ndarray,
    unit: float,
    settings: CandidateSettings | None = None,
) -> np.ndarray:
    """Which pairs cannot both be panels: bool, shape (K, K)."""
    s = settings or CandidateSettings()
    k = len(candidates)
    clash = np.zeros((k, k), dtype=bool)
    inside: dict[int, list[int]] = {}
    boxes = np.array([[*c.corners.min(axis=0), *c.corners.max(axis=0)] for c in candidates])
    rings = [c.corners.astype(np.float32) for c in candidates]
    areas = [cv2.contourArea(r) for r in rings]
    for i in range(k):
        for j in range(i + 1, k):
            low = np.maximum(boxes[i, :2], boxes[j, :2])
            high = np.minimum(boxes[i, 2:], boxes[j, 2:])
            if (high <= low).any():
                continue
            common = common_area(rings[i], rings[j])
            if common <= s.most_overlap * min(areas[i], areas[j]):
                continue
            small, large = (i, j) if areas[i] < areas[j] else (j, i)
            inset = common >= s.inset_inside * areas[small] and _may_be_inset(
                candidates[small], candidates[large], areas[small] / areas[large], unit, s
            )
            inset = inset and _beside_ground(candidates[small], open_ground, unit) <= s.inset_open
            clash[i, j] = clash[j, i] = True
            if inset:
                inside.setdefault(large, []).append(small)
    for host, insets in inside.items():
        # What covers most of its host is not inset in it: the host is a tier or the page.
        if _covered(rings[host], [rings[k] for k in insets]) <= s.inset_share:
            clash[host, insets] = clash[insets, host] = False
    return clash


def _beside_ground(candidate: Candidate, open_ground: np.ndarray, unit: float) -> float:
    """Share of a frame's outline that has open ground, a gutter or a margin, beside it."""
    ring = candidate.corners
    ends = np.roll(ring, -1, axis=0)
    length = np.maximum(np.hypot(*(ends - ring).T), 1e-9)
    hits, total = 0.0, 0.0
    for a, b, n in zip(ring, ends, length, strict=True):
        outward = np.array([b[1] - a[1], a[0] - b[0]]) / n
        points = a + np.linspace(0.04, 0.96, 30)[:, None] * (b - a)
        seen = [look_up(open_ground, points + d * unit * outward) for d in (2.0, 4.0, 6.5)]
        hits += float(np.any(seen, axis=0).mean() * n)
        total += float(n)
    return hits / total


def _covered(host: np.ndarray, insets: list[np.ndarray]) -> float:
    """Share of a ring's area that others cover together."""
    low = host.min(axis=0)
    scale = 100.0 / max(float(np.ptp(host, axis=0).max()), 1.0)
    size = np.ceil(np.ptp(host, axis=0) * scale).astype(int) + 1
    whole, part = (np.zeros((size[1], size[0]), dtype=np.uint8) for _ in range(2))
    cv2.fillPoly(whole, [np.round((host - low) * scale).astype(np.int32)], 1)
    for ring in insets:
        cv2.fillPoly(part, [np.round((ring - low) * scale).astype(np.int32)], 1)
    return cv2.countNonZero(whole & part) / max(1, cv2.countNonZero(whole))


def _may_be_inset(
    small: Candidate, large: Candidate, share: float, unit: float, s: CandidateSettings
) -> bool:
    """Whether a panel may lie in (or on) another without being one half of it.

    It must have gained by itself and share none of the other's sides.
    """
    if share > s.inset_share or small.gain < s.inset_gain or small.source != "net":
        return False
    ring = large.corners.astype(np.float32)
    for a, b in zip(small.corners, np.roll(small.corners, -1, axis=0), strict=True):
        places = [a + (b - a) * share for share in (0.2, 0.5, 0.8)]
        away = [cv2.pointPolygonTest(ring, (float(x), float(y)), True) for x, y in places]
        if sorted(abs(d) for d in away)[1] < s.same_side * unit:
            return False
    return True


def _covered(host: np.ndarray, insets: list[np.ndarray]) -> float:
    """Share of a ring's area that others cover together."""
    low = host.min(axis=0)
    scale = 100.0 / max(float(np.ptp(host, axis=0).max()), 1.0)
    size = np.ceil(np.ptp(host, axis=0) * scale).astype(int) + 1
    whole, part = (np.zeros((size[1], size[0]), dtype=np.uint8) for _ in range(2))
    cv2.fillPoly(whole, [np.round((host - low) * scale).astype(np.int32)], 1)
    for ring in insets:
        cv2.fillPoly(part, [np.round((ring - low) * scale).astype(np.int32)], 1)
    return cv2.countNonZero(whole & part) / max(1, cv2.countNonZero(whole))


def _may_be_inset(
    small: Candidate, large: Candidate, share: float, unit: float, s: CandidateSettings
) -> bool:
    """Whether a panel may lie in (or on) another without being one half of it.

    It must have gained by itself and share none of the other's sides.
    """
    if share > s.inset_share or small.gain < s.inset_gain or small.source != "net":
        return False
    near = s.same_side
    for a, b in zip(small.corners, np.roll(small.corners, -1, axis=0), strict=True):
        along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        normal = np.array([-along[1], along[0]])
        for p, q in zip(large.corners, np.roll(large.corners, -1, axis=0), strict=True):
            if abs((p - a) @ normal) < near and abs((q - a) @ normal) < near:
                return False
    return True


def common_area(a: np.ndarray, b: np.ndarray) -> float:
    """Area that two rings of shape (K, 2), float32, have in common."""
    if cv2.isContourConvex(a) and cv2.isContourConvex(b):
        return float(cv2.intersectConvexConvex(a, b)[0])
    return float(Polygon(a).buffer(0).intersection(Polygon(b).buffer(0)).area)
