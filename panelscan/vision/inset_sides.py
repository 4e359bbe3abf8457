"""Sides of an inset that were laid on its host's border, moved to the inset's own.

An inset often lies a few thousandths of the page within its host's corner. To the net, whose
map is coarse, the two borders are nearly one, and the host's is the stronger. Where a side lies
on the host's and a line runs along it a little further in, the line is the inset's border.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up_at
from panelscan.vision.dividers import LineMap
from panelscan.vision.insets import common_area
from panelscan.vision.learned import LearnedMaps
from panelscan.vision.votes import crossing


@dataclass(frozen=True, slots=True)
class InsetSideSettings:
    """Where an inset's own side is looked for; lengths in thousandths of the long side.

    Parameters
    ----------
    on_host : float
        Share of an inset that lies on its host, at least.
    same_side : float
        A side so near to its host's may be the host's.
    nearest, deepest, most_depth : float
        How far further in the side is looked for; at most this share of the inset's depth.
    step, most_tilt : float
        Steps of the search, and how far its two ends may differ.
    least_line, least_border : float
        Share of the side along which a line is seen, and along which the net sees a border.
    rise : float
        The border's log-odds may not fall over this way inwards: that is the host's fading.
    tilt_cost, dark_gain : float
        What a tilt costs for each thousandth, and what a dark line gains over a light one.
    most_odds : float
        Log-odds are cut off there.
    """

    on_host: float = 0.6
    same_side: float = 6.0
    nearest: float = 7.0
    deepest: float = 24.0
    most_depth: float = 0.4
    step: float = 0.5
    most_tilt: float = 3.0
    least_line: float = 0.85
    least_border: float = 0.75
    rise: float = 2.0
    tilt_cost: float = 0.01
    dark_gain: float = 0.15
    most_odds: float = 3.0


def with_own_sides(
    panels: Sequence[Candidate],
    line_maps: Sequence[LineMap],
    maps: LearnedMaps,
    unit: float,
    settings: InsetSideSettings | None = None,
) -> list[Candidate]:
    """Panels, sides of insets on their host's side moved in to a line that is seen there.

    Parameters
    ----------
    panels : sequence of Candidate
        The chosen panels; only those of four corners on a larger one are looked at.
    line_maps : sequence of LineMap
        Thin dark and light lines of the page.
    maps : LearnedMaps
    unit : float
        Working pixels in a thousandth of the page's long side.
    settings : InsetSideSettings or None

    Returns
    -------
    list of Candidate
        In the same order.
    """
    s = settings or InsetSideSettings()
    rings = [p.corners.astype(np.float32) for p in panels]
    areas = [cv2.contourArea(ring) for ring in rings]
    found = []
    for k, panel in enumerate(panels):
        hosts = [
            ring
            for j, ring in enumerate(rings)
            if areas[j] > areas[k] and common_area(rings[k], ring) > s.on_host * areas[k]
        ]
        if hosts and len(panel.corners) == 4:
            panel = _moved(panel, hosts[0], line_maps, maps, unit, s)
        found.append(panel)
    return found


def _moved(
    inset: Candidate, host: np.ndarray, line_maps: Sequence[LineMap], maps: LearnedMaps,
    unit: float, s: InsetSideSettings,
) -> Candidate:  # fmt: skip
    """An inset with its own sides where they are seen."""
    ring = inset.corners
    sides = [(a, b) for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)]
    moved = False
    for i, (a, b) in enumerate(sides):
        if not _on(host, a, b, s.same_side * unit):
            continue
        depth = float(np.hypot(*(ring[(i + 2) % 4] + ring[i - 1] - a - b))) / 2
        own = _own_side(a, b, min(s.deepest * unit, s.most_depth * depth), line_maps, maps, unit, s)
        if own is not None:
            sides[i], moved = own, True
    corners = [crossing(sides[i - 1], sides[i]) for i in range(4)] if moved else []
    met = [c for c in corners if c is not None]
    return replace(inset, corners=np.array(met)) if len(met) == 4 else inset


def _on(host: np.ndarray, a: np.ndarray, b: np.ndarray, near: float) -> bool:
    """Whether at least two of three places along a side lie on the host's outline."""
    places = [a + (b - a) * share for share in (0.15, 0.5, 0.85)]
    away = [abs(cv2.pointPolygonTest(host, (float(x), float(y)), True)) for x, y in places]
    return sorted(away)[1] < near


def _own_side(
    a: np.ndarray, b: np.ndarray, deepest: float, line_maps: Sequence[LineMap],
    maps: LearnedMaps, unit: float, s: InsetSideSettings,
) -> tuple[np.ndarray, np.ndarray] | None:  # fmt: skip
    """Ends of the line further in that is the inset's own side; None where none is seen."""
    depths = np.arange(s.nearest * unit, deepest, s.step * unit)
    if not len(depths):
        return None
    tilts = np.arange(-s.most_tilt, s.most_tilt + 0.01, 1.0) * unit
    depth, tilt = (g.ravel() for g in np.meshgrid(depths, tilts, indexing="ij"))
    run = b - a
    inward = np.array([-run[1], run[0]]) / max(float(np.hypot(*run)), 1e-9)
    share = np.linspace(0.12, 0.88, 48)
    off = depth[:, None] + tilt[:, None] * (share - 0.5)
    x, y = (a[k] + share * run[k] + off * inward[k] for k in (0, 1))
    odds = look_up_at(maps.border, x * maps.scale, y * maps.scale)
    back = s.rise * unit * inward
    before = look_up_at(maps.border, (x - back[0]) * maps.scale, (y - back[1]) * maps.scale)
    peak, other = (np.clip(o, -s.most_odds, s.most_odds).mean(axis=1) for o in (odds, before))
    bordered = (odds > 0).mean(axis=1) >= s.least_border
    best: tuple[float, int] | None = None
    for line_map in line_maps:
        seen = (look_up_at(line_map.strength, x, y) >= line_map.settings.least_contrast).mean(
            axis=1
        )
        # A light line may be what shows between the host's border and anything.
        able = bordered & (seen >= s.least_line) & (line_map.dark | (peak >= other))
        worth = seen + peak / s.most_odds + s.dark_gain * line_map.dark
        worth = np.where(able, worth - s.tilt_cost * np.abs(tilt) / unit, -np.inf)
        k = int(np.argmax(worth))
        if able[k] and (best is None or worth[k] > best[0]):
            best = float(worth[k]), k
    if best is None:
        return None
    way, turn = depth[best[1]] * inward, tilt[best[1]] / 2 * inward
    return a + way - turn, b + way + turn
