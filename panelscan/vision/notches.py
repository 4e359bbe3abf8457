"""Panels with a corner cut out for another: told from panels that run on beneath it.

Where one panel takes a corner of another, the other either runs on beneath it or steps back
round it as an L. A frame round all of the L fits both, and gains the front panel's borders
too. The L shows a border of its own along the step, a gutter away from the front panel.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.evidence import SideEvidence
from panelscan.vision.insets import common_area


@dataclass(frozen=True, slots=True)
class NotchSettings:
    """When a panel is taken to step back; lengths in thousandths of the page's long side.

    Parameters
    ----------
    same_share : float
        An L and the frame round it differ by less than this share of their size.
    corners : tuple of int
        Fewest and most corners of an L: some find one corner twice.
    least_front, most_common : float
        Share of the front panel that lies in the frame, at least, and in the L, at most.
    least_gutter, gutter_share : float
        From the step to the front panel, at least, also in shares of the page's usual gutter:
        the rim that keeps an inset clear of its host is thinner.
    widest_gutter : float
        Panels farther apart have no gutter between them.
    deep, long : float
        A side of the step lies so deep in the frame and is so long.
    bordered : float
        Share of the L's weakest side along which the net sees a border.
    most_blocked : float
        Share of a side of the step that may have art right across it.
    """

    same_share: float = 0.03
    corners: tuple[int, int] = (6, 8)
    least_front: float = 0.8
    most_common: float = 0.1
    least_gutter: float = 5.0
    gutter_share: float = 0.5
    widest_gutter: float = 45.0
    deep: float = 12.0
    long: float = 15.0
    bordered: float = 0.75
    most_blocked: float = 0.36


def stepped_back(
    panels: list[Candidate],
    candidates: list[Candidate],
    unit: float,
    settings: NotchSettings | None = None,
) -> list[Candidate]:
    """Panels, those that step back round another as the L that they are.

    Parameters
    ----------
    panels : list of Candidate
        The chosen panels; only those of four corners are looked at.
    candidates : list of Candidate
        All that were weighed.
    unit : float
        Working pixels in a thousandth of the page's long side.
    settings : NotchSettings or None

    Returns
    -------
    list of Candidate
        In the same order.
    """
    s = settings or NotchSettings()
    fewest, most = s.corners
    shaped = [
        c for c in candidates if fewest <= len(c.corners) <= most and c.bordered >= s.bordered
    ]
    if not shaped:
        return panels
    rings = [p.corners.astype(np.float32) for p in panels]
    least = max(
        s.least_gutter * unit, s.gutter_share * _usual_gutter(rings, s.widest_gutter * unit)
    )
    found = []
    for k, panel in enumerate(panels):
        fronts = [r for j, r in enumerate(rings) if j != k and _lies_in(r, rings[k], s.least_front)]
        fits = []
        if fronts and len(panel.corners) == 4:
            fits = [c for c in shaped if _same_box(c, panel, s)]
            fits = [c for c in fits if any(_clears(c, rings[k], f, least, unit, s) for f in fronts)]
        found.append(max(fits, key=lambda c: c.gain, default=panel))
    return found


def _lies_in(front: np.ndarray, frame: np.ndarray, least: float) -> bool:
    return common_area(front, frame) > least * cv2.contourArea(front)


def _usual_gutter(rings: list[np.ndarray], widest: float) -> float:
    """Median distance from the middle of a side to the next panel; 0 where none is near."""
    gutters = []
    for k, ring in enumerate(rings):
        for middle in (ring + np.roll(ring, -1, axis=0)) / 2:
            away = [-_depth(other, middle) for j, other in enumerate(rings) if j != k]
            gutters += [min(d for d in away if d > 0)] if any(d > 0 for d in away) else []
    near = [d for d in gutters if d < widest]
    return float(np.median(near)) if near else 0.0


def _same_box(one: Candidate, other: Candidate, s: NotchSettings) -> bool:
    near = s.same_share * float(np.ptp(other.corners, axis=0).max())
    low = np.abs(one.corners.min(axis=0) - other.corners.min(axis=0)).max()
    high = np.abs(one.corners.max(axis=0) - other.corners.max(axis=0)).max()
    return bool(max(low, high) <= near)


def _clears(
    shape: Candidate, frame: np.ndarray, front: np.ndarray, least: float, unit: float,
    s: NotchSettings,
) -> bool:  # fmt: skip
    """Whether an L leaves a gutter between itself and the front panel, along two sides."""
    ring = shape.corners.astype(np.float32)
    if common_area(front, ring) > s.most_common * cv2.contourArea(front):
        return False
    step = _step(shape, frame, unit, s)
    # A curve or a cut corner has one such side or many: only an L has two.
    return len(step) == 2 and all(
        -_depth(front, middle) >= least and side.blocked <= s.most_blocked for middle, side in step
    )


def _step(
    shape: Candidate, frame: np.ndarray, unit: float, s: NotchSettings
) -> list[tuple[np.ndarray, SideEvidence]]:
    """Middles of the sides that lie deep in the frame, with their evidence."""
    middles = (shape.corners + np.roll(shape.corners, -1, axis=0)) / 2
    return [
        (middle, side)
        for middle, side in zip(middles, shape.sides, strict=True)
        if side.length >= s.long * unit and _depth(frame, middle) >= s.deep * unit
    ]


def _depth(ring: np.ndarray, place: np.ndarray) -> float:
    """How deep a place lies in a ring; negative outside of it."""
    return float(cv2.pointPolygonTest(ring, (float(place[0]), float(place[1])), True))
