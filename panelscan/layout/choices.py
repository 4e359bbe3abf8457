"""Reading orders with their probabilities, and how they are joined and mixed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from panelscan.model.grid import CutNode

KEPT = 8

Order = tuple[int, ...]
Options = tuple[tuple[float, Order], ...]


@dataclass(frozen=True)
class Divide:
    """A place where readers part, in panel indices: after ``before``, ``first`` or ``second``."""

    before: int | None
    first: int
    second: int
    reason: str
    share_second: float


@dataclass(frozen=True)
class Parse:
    """How a group of panels is read.

    Parameters
    ----------
    tree : CutNode
        Cuts behind the best order; panels as indices of the sheet.
    options : tuple of (probability, order)
        Most likely first; the probabilities of those dropped are missing from the sum.
    divides : tuple of Divide
        Places along the best order where readers part.
    """

    tree: CutNode
    options: Options
    divides: tuple[Divide, ...] = ()

    @property
    def order(self) -> Order:
        """The most likely order."""
        return self.options[0][1]


def kept(options: Iterable[tuple[float, Order]]) -> Options:
    """Options with equal orders added up, most likely first, cut to the number kept.

    Examples
    --------
    >>> kept([(0.25, (0, 1)), (0.5, (1, 0)), (0.25, (0, 1))])
    ((0.5, (0, 1)), (0.5, (1, 0)))
    """
    total: dict[Order, float] = {}
    for probability, order in options:
        total[order] = total.get(order, 0.0) + probability
    return _likeliest([(probability, order) for order, probability in total.items()])


def in_sequence(parts: Sequence[Parse]) -> Options:
    """Options of parts read one after the other, each on its own."""
    options: list[tuple[float, Order]] = [(1.0, ())]
    for part in parts:
        if len(part.options) == 1:
            ((q, b),) = part.options
            options = [(p * q, a + b) for p, a in options]
            continue
        # orders of different parts never come out equal: nothing to add up
        options = [(p * q, a + b) for p, a in options for q, b in part.options]
        if len(options) > KEPT:
            options = list(_likeliest(options))
    return _likeliest(options)


def _likeliest(options: list[tuple[float, Order]]) -> Options:
    if len(options) > 2 * KEPT:
        least = sorted([p for p, _ in options], reverse=True)[KEPT - 1] - 1e-8
        options = [option for option in options if option[0] >= least]
    if len(options) > 1:
        options.sort(key=lambda option: (-round(option[0], 9), option[1]))
    return tuple(options[:KEPT])


def mixed(share: float, first: Options, second: Options) -> Options:
    """Options when a share of readers takes the first way and the rest the second."""
    return kept([(share * p, o) for p, o in first] + [((1.0 - share) * p, o) for p, o in second])


def led_by(order: Order, options: Options) -> Options:
    """Options with the named order first (it may tie after rounding)."""
    return tuple(sorted(options, key=lambda option: option[1] != order))


def divide(best: Order, other: Order, reason: str, share_other: float) -> tuple[Divide, ...]:
    """Where two orders of the same panels part for the first time; nothing if they never do."""
    for k, (first, second) in enumerate(zip(best, other, strict=True)):
        if first != second:
            return (Divide(best[k - 1] if k else None, first, second, reason, share_other),)
    return ()


def joined(cut: str, parts: Sequence[Parse]) -> CutNode:
    """Node of parts in sequence; parts cut the same way become one row of children."""
    children: list[CutNode] = []
    for part in parts:
        children += part.tree.children if part.tree.cut == cut else (part.tree,)
    panels = tuple(i for part in parts for i in part.order)
    return CutNode(cut, panels, tuple(children))
