"""Panels that lie on one another: about half of the readers follow the overlap.

References
----------
N. Cohn 2013, doi 10.3389/fpsyg.2013.00186 (second-hand; see ``clarity.OVERLAP``).
"""

from __future__ import annotations

from panelscan.layout import clarity
from panelscan.layout.choices import Divide, Order, Parse, divide, kept, led_by
from panelscan.layout.sheet import Sheet

MOST_OVERLAPS = 5
"""Overlaps looked at on one page; in a heap of many panels a few say all that can be said."""


def with_overlaps(parse: Parse, sheet: Sheet) -> Parse:
    """Let readers part at panels that lie on one another."""
    options, marks = parse.options, list(parse.divides)
    for i, j, covered in _overlapping(sheet):
        share = clarity.overlap_share(covered)
        if share >= 1:
            continue
        best = options[0][1]
        options = kept(
            option
            for p, order in options
            for option in ((p * share, order), (p * (1 - share), _follow(order, i, j)))
        )
        options = led_by(best, options) if abs(options[0][0] - 0.5) < 0.02 else options
        marks += _overlap_mark(best, i, j, 1 - share)
    best = options[0][1]
    still = tuple(m for m in marks if best.index(m.first) < best.index(m.second))
    return Parse(parse.tree, options, still)


def _overlap_mark(best: Order, i: int, j: int, share: float) -> tuple[Divide, ...]:
    return divide(best, _follow(best, i, j), "overlap", share)


def _overlapping(sheet: Sheet) -> list[tuple[int, int, float]]:
    """Pairs that overlap without one being inset in the other, with the share covered."""
    hosts, areas = sheet.hosts, sheet.areas.tolist()
    found = [
        (i, j, common / min(areas[i], areas[j]))
        for (i, j), common in sheet.overlaps.items()
        if hosts[i] == hosts[j]
    ]
    if len(found) > MOST_OVERLAPS:
        least = sorted((covered for *_, covered in found), reverse=True)[MOST_OVERLAPS - 1]
        found = [pair for pair in found if pair[2] >= least - 1e-5]
        found = sorted(found, key=lambda pair: (-round(pair[2], 6), pair))[:MOST_OVERLAPS]
    return sorted(found)


def _follow(order: Order, i: int, j: int) -> Order:
    """The order of one who follows the overlap: straight from one panel to the other."""
    one, other = order.index(i), order.index(j)
    at, to = (one, other) if one < other else (other, one)
    if to == at + 1:
        return (*order[:at], order[to], order[at], *order[to + 1 :])
    return (*order[: at + 1], order[to], *order[at + 1 : to], *order[to + 1 :])
