"""Panels that lie on another: what may be an inset, and those that borders enclose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from shapely import Polygon

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up


@dataclass(frozen=True, slots=True)
class InsetSettings:
    """What an inset is; lengths in thousandths of the page's long side.

    Parameters
    ----------
    least_gain : float
        What it must have gained by itself.
    most_share : float
        Share of its host that it may take.
    inside : float
        Share of it that lies on its host.
    most_open : float
        Share of its outline that may have a gutter or a margin beside it.
    held : float
        Share of a side with a wall, from which on the side counts as seen.
    same_side : float
        A side so near to its host's is the host's.
    most_overlap : float
        Share of the smaller of two panels that both may cover without meeting.
    bordered, partly_bordered : float
        Share of each side along which the net sees a border, for an inset on that alone; less
        where its votes are not against it.
    least_voted : float
        Agreement from which on they are not.
    most_stray : float
        Like ``most_open``, for such an inset.
    corner_share : float
        Share of its host that such an inset may take in a corner of it.
    """

    least_gain: float = 0.18
    most_share: float = 0.5
    inside: float = 0.6
    most_open: float = 0.2
    held: float = 0.45
    same_side: float = 6.0
    most_overlap: float = 0.12
    bordered: float = 0.97
    partly_bordered: float = 0.75
    least_voted: float = -0.1
    most_stray: float = 0.45
    corner_share: float = 0.25


def may_be_inset(
    small: Candidate, large: Candidate, share: float, unit: float, s: InsetSettings
) -> bool:
    """Whether a panel may lie in (or on) another without being a part of it.

    It must have gained by itself and share none of the other's sides.

    Parameters
    ----------
    small, large : Candidate
    share : float
        Area of the one in shares of the other's.
    unit : float
        Working pixels in a thousandth of the long side.
    s : InsetSettings
    """
    seen = small.by_net or small.source == "lined"
    if share > s.most_share or small.gain < s.least_gain or not seen:
        return False
    held = sum(side.wall + side.shared >= s.held for side in small.sides)
    return held >= 3 and not any(_on_outline(small, large, s.same_side * unit))


def enclosed_insets(
    candidates: list[Candidate],
    chosen: Sequence[int],
    open_ground: np.ndarray,
    unit: float,
    settings: InsetSettings | None = None,
) -> list[int]:
    """Candidates that borders enclose and that lie on one chosen panel.

    The net's votes, which miss small panels, are not asked.

    Parameters
    ----------
    candidates : list of Candidate
    chosen : sequence of int
        The panels.
    open_ground : ndarray of uint8, shape (M, N)
        Ground open to the page's edge.
    unit : float
        Working pixels in a thousandth of the long side.
    settings : InsetSettings or None

    Returns
    -------
    list of int
        Places among the candidates, strongest first.
    """
    s = settings or InsetSettings()
    panels = [candidates[k] for k in chosen]
    found: list[int] = []
    able = [
        k
        for k, c in enumerate(candidates)
        if c.source == "enclosed"
        and c.bordered >= (s.bordered if c.voted < s.least_voted else s.partly_bordered)
        and k not in chosen
    ]
    for k in sorted(able, key=lambda k: -candidates[k].gain):
        host = _only_host(candidates[k], panels, s)
        if host is None or not _fits_in(candidates[k], host, unit, s):
            continue
        if beside_ground(candidates[k], open_ground, unit) <= s.most_stray:
            found.append(k)
            panels.append(candidates[k])
    return found


def _only_host(small: Candidate, panels: list[Candidate], s: InsetSettings) -> Candidate | None:
    """The one panel that a candidate meets, if it lies on that one."""
    ring = small.corners.astype(np.float32)
    area = cv2.contourArea(ring)
    hosts = []
    for panel in panels:
        other = panel.corners.astype(np.float32)
        common = common_area(ring, other)
        if common > s.most_overlap * min(area, cv2.contourArea(other)):
            hosts.append((panel, common))
    return hosts[0][0] if len(hosts) == 1 and hosts[0][1] >= s.inside * area else None


def _fits_in(small: Candidate, host: Candidate, unit: float, s: InsetSettings) -> bool:
    """Whether a panel is no part of its host: it may lie in a corner, but not span it."""
    share = cv2.contourArea(small.corners.astype(np.float32)) / max(
        cv2.contourArea(host.corners.astype(np.float32)), 1.0
    )
    on = _on_outline(small, host, s.same_side * unit)
    spans = any(on[i] and on[i + 2] for i in range(len(on) - 2))
    return not spans and share <= (s.corner_share if any(on) else s.most_share)


def _on_outline(small: Candidate, large: Candidate, near: float) -> list[bool]:
    """Which sides of the one lie along the outline of the other."""
    found = []
    ring = large.corners.astype(np.float32)
    start, end = large.corners, np.roll(large.corners, -1, axis=0)
    for a, b in zip(small.corners, np.roll(small.corners, -1, axis=0), strict=True):
        along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        normal = np.array([-along[1], along[0]])
        on = (np.abs((start - a) @ normal) < near) & (np.abs((end - a) @ normal) < near)
        places = [a + (b - a) * at for at in (0.2, 0.5, 0.8)]
        away = [abs(cv2.pointPolygonTest(ring, (float(x), float(y)), True)) for x, y in places]
        found.append(bool(on.any() or sorted(away)[1] < near))
    return found


def beside_ground(candidate: Candidate, open_ground: np.ndarray, unit: float) -> float:
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


def common_area(a: np.ndarray, b: np.ndarray) -> float:
    """Area that two rings of shape (K, 2), float32, have in common."""
    if cv2.isContourConvex(a) and cv2.isContourConvex(b):
        return float(cv2.intersectConvexConvex(a, b)[0])
    return float(Polygon(a).buffer(0).intersection(Polygon(b).buffer(0)).area)
