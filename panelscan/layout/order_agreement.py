"""How well a found reading order (or grouping into tiers) agrees with the true one.

References
----------
Kendall, M. G. (1945), "The treatment of ties in ranking problems", Biometrika 33,
doi 10.1093/biomet/33.3.239 (tau-b).
Hubert, L., Arabie, P. (1985), "Comparing partitions", Journal of Classification 2,
doi 10.1007/BF01908075 (adjusted Rand index).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise


@dataclass(frozen=True, slots=True)
class OrderAgreement:
    """Agreement of two orders of the same panels.

    Parameters
    ----------
    exact : bool
        The very same order.
    exact_or_listed : bool
        The same order, or one that the truth lists as also fine.
    tau_b : float
        Kendall's tau-b, -1..1; 1 for a single panel.
    pair_accuracy : float
        Share of pairs in the right order; 1 for a single panel.
    succession_f1 : float
        F1 of the links from each panel to the next one.
    mean_displacement : float
        Mean distance between the places of a panel in both orders.
    """

    exact: bool
    exact_or_listed: bool
    tau_b: float
    pair_accuracy: float
    succession_f1: float
    mean_displacement: float


def compare_orders(
    true: Sequence[Hashable],
    found: Sequence[Hashable],
    also_fine: Sequence[Sequence[Hashable]] = (),
) -> OrderAgreement:
    """Compare two orders of panels; panels that only one of them has are left out.

    Parameters
    ----------
    true, found : sequence
        Names of panels in reading order, each once.
    also_fine : sequence of sequence
        Other orders that a careful reader may take.

    Raises
    ------
    ValueError
        If a panel is named twice.

    Examples
    --------
    One neighbour swap among six panels: tau = 1 - 2 / C(6, 2) * 1.

    >>> result = compare_orders("ABCDEF", "ABDCEF")
    >>> result.exact, round(result.tau_b, 4), round(result.pair_accuracy, 4)
    (False, 0.8667, 0.9333)
    >>> compare_orders("AB", "BA", also_fine=["BA"]).exact_or_listed
    True
    """
    for order in (true, found):
        if len(set(order)) != len(order):
            raise ValueError("an order names each panel once")
    common = set(true) & set(found)
    a = [p for p in true if p in common]
    b = [p for p in found if p in common]
    listed = [[p for p in other if p in common] for other in also_fine]
    place = {p: i for i, p in enumerate(b)}
    ranks = [place[p] for p in a]
    pairs = list(combinations(ranks, 2))
    right = sum(x < y for x, y in pairs)
    links = set(pairwise(a)) & set(pairwise(b))
    return OrderAgreement(
        exact=a == b,
        exact_or_listed=a == b or b in listed,
        tau_b=kendall_tau_b(range(len(ranks)), ranks) if len(ranks) > 1 else 1.0,
        pair_accuracy=right / len(pairs) if pairs else 1.0,
        succession_f1=len(links) / (len(a) - 1) if len(a) > 1 else 1.0,
        mean_displacement=(
            sum(abs(i - r) for i, r in enumerate(ranks)) / len(ranks) if ranks else 0.0
        ),
    )


def kendall_tau_b(x: Sequence[float], y: Sequence[float]) -> float:
    """Kendall's tau-b of two rankings, ties allowed; nan where one of them is constant.

    Notes
    -----
    (P - Q) / sqrt((P + Q + T)(P + Q + U)), with T pairs tied in x only and U in y only.

    Examples
    --------
    >>> round(kendall_tau_b([12, 2, 1, 12, 2], [1, 4, 7, 1, 0]), 8)
    -0.47140452
    """
    if len(x) != len(y):
        raise ValueError("two rankings of the same things have the same length")
    concordant = discordant = tied_x = tied_y = 0
    for (x0, y0), (x1, y1) in combinations(zip(x, y, strict=True), 2):
        product = (x1 - x0) * (y1 - y0)
        if product > 0:
            concordant += 1
        elif product < 0:
            discordant += 1
        elif x0 == x1 and y0 != y1:
            tied_x += 1
        elif y0 == y1 and x0 != x1:
            tied_y += 1
    total = concordant + discordant
    scale = math.sqrt((total + tied_x) * (total + tied_y))
    return (concordant - discordant) / scale if scale else math.nan


def rand_index(first: Sequence[Hashable], second: Sequence[Hashable]) -> float:
    """Share of pairs that two groupings both join or both part; 1 for fewer than two things.

    Examples
    --------
    >>> round(rand_index([0, 0, 0, 1, 1, 1], [0, 0, 1, 1, 2, 2]), 4)
    0.6667
    """
    pairs = list(combinations(zip(first, second, strict=True), 2))
    agree = sum((a0 == a1) == (b0 == b1) for (a0, b0), (a1, b1) in pairs)
    return agree / len(pairs) if pairs else 1.0


def adjusted_rand_index(first: Sequence[Hashable], second: Sequence[Hashable]) -> float:
    """Rand index corrected for chance: (index - expected) / (greatest - expected).

    Examples
    --------
    >>> round(adjusted_rand_index([0, 0, 0, 1, 1, 1], [0, 0, 1, 1, 2, 2]), 4)
    0.2424
    """
    both = sum(math.comb(n, 2) for n in Counter(zip(first, second, strict=True)).values())
    a = sum(math.comb(n, 2) for n in Counter(first).values())
    b = sum(math.comb(n, 2) for n in Counter(second).values())
    pairs = math.comb(len(first), 2)
    expected = a * b / pairs if pairs else 0.0
    greatest = (a + b) / 2
    return (both - expected) / (greatest - expected) if greatest != expected else 1.0
