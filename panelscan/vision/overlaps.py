"""Panels that run on beneath another: what sticks out beyond the front one tells how far.

A back panel is first seen up to the front one's border. Where its own top (or foot, or side)
runs on past that border, as art with ground beyond, the panel reaches as far as that strip.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up


@dataclass(frozen=True, slots=True)
class OverlapSettings:
    """When a panel is taken to run on; lengths in thousandths of the page's long side.

    Parameters
    ----------
    inner, outer : float
        How far inside and outside of the line that runs on art and ground are looked for.
    skip : float
        The front panel's own border and rounding hide so much.
    least, most_share : float
        A strip shorter than this is none; nor is one that hides so large a share of the
        panel's own extent.
    agree : float
        How far strips at both ends may differ.
    beside : float
        How far from a side the panel in front is looked for.
    most_gaps : float
        Share of a strip that may show no art (or no ground beyond).
    """

    band: tuple[float, ...] = (-2.5, -1.5, -0.5, 0.5, 1.5)
    outer: float = 3.5
    skip: float = 4.0
    least: float = 7.0
    step: float = 4.0
    most_share: float = 0.6
    agree: float = 8.0
    beside: tuple[float, ...] = (3.5, 7.0, 12.0)
    most_gaps: float = 0.15


def run_on(
    panels: list[Candidate],
    open_ground: np.ndarray,
    unit: float,
    settings: OverlapSettings | None = None,
) -> list[Candidate]:
    """Panels, those beneath another drawn on to where what sticks out ends.

    Parameters
    ----------
    panels : list of Candidate
        The chosen panels; only those of four corners run on.
    open_ground : ndarray of uint8, shape (M, N)
        Ground open to the page's edge.
    unit : float
        Working pixels in a thousandth of the page's long side.
    settings : OverlapSettings or None

    Returns
    -------
    list of Candidate
        In the same order.
    """
    s = settings or OverlapSettings()
    rings = [p.corners.astype(np.float32) for p in panels]
    found = []
    for k, panel in enumerate(panels):
        corners = panel.corners
        if len(corners) == 4:
            others = [ring for j, ring in enumerate(rings) if j != k]
            for side in range(4):
                corners = _side_run_on(corners, side, others, open_ground, unit, s)
        found.append(panel if corners is panel.corners else replace(panel, corners=corners))
    return found


def _side_run_on(
    corners: np.ndarray, side: int, others: list[np.ndarray], ground: np.ndarray, unit: float,
    s: OverlapSettings,
) -> np.ndarray:  # fmt: skip
    """Corners with one side moved outwards, beneath the panel that lies beside it."""
    a, b = corners[side], corners[(side + 1) % 4]
    before, after = corners[side - 1], corners[(side + 2) % 4]
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    outward = np.array([along[1], -along[0]])
    middle = (a + b) / 2
    places = [middle + d * unit * outward for d in s.beside]
    front = [o for o in others if any(_holds(o, place) for place in places)]
    if not front:
        return corners
    extent = min(float(np.hypot(*(a - before))), float(np.hypot(*(b - after))))
    reach = min(s.most_share * extent / (1 - s.most_share), _depth(front[0], middle, outward))
    strips = []
    for corner, base, beyond in ((a, before, -along), (b, after, along)):
        length = _strip(corner, corner - base, beyond, reach, ground, unit, s, front[0])
        other = _is_others(corner, corner - base, beyond, length, others, unit, s)
        strips.append(0.0 if other else length)
    told = [x for x in strips if x > 0]
    if not told or (len(told) == 2 and abs(told[0] - told[1]) > s.agree * unit):
        return corners
    moved = corners.copy()
    for at, base, own in ((side, before, strips[0]), ((side + 1) % 4, after, strips[1])):
        way = (corners[at] - base) / max(float(np.hypot(*(corners[at] - base))), 1e-9)
        moved[at] = corners[at] + (own or max(told)) * way
    return moved


def _is_others(
    corner: np.ndarray, run: np.ndarray, beyond: np.ndarray, length: float,
    others: list[np.ndarray], unit: float, s: OverlapSettings,
) -> bool:  # fmt: skip
    """Whether the strip past a corner is another panel's own edge."""
    way = run / max(float(np.hypot(*run)), 1e-9)
    inner = corner - s.step * unit * beyond
    places = inner + np.linspace(0.2, 0.9, 8)[:, None] * length * way
    return any(np.mean([_holds(ring, place) for place in places]) > 0.5 for ring in others)


def _holds(ring: np.ndarray, place: np.ndarray) -> bool:
    return cv2.pointPolygonTest(ring, (float(place[0]), float(place[1])), False) > 0


def _depth(front: np.ndarray, start: np.ndarray, outward: np.ndarray) -> float:
    """How far the front panel reaches from a place, along a direction."""
    return float(((front - start) @ outward).max())


def _strip(
    corner: np.ndarray, run: np.ndarray, beyond: np.ndarray, reach: float, ground: np.ndarray,
    unit: float, s: OverlapSettings, front: np.ndarray,
) -> float:  # fmt: skip
    """Length past a corner over which art goes on with ground beyond its line; 0 for none.

    ``beyond`` points away from the panel's inside at that corner.
    """
    way = run / max(float(np.hypot(*run)), 1e-9)
    normal = np.array([way[1], -way[0]])
    if normal @ beyond < 0:
        normal = -normal
    if float(((front - corner) @ normal).max()) > -s.step * unit:
        return 0.0
    steps = np.arange(s.skip * unit, max(reach, s.skip * unit) + 12 * unit, 1.0)
    line = corner + steps[:, None] * way
    size = np.array(ground.shape[::-1]) - 1
    on_page = ((line >= 0) & (line <= size)).all(axis=1)
    art = on_page & np.any([look_up(ground, line + d * unit * normal) == 0 for d in s.band], axis=0)
    clear = (look_up(ground, line + s.outer * unit * normal) > 0) & on_page
    good = art & clear
    if not good[: max(2, round(s.least * unit - s.skip * unit))].mean() >= 1 - s.most_gaps:
        return 0.0
    share = np.cumsum(good) / np.arange(1, len(good) + 1)
    kept = np.flatnonzero(good & (share >= 1 - s.most_gaps))
    last = int(kept[-1])
    length = float(steps[last])
    # What runs on to the front panel's far side is that panel's own edge.
    if length >= reach - s.agree * unit or length < s.least * unit:
        return 0.0
    after = steps > length + 2.5 * unit
    ended = ~art[after][: round(6 * unit)]
    return length if len(ended) and ended.mean() > 0.7 else 0.0
