"""Exact best linear order of panels that no clean cut parts.

Each pair of panels has log odds for who comes first, from the same published shares as the
rest. The order with the greatest sum is found exactly by dynamic programming over subsets.
"""

from __future__ import annotations

import math

import numpy as np

from panelscan.layout import clarity
from panelscan.layout.choices import Options, Order

MOST_EXACT = 16
SURE = 4.0
LEVEL_START = 0.15
"""Panels whose starts differ by less than this share of the smaller one start level."""
TEMPER = 0.5


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
    n = len(boxes)
    odds = np.zeros((n, n))
    height, width = boxes[:, 3] - boxes[:, 1], boxes[:, 2] - boxes[:, 0]
    for i in range(n):
        for j in range(i + 1, n):
            level = _shared(boxes, i, j, 1) / math.sqrt(max(height[i] * height[j], 1e-24))
            over = _shared(boxes, i, j, 0) / math.sqrt(max(width[i] * width[j], 1e-24))
            odds[i, j] = _odds(boxes[i], boxes[j], level, over)
            odds[j, i] = -odds[i, j]
    return odds


def _shared(boxes: np.ndarray, i: int, j: int, axis: int) -> float:
    low = max(boxes[i, axis], boxes[j, axis])
    return max(0.0, float(min(boxes[i, axis + 2], boxes[j, axis + 2]) - low))


def _odds(a: np.ndarray, b: np.ndarray, level: float, over: float) -> float:
    down, right = _step(a, b, 1), _step(a, b, 0)
    if down == right == 0:
        down = float(b[1] + b[3] - a[1] - a[3])
        right = float(b[0] + b[2] - a[0] - a[2])
    if down * right >= 0:
        return math.copysign(SURE, down if abs(down) >= abs(right) else right)
    # One is higher, the other nearer: the higher one first while its row holds.
    higher_first = clarity.log_odds(clarity.rows_share(min(1.0, level))) + SURE * over
    higher_first -= SURE * over * level
    return math.copysign(1.0, down) * higher_first


def _step(a: np.ndarray, b: np.ndarray, axis: int) -> float:
    """How much farther along b starts than a; 0 where they start about level."""
    step = float(b[axis] - a[axis])
    slack = LEVEL_START * float(min(a[axis + 2] - a[axis], b[axis + 2] - b[axis]))
    return 0.0 if abs(step) <= slack else step


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
    scored: dict[Order, float] = {best: _score(odds, best)}
    for at, panel in enumerate(best):
        rest = best[:at] + best[at + 1 :]
        for to in range(max(0, at - 3), min(len(rest), at + 3) + 1):
            order = (*rest[:to], panel, *rest[to:])
            scored.setdefault(order, _score(odds, order))
    top = scored[best]
    weights = {order: math.exp(TEMPER * (score - top)) for order, score in scored.items()}
    total = sum(weights.values())
    ranked = sorted(
        weights.items(), key=lambda item: (-round(item[1], 9), item[0] != best, item[0])
    )
    return tuple((w / total, tuple(group[k] for k in order)) for order, w in ranked[:8])


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
    Dynamic programming over the 2^N sets of panels read so far (the textbook solution of
    the linear ordering problem; M. Held and R. Karp 1962, doi 10.1137/0110015, is the
    pattern; cited from memory).

    Examples
    --------
    >>> exact_order(np.array([[0.0, -1.0], [1.0, 0.0]]))
    (1, 0)
    """
    n = len(odds)
    if n > MOST_EXACT:
        raise ValueError(f"the exact order is for at most {MOST_EXACT} panels")
    # gain[j, S]: what the panels of S add when j is read after all of them.
    gain = np.zeros((n, 1 << n))
    for b in range(n):
        gain[:, 1 << b : 2 << b] = gain[:, : 1 << b] + odds[b][:, None]
    value = np.full(1 << n, -np.inf)
    value[0] = 0.0
    last = np.zeros(1 << n, dtype=np.int8)
    sets = np.arange(1 << n)
    size = np.zeros(1 << n, dtype=np.int8)
    for b in range(n):
        size += ((sets >> b) & 1).astype(np.int8)
    for count in range(1, n + 1):
        layer = sets[size == count]
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
    return tuple(reversed(order))


def _score(odds: np.ndarray, order: Order) -> float:
    sequence = list(order)
    return float(np.triu(odds[np.ix_(sequence, sequence)], 1).sum())
