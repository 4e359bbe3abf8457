"""Which candidates make up the page: the consistent set with the most evidence.

A 0/1 programme: choose candidates so that no two chosen ones conflict and the sum of their
gains is greatest (a maximum weight independent set of the conflict graph). Candidates on a
page conflict only where they overlap, so once the large ones are decided the rest falls apart
into small groups: deciding the candidate in most conflicts first, and solving each connected
group by itself, is exact and quick. The best few sets are kept, not only the best.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class SelectionSettings:
    """How much to search and to keep."""

    sets_kept: int = 5
    most_steps: int = 20000


@dataclass(frozen=True, slots=True)
class ChosenSet:
    """Indices of the chosen candidates and the sum of their gains."""

    chosen: tuple[int, ...]
    gain: float


def best_sets(
    gains: np.ndarray, conflict: np.ndarray, settings: SelectionSettings | None = None
) -> list[ChosenSet]:
    """Best consistent sets of candidates, best first.

    Parameters
    ----------
    gains : ndarray of float64, shape (K,)
        Gain of each candidate; only those above 0 can be chosen.
    conflict : ndarray of bool, shape (K, K)
        True where two candidates cannot both be chosen.
    settings : SelectionSettings or None

    Returns
    -------
    list of ChosenSet
        Up to ``sets_kept`` different sets; the empty set if nothing gains.

    Examples
    --------
    >>> gains = np.array([3.0, 2.0, 2.0])
    >>> conflict = np.array([[0, 1, 1], [1, 0, 0], [1, 0, 0]], dtype=bool)
    >>> [(s.chosen, s.gain) for s in best_sets(gains, conflict)][:2]
    [((1, 2), 4.0), ((0,), 3.0)]
    """
    s = settings or SelectionSettings()
    useful = [int(k) for k in np.argsort(-gains, kind="stable") if gains[k] > 0]
    search = _Search(
        [float(gains[k]) for k in useful],
        [sum(1 << j for j, other in enumerate(useful) if conflict[k, other]) for k in useful],
        s,
    )
    return [
        ChosenSet(tuple(sorted(useful[k] for k in chosen)), gain)
        for gain, chosen in search.best((1 << len(useful)) - 1)
    ]


_Option = tuple[float, tuple[int, ...]]


class _Search:
    """Best sets among the candidates of a bit mask; candidates are sorted by falling gain."""

    def __init__(self, worth: list[float], near: list[int], s: SelectionSettings) -> None:
        self.worth, self.near, self.s = worth, near, s
        self.known: dict[int, list[_Option]] = {}

    def best(self, free: int) -> list[_Option]:
        """Best sets of the free candidates: gain and members, best first."""
        if not free:
            return [(0.0, ())]
        if free in self.known:
            return self.known[free]
        if len(self.known) >= self.s.most_steps:
            return [self._greedy(free)]
        options: list[_Option] = [(0.0, ())]
        groups = self._groups(free)
        if len(groups) == 1:
            options = self._decided(free)
        else:
            for group in groups:
                each = self.best(group)
                options = self._kept([(a + b, p + q) for a, p in options for b, q in each])
        self.known[free] = options
        return options

    def _decided(self, free: int) -> list[_Option]:
        """Sets with and without the candidate that is in most conflicts."""
        members = _bits(free)
        k = max(members, key=lambda m: ((self.near[m] & free).bit_count(), -m))
        rest = free & ~(1 << k)
        taken = [(gain + self.worth[k], (*p, k)) for gain, p in self.best(rest & ~self.near[k])]
        return self._kept(taken + self.best(rest))

    def _kept(self, options: list[_Option]) -> list[_Option]:
        return sorted(options, key=lambda o: (-o[0], sorted(o[1])))[: self.s.sets_kept]

    def _groups(self, free: int) -> list[int]:
        """Connected groups of the conflict graph among the free candidates."""
        groups = []
        while free:
            group = waiting = free & -free
            while waiting:
                low = waiting & -waiting
                waiting ^= low
                fresh = self.near[low.bit_length() - 1] & free & ~group
                group |= fresh
                waiting |= fresh
            groups.append(group)
            free &= ~group
        return groups

    def _greedy(self, free: int) -> _Option:
        gain, chosen = 0.0, []
        while free:
            k = (free & -free).bit_length() - 1
            gain += self.worth[k]
            chosen.append(k)
            free &= ~self.near[k] & ~(1 << k)
        return gain, tuple(chosen)


def _bits(mask: int) -> list[int]:
    return [k for k in range(mask.bit_length()) if mask >> k & 1]
