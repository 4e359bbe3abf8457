"""How far the net's votes are for a candidate, and what that is worth.

Votes also tell which of two panels that overlap lies in front.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.learned import WAYS, Votes


@dataclass(frozen=True, slots=True)
class WeightSettings:
    """What votes are worth; lengths in thousandths of the page's long side.

    Parameters
    ----------
    part_cost : float
        What a vote for a smaller panel inside counts, where others count -1.
    vote_gain : float
        Gain of a panel that all votes inside are for, in page lengths for a whole page length
        of outline.
    least_voted : float
        Frames that came from votes alone and are agreed on less are none.
    sure, hidden_gain : float
        From this agreement on, a side without any line costs less by ``hidden_gain``.
    least_closed, most_parted : float
        Least agreement of a frame that is seen closed all round, unless this share of its
        places votes for parts of it: those share a line that hardly shows.
    least_held, least_rest : float
        Of two panels that overlap, share of the front one's places that must vote for it, and
        of the back one's where only it lies.
    most_covered : float
        Share of a panel that another may cover.
    least_spread, no_idea, most_odds : float
        Least spread that a vote is taken to have, spread of one that knows nothing, and
        log-odds at which it counts in full.
    """

    part_cost: float = 0.1
    least_spread: float = 4.0
    no_idea: float = 60.0
    most_odds: float = 2.0
    vote_gain: float = 0.7
    least_voted: float = 0.0
    sure: float = 0.1
    hidden_gain: float = 1.0
    least_closed: float = 0.5
    most_parted: float = 0.4
    least_held: float = 0.5
    least_rest: float = 0.25
    most_covered: float = 0.55


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

    def parted(self, k: int) -> float:
        """Share of the places in candidate ``k`` that vote for candidates that are parts of it."""
        mine = self.inside[k]
        whole = max(int(np.count_nonzero(mine)), 1)
        common = np.count_nonzero(self.inside & mine, axis=1)
        sizes = np.maximum(np.count_nonzero(self.inside, axis=1), 1)
        parts = (common >= 0.9 * sizes) & (common <= 0.9 * whole)
        best = self.fits[parts][:, mine].max(axis=0, initial=-1.0)
        return float(np.count_nonzero(best > 0) / whole)

    @property
    def mean(self) -> np.ndarray:
        """Mean agreement of the places in each candidate, -1 to 1, shape (C,)."""
        return np.asarray(self.fits.sum(axis=1) / np.maximum(self.inside.sum(axis=1), 4))


def agreement(
    candidates: list[Candidate], votes: Votes, unit: float, settings: WeightSettings | None = None
) -> Agreement:
    """How far the votes in each candidate are votes for it.

    Parameters
    ----------
    candidates : list of Candidate
    votes : Votes
    unit : float
        Working pixels in a thousandth of the long side.
    settings : WeightSettings or None
    """
    s = settings or WeightSettings()
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
    settings: WeightSettings | None = None,
) -> list[Candidate]:
    """Candidates with what the votes say added to their gain.

    Votes speak no worse than ``least_closed`` of a frame that is seen closed all round.
    """
    s = settings or WeightSettings()
    weighed = []
    for k, (candidate, sure, said) in enumerate(zip(candidates, closed, agreed.mean, strict=True)):
        mean = float(said)
        if sure and mean < s.least_closed and agreed.parted(k) < s.most_parted:
            mean = s.least_closed
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
    candidates: list[Candidate], agreed: Agreement, settings: WeightSettings | None = None
) -> np.ndarray:
    """Pairs of candidates of which one may lie in front of the other, bool of shape (C, C).

    The places of the front one vote for it, also where the other lies beneath, and the rest
    of the other's places vote for that one.
    """
    s = settings or WeightSettings()
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
