"""Panels that the net's votes agree on, with their sides where borders were seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up_at
from panelscan.vision.learned import LearnedMaps, Votes
from panelscan.vision.segments import Lines


@dataclass(frozen=True, slots=True)
class VoteSettings:
    """When votes are taken to mean one panel; lengths in thousandths of the long side.

    Parameters
    ----------
    near, near_share : float
        Votes agree while no reach differs by more than ``near`` plus ``near_share`` of the
        panel's own extent.
    least_votes : int
        Fewer votes make no panel.
    most_panels : int
        No more panels are looked for.
    snap, pull : float
        How far a side looks for the border that the net saw, and what a move costs.
    line_near : float
        How far a side looks for a straight edge of the ground.
    """

    near: float = 9.0
    near_share: float = 0.035
    least_votes: int = 8
    most_panels: int = 60
    snap: float = 9.0
    line_near: float = 6.0
    pull: float = 0.02


def voted_candidates(
    maps: LearnedMaps, size: tuple[int, int], unit: float, settings: VoteSettings | None = None
) -> list[Candidate]:
    """Frames that many places vote for, their sides on the border that the net saw.

    Parameters
    ----------
    maps : LearnedMaps
    size : tuple of int
        Width and height of the working image.
    unit : float
        Working pixels in a thousandth of the long side.
    settings : VoteSettings or None

    Returns
    -------
    list of Candidate
        In working pixels, not yet weighed.
    """
    s = settings or VoteSettings()
    votes = maps.votes
    found = []
    # Surest first; those that found their panel are not asked again.
    free = np.argsort(votes.spread.max(axis=1), kind="stable")
    for _ in range(s.most_panels):
        if len(free) < s.least_votes:
            break
        reach = votes.reach[free]
        agree = _apart(reach, reach[0], unit, s) <= 1.0
        if np.count_nonzero(agree) >= s.least_votes:
            agree = _apart(reach, np.median(reach[agree], axis=0), unit, s) <= 1.0
        agree[0] = True
        group, free = free[agree], free[~agree]
        if len(group) >= s.least_votes:
            found.append(Candidate(_frame(votes, group, maps, size, unit, s), "votes"))
    return found


def _apart(reach: np.ndarray, other: np.ndarray, unit: float, s: VoteSettings) -> np.ndarray:
    """Greatest difference of reaches, in tolerances, for the rows of ``reach``."""
    # Opposite directions are neighbours in the first four, two apart in the last four.
    opposite = other[..., [1, 0, 3, 2, 6, 7, 4, 5]]
    room = s.near * unit + s.near_share * (other + opposite)
    # Along the first of two axes numpy finds the greatest several times faster.
    return np.asarray(np.max(np.abs(reach - other).T / room[:, None], axis=0))


def _frame(
    votes: Votes, group: np.ndarray, maps: LearnedMaps, size: tuple[int, int], unit: float,
    s: VoteSettings,
) -> np.ndarray:  # fmt: skip
    """Frame of a group of votes: their median corners, snapped to seen borders."""
    corners = np.median(votes.corners[group], axis=0)
    left, right, top, bottom = np.median(votes.reach[group][:, :4], axis=0) * (-1, 1, -1, 1)
    box = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    # Reaches are the surer word where the panel is upright.
    if np.abs(box - corners).max() <= s.near * unit:
        corners = box
    return snapped(corners, maps, size, s.snap * unit, s.pull)


def snapped(
    ring: np.ndarray, maps: LearnedMaps, size: tuple[int, int], reach: float, pull: float
) -> np.ndarray:
    """Frame with each side moved to where the net saw most of a border.

    Parameters
    ----------
    ring : ndarray of float64, shape (4, 2)
    maps : LearnedMaps
    size : tuple of int
    reach : float
        How far an end of a side may move, in working pixels.
    pull : float
        What an end's move costs, in log-odds for a working pixel.
    """
    lines = []
    border = np.clip(maps.border, -3, 3)
    limit = np.array(size, dtype=np.float64)
    shifts = np.arange(-reach, reach + 1e-6, 1.0 / maps.scale / 2)
    first, second = (g.ravel() for g in np.meshgrid(shifts, shifts, indexing="ij"))
    share = (np.arange(28) + 0.5) / 28
    cost = pull * (np.abs(first) + np.abs(second))
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        run = b - a
        length = max(float(np.hypot(*run)), 1e-9)
        outward = np.array([run[1], -run[0]]) / length
        at_edge = _on_edge(a, b, outward, limit, 3.0 / maps.scale)
        if at_edge or length < 2 * reach:
            lines.append((a, b))
            continue
        odds = _odds_along(border, maps.scale, a, run, outward, share, first, second)
        best = int(np.argmax(odds - cost))
        lines.append((a + first[best] * outward, b + second[best] * outward))
    corners = [crossing(lines[i - 1], lines[i]) for i in range(len(lines))]
    if any(c is None for c in corners):
        return ring
    return np.asarray(np.clip(np.array(corners), 0, limit))


def on_lines(
    ring: np.ndarray, lines: Lines, unit: float, settings: VoteSettings | None = None
) -> np.ndarray | None:
    """Frame with its sides on straight edges of the ground close by; None where none is.

    The net sees a border to a pixel or two of its own; the edge of the art is seen finer.
    """
    s = settings or VoteSettings()
    if not len(lines):
        return None
    sides = []
    moved = False
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        outward = np.array([along[1], -along[0]])
        off = [np.abs(((p - lines.point) * lines.outward).sum(axis=1)) for p in (a, b)]
        far = np.maximum(*off) + np.where(lines.outward @ outward > 0.99, 0.0, np.inf)
        best = int(np.argmin(far))
        if far[best] > s.line_near * unit:
            sides.append((a, b))
            continue
        moved = True
        normal = lines.outward[best]
        sides.append(tuple(p - ((p - lines.point[best]) @ normal) * normal for p in (a, b)))
    corners = [crossing(sides[i - 1], sides[i]) for i in range(len(sides))]
    return np.array(corners) if moved and all(c is not None for c in corners) else None


def _odds_along(
    border: np.ndarray, scale: float, start: np.ndarray, run: np.ndarray, outward: np.ndarray,
    share: np.ndarray, first: np.ndarray, second: np.ndarray,
) -> np.ndarray:  # fmt: skip
    """Mean border log-odds, cut off, along a side for each pair of moves of its ends."""
    moved = first[:, None] * (1 - share) + second[:, None] * share
    x = (start[0] + share * run[0] + moved * outward[0]) * scale
    y = (start[1] + share * run[1] + moved * outward[1]) * scale
    return np.asarray(look_up_at(border, x, y).mean(axis=1))


def _on_edge(
    a: np.ndarray, b: np.ndarray, outward: np.ndarray, limit: np.ndarray, room: float
) -> bool:
    """Whether a side runs along the page's own edge."""
    for axis in (0, 1):
        if abs(outward[axis]) > 0.7:
            edge = limit[axis] if outward[axis] > 0 else 0.0
            if max(abs(a[axis] - edge), abs(b[axis] - edge)) <= room:
                return True
    return False


def crossing(
    one: tuple[np.ndarray, np.ndarray], other: tuple[np.ndarray, np.ndarray]
) -> np.ndarray | None:
    """Where the lines through two pairs of points meet; None where they are next to parallel."""
    u, v = one[1] - one[0], other[1] - other[0]
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.05 * float(np.hypot(*u) * np.hypot(*v)):
        return None
    off = other[0] - one[0]
    return np.asarray(one[0] + u * ((off[0] * v[1] - off[1] * v[0]) / cross))
