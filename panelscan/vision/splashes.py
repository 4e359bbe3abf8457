"""A picture that fills the page behind its insets, where its own sky or night looks like ground.

The insets then stand beside what is taken for open ground and look like panels on paper. That
the page is a panel shows at its edges: on paper the net sees ground there, all the way round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
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
    for k in front:
        cv2.fillPoly(rest, [np.round(candidates[k].corners * maps.scale).astype(np.int32)], 0)
    if not front or 1 - rest.mean() > s.most_covered or not _fills(rest > 0, maps, s):
        return found
    gain = found.gain + candidates[page].gain
    gain -= sum(candidates[k].gain for k in found.chosen if k not in front)
    return ChosenSet(tuple(sorted((*front, page))), gain)


def _fills(rest: np.ndarray, maps: LearnedMaps, s: SplashSettings) -> bool:
    """Whether what the panels leave of the page is a picture up to the page's edges."""
    width = max(2, round(s.rim_share * max(rest.shape)))
    rim = rest.copy()
    rim[width:-width, width:-width] = False
    art = np.count_nonzero(rim & (maps.ground < 0)) >= s.least_rim * np.count_nonzero(rim)
    inside = np.count_nonzero(rest & (maps.inside > 0))
    return bool(art and rim.any() and inside >= s.least_inside * np.count_nonzero(rest))


def _area(candidate: Candidate) -> float:
    return cv2.contourArea(candidate.corners.astype(np.float32))
