"""Panels behind their insets, where the host's own sky or night looks like ground.

The insets then stand beside what is taken for open ground and look like panels on paper, and
the host is left out. A host shows by its own borders and by what the net sees of the rest of
it. That the whole page is one shows at its edges: on paper the net sees ground there, all the
way round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.insets import common_area
from panelscan.vision.learned import LearnedMaps
from panelscan.vision.selection import ChosenSet


@dataclass(frozen=True, slots=True)
class SplashSettings:
    """When the whole page lies behind the chosen panels.

    Parameters
    ----------
    least_share : float
        Share of the page that its frame takes.
    least_gain : float
        What the frame must have gained by itself, in page lengths.
    most_covered : float
        Share of the page that the panels in front may cover.
    rim_share : float
        Width of the page's rim in shares of its long side.
    least_rim, least_inside : float
        Share of what the panels leave of the rim that is no ground, and of the page that is a
        panel's inside.
    bordered : float
        Panels in front that show less of a border on their weakest side are parts of the
        picture: windows, or patches of its sky.
    """

    least_share: float = 0.95
    least_gain: float = 0.5
    most_covered: float = 0.5
    rim_share: float = 0.02
    least_rim: float = 0.9
    least_inside: float = 0.8
    bordered: float = 0.5


@dataclass(frozen=True, slots=True)
class HostSettings:
    """When a frame lies beneath chosen panels.

    Parameters
    ----------
    least_gain : float
        What it must have gained by itself, in page lengths.
    seen : float
        Least share of its weakest side with a border, and of all of it with a wall.
    most_overlap : float
        Share of the smaller of two panels that both may cover without meeting.
    least_within : float
        Share of a panel in front that lies in the frame.
    most_share : float
        Share of the frame that one panel in front, and all of them, may take.
    least_inside : float
        Share of what they leave that the net takes for a panel's inside.
    """

    least_gain: float = 0.5
    seen: float = 0.65
    most_overlap: float = 0.12
    least_within: float = 0.6
    most_share: float = 0.5
    least_inside: float = 0.8


def behind_insets(
    sets: Sequence[ChosenSet], candidates: Sequence[Candidate], maps: LearnedMaps
) -> list[ChosenSet]:
    """Sets of panels with pages and frames that lie behind others; each once, best first.

    Parameters
    ----------
    sets : sequence of ChosenSet
        Best first.
    candidates : sequence of Candidate
        Weighed.
    maps : LearnedMaps
        What the net says of the page.
    """
    found: dict[tuple[int, ...], ChosenSet] = {}
    for each in sets:
        whole = with_hosts_behind(with_splash(each, candidates, maps), candidates, maps)
        # Sets that differ in windows of the picture alone are one once the picture is found.
        found.setdefault(whole.chosen, whole)
    return sorted(found.values(), key=lambda s: -s.gain)


def with_splash(
    found: ChosenSet,
    candidates: Sequence[Candidate],
    maps: LearnedMaps,
    settings: SplashSettings | None = None,
) -> ChosenSet:
    """Set of panels, with the whole page beneath them where it is one too.

    Parameters
    ----------
    found : ChosenSet
    candidates : sequence of Candidate
        Weighed.
    maps : LearnedMaps
        What the net says of the page.
    settings : SplashSettings or None

    Returns
    -------
    ChosenSet
    """
    s = settings or SplashSettings()
    rows, columns = maps.inside.shape
    size = rows * columns / maps.scale**2
    whole = [k for k, c in enumerate(candidates) if _area(c) >= s.least_share * size]
    page = max(whole, key=lambda k: candidates[k].gain, default=None)
    if page is None or set(whole) & set(found.chosen) or candidates[page].gain < s.least_gain:
        return found
    front = [k for k in found.chosen if candidates[k].bordered >= s.bordered]
    rest = np.ones((rows, columns), np.uint8)
    _fill(rest, [candidates[k] for k in front], maps.scale, 0)
    if not front or 1 - rest.mean() > s.most_covered or not _fills(rest > 0, maps, s):
        return found
    gain = found.gain + candidates[page].gain
    gain -= sum(candidates[k].gain for k in found.chosen if k not in front)
    return ChosenSet(tuple(sorted((*front, page))), gain)


def with_hosts_behind(
    found: ChosenSet,
    candidates: Sequence[Candidate],
    maps: LearnedMaps,
    settings: HostSettings | None = None,
) -> ChosenSet:
    """Set of panels, with those that lie beneath others of it and were left out.

    Parameters
    ----------
    found : ChosenSet
    candidates : sequence of Candidate
        Weighed.
    maps : LearnedMaps
        What the net says of the page.
    settings : HostSettings or None

    Returns
    -------
    ChosenSet
    """
    s = settings or HostSettings()
    able = [
        k
        for k, c in enumerate(candidates)
        if k not in found.chosen
        and len(c.corners) == 4
        and min(c.bordered, c.walled) >= s.seen
        and c.gain >= s.least_gain
    ]
    chosen, gain = list(found.chosen), found.gain
    for k in sorted(able, key=lambda k: -candidates[k].gain):
        if _lies_beneath(candidates[k], [candidates[j] for j in chosen], maps, s):
            chosen.append(k)
            gain += candidates[k].gain
    return ChosenSet(tuple(sorted(chosen)), gain)


def _lies_beneath(
    host: Candidate, panels: list[Candidate], maps: LearnedMaps, s: HostSettings
) -> bool:
    """Whether some panels lie in a frame and leave most of it, all of it a panel's inside."""
    ring, area = host.corners.astype(np.float32), _area(host)
    fronts = []
    for panel in panels:
        common, own = common_area(panel.corners.astype(np.float32), ring), _area(panel)
        if common <= s.most_overlap * min(own, area):
            continue
        if common < s.least_within * own or own > s.most_share * area:
            return False
        fronts.append(panel)
    rest = np.zeros(maps.inside.shape, np.uint8)
    _fill(rest, [host], maps.scale, 1)
    whole = np.count_nonzero(rest)
    _fill(rest, fronts, maps.scale, 0)
    left = np.count_nonzero(rest)
    if not fronts or left < (1 - s.most_share) * whole:
        return False
    return bool(np.count_nonzero((rest > 0) & (maps.inside > 0)) >= s.least_inside * left)


def _fills(rest: np.ndarray, maps: LearnedMaps, s: SplashSettings) -> bool:
    """Whether what the panels leave of the page is a picture up to the page's edges."""
    width = max(2, round(s.rim_share * max(rest.shape)))
    rim = rest.copy()
    rim[width:-width, width:-width] = False
    art = np.count_nonzero(rim & (maps.ground < 0)) >= s.least_rim * np.count_nonzero(rim)
    inside = np.count_nonzero(rest & (maps.inside > 0))
    return bool(art and rim.any() and inside >= s.least_inside * np.count_nonzero(rest))


def _fill(mask: np.ndarray, panels: Sequence[Candidate], scale: float, value: int) -> None:
    """Fill panels in a mask of the maps' size, in place."""
    for panel in panels:
        cv2.fillPoly(mask, [np.round(panel.corners * scale).astype(np.int32)], value)


def _area(candidate: Candidate) -> float:
    return cv2.contourArea(candidate.corners.astype(np.float32))
