"""Panels that the net's votes agree on, and how far votes agree with any candidate."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.cuts import look_up_at
from panelscan.vision.learned import WAYS, LearnedMaps, Votes
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
    least_spread, no_idea, most_odds : float
        Least spread that a vote is taken to have, spread of one that knows nothing, and
        log-odds at which it counts in full.
    part_cost : float
        What a vote for a smaller panel inside counts, where others count -1.
    vote_gain : float
        Gain of a panel that all votes inside are for, in page lengths for a whole page length
        of outline.
    least_voted : float
        Frames that came from votes alone and are agreed on less are none.
    sure, hidden_gain : float
        From this agreement on, a side without any line costs less by ``hidden_gain``.
    least_closed : float
        Least agreement of a frame that is seen closed all round.
    least_held, least_rest : float
        Of two panels that overlap, share of the front one's places that must vote for it, and
        of the back one's where only it lies.
    most_covered : float
        Share of a panel that another may cover.
    """

    near: float = 9.0
    near_share: float = 0.035
    least_votes: int = 8
    most_panels: int = 60
    snap: float = 9.0
    line_near: float = 6.0
    pull: float = 0.02
    part_cost: float = 0.1
    least_spread: float = 4.0
    no_idea: float = 60.0
    most_odds: float = 2.0
    vote_gain: float = 0.7
    least_voted: float = 0.0
    sure: float = 0.1
    hidden_gain: float = 1.0
    least_closed: float = 0.5
    least_held: float = 0.5
    least_rest: float = 0.25
    most_covered: float = 0.55


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
    """Frame of a group of votes: their weighted median corners, snapped to seen borders."""
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
    corners = [_crossing(lines[i - 1], lines[i]) for i in range(len(lines))]
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
    corners = [_crossing(sides[i - 1], sides[i]) for i in range(len(sides))]
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


def _crossing(
    one: tuple[np.ndarray, np.ndarray], other: tuple[np.ndarray, np.ndarray]
) -> np.ndarray | None:
    u, v = one[1] - one[0], other[1] - other[0]
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.05 * float(np.hypot(*u) * np.hypot(*v)):
        return None
    off = other[0] - one[0]
    return np.asarray(one[0] + u * ((off[0] * v[1] - off[1] * v[0]) / cross))


@dataclass(frozen=True, eq=False)
class Agreement:
    """Which places lie in each candidate, and which of those vote for it.

    Parameters
    ----------
    inside : ndarray of bool, shape (C, K)
    fits : ndarray of float32, shape (C, K)
        1 full agreement to -1, 0 outside of the candidate.
    """

    inside: np.ndarray
    fits: np.ndarray

    def of(self, kept: list[int]) -> Agreement:
        """The same for some of the candidates."""
        return Agreement(self.inside[kept], self.fits[kept])

    def disputed(self, chosen: list[int]) -> float:
        """Share of the places that vote for none of some candidates."""
        if not self.fits.shape[1]:
            return 0.0
        best = self.fits[chosen].max(axis=0, initial=-1.0)
        return float((best <= 0).mean())

    @property
    def mean(self) -> np.ndarray:
        """Mean agreement of the places in each candidate, -1 to 1, shape (C,)."""
        return np.asarray(self.fits.sum(axis=1) / np.maximum(self.inside.sum(axis=1), 4))


def agreement(
    candidates: list[Candidate], votes: Votes, unit: float, settings: VoteSettings | None = None
) -> Agreement:
    """How far the votes in each candidate are votes for it.

    Parameters
    ----------
    candidates : list of Candidate
    votes : Votes
    unit : float
        Working pixels in a thousandth of the long side.
    settings : VoteSettings or None
    """
    s = settings or VoteSettings()
    count = len(votes.places)
    inside = np.zeros((len(candidates), count), dtype=bool)
    fits = np.zeros((len(candidates), count), dtype=np.float32)
    if not count:
        return Agreement(inside, fits)
    cell = votes.cell
    # Directions first: numpy finds the least along the first axis several times faster.
    all_reach = np.ascontiguousarray(votes.reach.T)
    all_spread = np.ascontiguousarray(votes.spread.T) + s.least_spread * unit
    unsure = np.log(s.no_idea * unit / all_spread)
    grid = np.floor(votes.places / cell).astype(np.intp)
    rows, columns = int(grid[:, 1].max()) + 1, int(grid[:, 0].max()) + 1
    for k, candidate in enumerate(candidates):
        stencil = np.zeros((rows, columns), np.uint8)
        ring = np.round((candidate.corners / cell - 0.6) * 16).astype(np.int32)
        cv2.fillPoly(stencil, [ring], 1, cv2.LINE_8, 4)
        mine = np.flatnonzero(stencil[grid[:, 1], grid[:, 0]])
        inside[k, mine] = True
        reach = (candidate.corners @ WAYS.T).max(axis=0)
        theirs = all_reach.take(mine, axis=1)
        # Log-likelihood of the worst side against knowing nothing of it.
        away = np.abs(theirs - reach[:, None]) / all_spread.take(mine, axis=1)
        odds = (unsure.take(mine, axis=1) - away).min(axis=0)
        fit = np.clip(odds / s.most_odds, -1.0, 1.0)
        # A vote for something smaller inside speaks less against its host.
        part = (theirs[:4] <= reach[:4, None] + 4 * unit).all(axis=0)
        fits[k, mine] = np.where(part, np.maximum(fit, -s.part_cost), fit)
    return Agreement(inside, fits)


def with_votes(
    candidates: list[Candidate],
    agreed: Agreement,
    long_side: float,
    closed: list[bool],
    settings: VoteSettings | None = None,
) -> list[Candidate]:
    """Candidates with what the votes say added to their gain.

    Votes speak no worse than ``least_closed`` of a frame that is seen closed all round.
    """
    s = settings or VoteSettings()
    weighed = []
    for candidate, sure, said in zip(candidates, closed, agreed.mean, strict=True):
        mean = max(float(said), s.least_closed) if sure else float(said)
        gain = candidate.gain + s.vote_gain * candidate.perimeter / long_side * float(mean)
        if mean >= s.sure:
            # Where the net is sure, a side that shows no line costs less: insets lie on art.
            blocked = sum(side.blocked * side.length for side in candidate.sides)
            gain += s.hidden_gain * blocked / long_side
        if candidate.source == "votes" and mean < s.least_voted:
            # A few strays that agree with one another; those around them do not.
            gain = min(gain, 0.0)
        weighed.append(replace(candidate, gain=gain, voted=float(mean)))
    return weighed


def stacked(
    candidates: list[Candidate], agreed: Agreement, settings: VoteSettings | None = None
) -> np.ndarray:
    """Pairs of candidates of which one may lie in front of the other, bool of shape (C, C).

    The places of the front one vote for it, also where the other lies beneath, and the rest
    of the other's places vote for that one.
    """
    s = settings or VoteSettings()
    inside = agreed.inside.astype(np.float32)
    votes = ((agreed.fits > 0) & agreed.inside).astype(np.float32)
    whole = inside.sum(axis=1)
    common = inside @ inside.T
    mine = votes @ inside.T
    held = votes.sum(axis=1) / np.maximum(whole, 1)
    # [front, back]: front's votes where both lie, back's votes where only it lies.
    over = mine / np.maximum(common, 1)
    alone = (votes.sum(axis=1)[None] - mine.T) / np.maximum(whole[None] - common, 1)
    fits = (held[:, None] >= s.least_held) & (over >= s.least_held) & (alone >= s.least_rest)
    fits &= common <= s.most_covered * whole[None]
    return np.asarray(fits | fits.T)
