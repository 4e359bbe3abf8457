"""Which candidates make up the page: the consistent set with the most evidence.

A 0/1 programme: choose candidates so that no two chosen ones conflict and the sum of their
gains is greatest. Pages have few enough candidates for an exact depth-first search with a
bound (branch and bound, Land and Doig 1960, doi:10.2307/1910129), connected component by
connected component of the conflict graph; the best few sets are kept.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from itertools import count

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
    merged = [ChosenSet((), 0.0)]
    for group in _groups(useful, conflict):
        options = _search(group, gains, conflict, s)
        pairs = [
            ChosenSet(tuple(sorted(a.chosen + b.chosen)), a.gain + b.gain)
            for a in merged
            for b in options
        ]
        merged = sorted(pairs, key=lambda c: (-c.gain, c.chosen))[: s.sets_kept]
    return merged


def _groups(useful: list[int], conflict: np.ndarray) -> list[list[int]]:
    """Connected components of the conflict graph."""
    left = set(useful)
    groups = []
    for seed in useful:
        if seed not in left:
            continue
        left.discard(seed)
        group, waiting = [], [seed]
        while waiting:
            k = waiting.pop()
            group.append(k)
            near = [j for j in left if conflict[k, j]]
            left.difference_update(near)
            waiting.extend(sorted(near))
        groups.append(sorted(group, key=useful.index))
    return groups


# Bound (negative), running number, chosen so far, their gain, what is still free.
_Node = tuple[float, int, tuple[int, ...], float, np.ndarray]


def _search(
    group: list[int], gains: np.ndarray, conflict: np.ndarray, s: SelectionSettings
) -> list[ChosenSet]:
    """Best sets within one component, by best-first branch and bound."""
    index = np.array(group)
    worth = gains[index]
    clash = conflict[np.ix_(index, index)]
    order = count()
    everything = np.ones(len(group), dtype=bool)
    heap: list[_Node] = [(-_bound(worth, clash, everything), next(order), (), 0.0, everything)]
    found: list[ChosenSet] = []
    steps = 0
    while heap and len(found) < s.sets_kept and steps < s.most_steps:
        steps += 1
        _, _, chosen, gain, free = heapq.heappop(heap)
        if not free.any():
            found.append(ChosenSet(tuple(int(index[k]) for k in chosen), gain))
            continue
        # Branch on the free candidate in most conflicts: it decides most.
        degree = np.where(free, (clash & free).sum(axis=1), -1)
        k = int(np.argmax(degree + 1e-6 * worth))
        with_k = free & ~clash[k]
        with_k[k] = False
        without = free.copy()
        without[k] = False
        for picked, value, rest in (
            ((*chosen, k), gain + float(worth[k]), with_k),
            (chosen, gain, without),
        ):
            bound = value + _bound(worth, clash, rest)
            heapq.heappush(heap, (-bound, next(order), picked, value, rest))
    return found or [_greedy(group, gains, conflict)]


def _bound(worth: np.ndarray, clash: np.ndarray, free: np.ndarray) -> float:
    """Most that the free candidates can add: one of each clique of a greedy clique cover."""
    left = [int(k) for k in np.argsort(-worth, kind="stable") if free[k]]
    total = 0.0
    taken = np.zeros(len(worth), dtype=bool)
    for k in left:
        if taken[k]:
            continue
        total += float(worth[k])
        clique = [k]
        for j in left:
            if not taken[j] and j != k and all(clash[j, c] for c in clique):
                clique.append(j)
        taken[clique] = True
    return total


def _greedy(group: list[int], gains: np.ndarray, conflict: np.ndarray) -> ChosenSet:
    chosen: list[int] = []
    for k in group:
        if not any(conflict[k, j] for j in chosen):
            chosen.append(k)
    return ChosenSet(tuple(chosen), float(gains[chosen].sum()))
