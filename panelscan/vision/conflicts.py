"""Which candidates cannot both be panels: those that overlap, unless one is inset in the other."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
from shapely import Polygon

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up


@dataclass(frozen=True, slots=True)
class ConflictSettings:
    """How much two panels may overlap, and what an inset is; lengths in thousandths."""

    most_overlap: float = 0.12
    inset_gain: float = 0.18
    inset_share: float = 0.5
    inset_inside: float = 0.6
    inset_open: float = 0.2
    inset_held: float = 0.45
    same_side: float = 6.0


def conflicts(
    candidates: list[Candidate],
    open_ground: np.ndarray,
    unit: float,
    settings: ConflictSettings | None = None,
) -> np.ndarray:
    """Pairs of candidates that cannot both be panels.

    Parameters
    ----------
    candidates : list of Candidate
        Weighed.
    open_ground : ndarray of uint8, shape (M, N)
        Ground open to the page's edge.
    unit : float
        Pixels in a thousandth of the page's long side.
    settings : ConflictSettings or None

    Returns
    -------
    ndarray of bool, shape (K, K)
    """
    s = settings or ConflictSettings()
    k = len(candidates)
    clash = np.zeros((k, k), dtype=bool)
    if not k:
        return clash
    rings = [c.corners.astype(np.float32) for c in candidates]
    areas = [cv2.contourArea(r) for r in rings]
    fits = partial(_may_be_inset, unit=unit, s=s)
    beside: dict[int, float] = {}
    inside: dict[int, list[int]] = {}
    for i, j in _boxes_meet(candidates):
        small, large = (i, j) if areas[i] < areas[j] else (j, i)
        common = common_area(rings[i], rings[j])
        if common <= s.most_overlap * areas[small]:
            continue
        clash[i, j] = clash[j, i] = True
        if common < s.inset_inside * areas[small]:
            continue
        if not fits(candidates[small], candidates[large], areas[small] / max(areas[large], 1.0)):
            continue
        if small not in beside:
            beside[small] = _beside_ground(candidates[small], open_ground, unit)
        if beside[small] <= s.inset_open:
            inside.setdefault(large, []).append(small)
    for host, insets in inside.items():
        # What covers most of its host is not inset in it: the host is a tier or the page.
        if _covered(rings[host], [rings[k] for k in insets]) <= s.inset_share:
            clash[host, insets] = clash[insets, host] = False
    return clash


def _boxes_meet(candidates: list[Candidate]) -> list[tuple[int, int]]:
    """Pairs whose boxes have an area in common."""
    low = np.array([c.corners.min(axis=0) for c in candidates])
    high = np.array([c.corners.max(axis=0) for c in candidates])
    apart = (low[:, None] >= high[None]).any(axis=2)
    first, second = np.nonzero(np.triu(~apart & ~apart.T, 1))
    return [(int(i), int(j)) for i, j in zip(first, second, strict=True)]


def _may_be_inset(
    small: Candidate, large: Candidate, share: float, unit: float, s: ConflictSettings
) -> bool:
    """Whether a panel may lie in (or on) another without being a part of it.

    It must have gained by itself and share none of the other's sides.
    """
    seen = small.source in ("net", "votes", "lined")
    if share > s.inset_share or small.gain < s.inset_gain or not seen:
        return False
    held = sum(side.wall + side.shared >= s.inset_held for side in small.sides)
    if held < 3:
        return False
    near = s.same_side * unit
    ring = large.corners.astype(np.float32)
    start, end = large.corners, np.roll(large.corners, -1, axis=0)
    for a, b in zip(small.corners, np.roll(small.corners, -1, axis=0), strict=True):
        along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        normal = np.array([-along[1], along[0]])
        on = (np.abs((start - a) @ normal) < near) & (np.abs((end - a) @ normal) < near)
        places = [a + (b - a) * at for at in (0.2, 0.5, 0.8)]
        away = [abs(cv2.pointPolygonTest(ring, (float(x), float(y)), True)) for x, y in places]
        if on.any() or sorted(away)[1] < near:
            return False
    return True


def _beside_ground(candidate: Candidate, open_ground: np.ndarray, unit: float) -> float:
    """Share of a frame's outline that has open ground, a gutter or a margin, beside it."""
    ring = candidate.corners
    ends = np.roll(ring, -1, axis=0)
    length = np.maximum(np.hypot(*(ends - ring).T), 1e-9)
    hits = 0.0
    for a, b, n in zip(ring, ends, length, strict=True):
        outward = np.array([b[1] - a[1], a[0] - b[0]]) / n
        points = a + np.linspace(0.04, 0.96, 30)[:, None] * (b - a)
        seen = [look_up(open_ground, points + d * unit * outward) for d in (2.0, 4.0, 6.5)]
        hits += float(np.any(seen, axis=0).mean() * n)
    return hits / float(length.sum())


def _covered(host: np.ndarray, insets: list[np.ndarray]) -> float:
    """Share of a ring's area that others cover together."""
    low = host.min(axis=0)
    scale = 100.0 / max(float(np.ptp(host, axis=0).max()), 1.0)
    size = np.ceil(np.ptp(host, axis=0) * scale).astype(int) + 1
    whole = np.zeros((int(size[1]), int(size[0])), dtype=np.uint8)
    part = whole.copy()
    cv2.fillPoly(whole, [np.round((host - low) * scale).astype(np.int32)], 1)
    for ring in insets:
        cv2.fillPoly(part, [np.round((ring - low) * scale).astype(np.int32)], 1)
    return cv2.countNonZero(cv2.bitwise_and(whole, part)) / max(1, cv2.countNonZero(whole))


def common_area(a: np.ndarray, b: np.ndarray) -> float:
    """Area that two rings of shape (K, 2), float32, have in common."""
    if cv2.isContourConvex(a) and cv2.isContourConvex(b):
        return float(cv2.intersectConvexConvex(a, b)[0])
    return float(Polygon(a).buffer(0).intersection(Polygon(b).buffer(0)).area)
