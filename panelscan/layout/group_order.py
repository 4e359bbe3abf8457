"""Exact best linear order of panels that no clean cut parts.

Each pair of panels has log odds for who comes first, from the same published shares as the
rest. The order with the greatest sum is found exactly by dynamic programming over subsets.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from panelscan.layout import clarity
from panelscan.layout.choices import KEPT, Options, Order

MOST_EXACT = 16
SURE = 4.0
LEVEL_START = 0.15
"""Panels whose starts differ by less than this share of the smaller one start level."""
TEMPER = 0.5
REACH = 3
"""Places by which a panel is moved to find the rivals of the best order."""


def pair_odds(boxes: np.ndarray) -> np.ndarray:
    """Log odds that panel i is read before panel j.

    Parameters
    ----------
    boxes : ndarray of float64, shape (N, 4)
        x_min, y_min, x_max, y_max; x grows in the direction of reading.

    Returns
    -------
    ndarray of float64, shape (N, N)
        Antisymmetric; positive where i tends to come first.

    Notes
    -----
    Where one panel is both higher and nearer it comes first. Where the higher one is
    farther along, it comes first if its row holds (the two hardly stand side by side) or
    if it stands over the other, and later the more the two are level.
    """
    low, size = boxes[:, :2], boxes[:, 2:] - boxes[:, :2]
    shared = np.minimum(boxes[:, None, 2:], boxes[None, :, 2:]) - np.maximum(low[:, None], low)
    mean = np.sqrt(np.maximum(size[:, None] * size[None], 1e-24))
    over, level = np.moveaxis(np.maximum(shared, 0.0) / mean, -1, 0)
    steps = low[None] - low[:, None]
    steps[np.abs(steps) <= LEVEL_START * np.minimum(size[:, None], size[None])] = 0.0
    middles = low + boxes[:, 2:]
    unmoved = (steps == 0).all(axis=2)
    steps[unmoved] = (middles[None] - middles[:, None])[unmoved]
    right, down = steps[..., 0], steps[..., 1]
    onward = np.copysign(SURE, np.where(np.abs(down) >= np.abs(right), down, right))
    # One is higher, the other nearer: the higher one first while its row holds.
    higher_first = clarity.rows_odds(np.minimum(level, 1.0)) + SURE * over - SURE * over * level
    odds = np.where(down * right >= 0, onward, np.copysign(1.0, down) * higher_first)
    upper = np.triu(odds, 1)
    result: np.ndarray = upper - upper.T
    return result


def best_orders(boxes: np.ndarray, group: tuple[int, ...]) -> Options:
    """Best order of a group and its likely rivals.

    Parameters
    ----------
    boxes : ndarray of float64, shape (N, 4)
        Boxes of all panels of the sheet.
    group : tuple of int
        At most `MOST_EXACT` panels.

    Returns
    -------
    tuple of (probability, order)
        The exact best first. The rivals are those one move of one panel away; their
        probabilities are relative odds, set to add up to one.
    """
    odds = pair_odds(boxes[list(group)])
    best = exact_order(odds)
    moves = _moves(odds[list(best)][:, list(best)].tolist())
    total = 1.0 + sum(weight for weight, _, _ in moves)
    # Only what can be among those kept is written out.
    least = sorted((weight for weight, _, _ in moves), reverse=True)[: KEPT - 1]
    rivals = [(w, _moved(best, at, to)) for w, at, to in moves if w >= least[-1] - 1e-8]
    ranked = sorted(
        [(1.0, best), *rivals], key=lambda rival: (-round(rival[0], 9), rival[1] != best, rival[1])
    )
    return tuple((w / total, tuple([group[k] for k in order])) for w, order in ranked[:KEPT])


def _moves(along: list[list[float]]) -> list[tuple[float, int, int]]:
    """Moves of one panel of an order by a few places: weight against the order, from, to.

    ``along`` holds the log odds of all pairs, in that order.
    """
    found = []
    for at, row in enumerate(along):
        for to in range(max(0, at - REACH), min(len(along) - 1, at + REACH) + 1):
            if to in (at, at - 1):  # one place back is the other panel's move forward
                continue
            passed = -sum(row[to:at]) if to < at else sum(row[at + 1 : to + 1])
            found.append((math.exp(-2 * TEMPER * passed), at, to))
    return found


def _moved(order: Order, at: int, to: int) -> Order:
    rest = order[:at] + order[at + 1 :]
    return (*rest[:to], order[at], *rest[to:])


def exact_order(odds: np.ndarray) -> Order:
    """Linear order with the greatest sum of log odds over all pairs.

    Parameters
    ----------
    odds : ndarray of float64, shape (N, N)
        Antisymmetric; N at most `MOST_EXACT`.

    Returns
    -------
    tuple of int
        Ties go to the order that is first by index.

    Notes
    -----
    Where every panel of one set comes before every panel of another by its odds, the best
    order reads the one set whole before the other (M. Truchon 1998, "An extension of the
    Condorcet criterion and Kemeny orders"; cited from memory, and plain from the sum: each
    pair across can then be had at its best). The sets that remain are searched by dynamic
    programming over the subsets read so far (the textbook solution of the linear ordering
    problem; M. Held and R. Karp 1962, doi 10.1137/0110015, is the pattern; cited from
    memory).

    Examples
    --------
    >>> exact_order(np.array([[0.0, -1.0], [1.0, 0.0]]))
    (1, 0)
    """
    n = len(odds)
    if n > MOST_EXACT:
        raise ValueError(f"the exact order is for at most {MOST_EXACT} panels")
    order: list[int] = []
    for block in _blocks(odds):
        order += [block[k] for k in _exact(odds[block][:, block])] if len(block) > 1 else block
    return tuple(order)


def _blocks(odds: np.ndarray) -> list[list[int]]:
    """Sets of panels, first to last, such that each comes surely before all that follow."""
    beats = odds > 0
    ranked = np.argsort(-beats.sum(axis=1), kind="stable")
    beaten = beats[np.ix_(ranked, ranked)]
    n = len(odds)
    # the farthest panel down the ranks that each one does not beat
    reach = np.where(beaten | np.tri(n, k=-1, dtype=bool), 0, np.arange(n)).max(axis=1)
    blocks, start, far = [], 0, 0
    for k, own in enumerate(reach.tolist()):
        far = max(far, own)
        if far <= k:
            blocks.append(sorted(ranked[start : k + 1].tolist()))
            start = k + 1
    return blocks


def _exact(odds: np.ndarray) -> list[int]:
    """`exact_order` by dynamic programming over all subsets."""
    n = len(odds)
    # gain[j, S]: what the panels of S add when j is read after all of them.
    gain = np.zeros((n, 1 << n))
    for b in range(n):
        gain[:, 1 << b : 2 << b] = gain[:, : 1 << b] + odds[b][:, None]
    value = np.full(1 << n, -np.inf)
    value[0] = 0.0
    last = np.zeros(1 << n, dtype=np.int8)
    for layer in _layers(n):
        for j in range(n - 1, -1, -1):
            own = layer[(layer >> j) & 1 == 1]
            before = own ^ (1 << j)
            here = value[before] + gain[j, before]
            better = here > value[own] + 1e-12
            value[own[better]] = here[better]
            last[own[better]] = j
    order: list[int] = []
    rest = (1 << n) - 1
    while rest:
        order.append(int(last[rest]))
        rest ^= 1 << int(last[rest])
    return order[::-1]


@lru_cache
def _layers(n: int) -> tuple[np.ndarray, ...]:
    """Subsets of n panels as bit sets, by size from 1 to n."""
    sets = np.arange(1 << n)
    size = np.zeros(1 << n, dtype=np.int8)
    for b in range(n):
        size += ((sets >> b) & 1).astype(np.int8)
    return tuple(sets[size == count] for count in range(1, n + 1))
