"""Which candidates cannot both be panels: those that overlap, unless one is inset in the other."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.insets import InsetSettings, beside_ground, common_area, may_be_inset


@dataclass(frozen=True, slots=True)
class ConflictSettings:
    """How much two panels may overlap, and what an inset is."""

    most_overlap: float = 0.12
    inset: InsetSettings = field(default_factory=InsetSettings)


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
    fits = partial(may_be_inset, unit=unit, s=s.inset)
    beside: dict[int, float] = {}
    inside: dict[int, list[int]] = {}
    for i, j in _boxes_meet(candidates):
        small, large = (i, j) if areas[i] < areas[j] else (j, i)
        common = common_area(rings[i], rings[j])
        if common <= s.most_overlap * areas[small]:
            continue
        clash[i, j] = clash[j, i] = True
        if common < s.inset.inside * areas[small]:
            continue
        if not fits(candidates[small], candidates[large], areas[small] / max(areas[large], 1.0)):
            continue
        if small not in beside:
            beside[small] = beside_ground(candidates[small], open_ground, unit)
        if beside[small] <= s.inset.most_open:
            inside.setdefault(large, []).append(small)
    for host, insets in inside.items():
        # What covers most of its host is not inset in it: the host is a tier or the page.
        if _covered(rings[host], [rings[k] for k in insets]) <= s.inset.most_share:
            clash[host, insets] = clash[insets, host] = False
    return clash


def _boxes_meet(candidates: list[Candidate]) -> list[tuple[int, int]]:
    """Pairs whose boxes have an area in common."""
    low = np.array([c.corners.min(axis=0) for c in candidates])
    high = np.array([c.corners.max(axis=0) for c in candidates])
    apart = (low[:, None] >= high[None]).any(axis=2)
    first, second = np.nonzero(np.triu(~apart & ~apart.T, 1))
    return [(int(i), int(j)) for i, j in zip(first, second, strict=True)]


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
