"""How good a ranking is: recall, discounted gain and average precision.

References
----------
K. Järvelin and J. Kekäläinen, "Cumulated gain-based evaluation of IR techniques", ACM
Transactions on Information Systems 20(4), 2002, doi 10.1145/582415.582418 (gain as given,
discount by the binary logarithm of the place plus one).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np


def recall_at(found: Sequence[int], wanted: Collection[int], count: int) -> float:
    """Share of what is wanted that is among the first `count` found.

    Examples
    --------
    >>> recall_at([4, 9, 2], {2, 9}, 2)
    0.5
    """
    if not wanted:
        raise ValueError("nothing is wanted, so nothing can be recalled")
    return len(set(found[:count]) & set(wanted)) / len(wanted)


def ndcg_at(gains: Sequence[float], ideal: Sequence[float], count: int) -> float:
    """Normalised discounted cumulated gain of a ranking.

    Parameters
    ----------
    gains : sequence of float
        How much each found thing is worth, in the order found.
    ideal : sequence of float
        Worth of everything there is, in any order.
    count : int
        Places that count.

    Examples
    --------
    >>> ndcg_at([3, 2, 1], [1, 2, 3], 3)
    1.0
    """
    best = _discounted(sorted(ideal, reverse=True)[:count])
    return _discounted(list(gains)[:count]) / best if best else 0.0


def _discounted(gains: Sequence[float]) -> float:
    places = np.arange(2, len(gains) + 2)
    return float((np.asarray(gains, dtype=float) / np.log2(places)).sum())


def average_precision(relevant: Sequence[bool]) -> float:
    """Mean of the precision at each relevant thing of a ranking that holds them all.

    Examples
    --------
    >>> round(average_precision([True, False, True]), 4)
    0.8333
    """
    hits = np.asarray(relevant, dtype=bool)
    if not hits.any():
        return 0.0
    precision = np.cumsum(hits) / np.arange(1, len(hits) + 1)
    return float(precision[hits].mean())
