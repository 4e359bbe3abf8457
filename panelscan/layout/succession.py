"""Which panel follows which, and how likely: the reading order as a relation.

Several orders of a page may be right, so the order is best told as a relation: for each
panel the panels that readers go to next, and for each pair which one is read first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.model.grid import OrderChoice, PageLayout


@dataclass(frozen=True)
class Step:
    """One step of readers from panel to panel.

    Parameters
    ----------
    before : int or None
        Index of the panel left; None where reading starts.
    after : int
        Index of the panel read next.
    share : float
        Share of all readers who take this step.
    """

    before: int | None
    after: int
    share: float


def succession(layout: PageLayout) -> tuple[Step, ...]:
    """Steps that readers take, along the best order first.

    Parameters
    ----------
    layout : PageLayout
        Panels are named as in ``layout.order``.

    Returns
    -------
    tuple of Step
        The orders kept are taken to be all there are.

    Examples
    --------
    >>> from panelscan.layout.pages import lay_out_grid
    >>> from panelscan.layout.notation import parse_grid
    >>> page = lay_out_grid(parse_grid("one over one and one"))
    >>> [(s.before, s.after, round(s.share, 2)) for s in succession(page)][:3]
    [(None, 0, 1.0), (0, 1, 0.91), (1, 2, 0.91)]
    """
    shares: dict[tuple[int | None, int], float] = {}
    for choice in _weighted(layout):
        for before, after in zip((None, *choice.order[:-1]), choice.order, strict=True):
            key = (before, after)
            shares[key] = shares.get(key, 0.0) + choice.probability
    # a dict keeps the order of first mention: the best order's steps come first
    return tuple(Step(before, after, share) for (before, after), share in shares.items())


def precedence(layout: PageLayout) -> np.ndarray:
    """Share of readers who read panel i before panel j, as an array of shape (N, N).

    The diagonal is 0; opposite places add up to 1. Rows and columns are panels as named in
    ``layout.order``.
    """
    count = len(layout.order)
    found = np.zeros((count, count))
    for choice in _weighted(layout):
        place = np.empty(count)
        place[list(choice.order)] = np.arange(count)
        found += choice.probability * (place[:, None] < place[None, :])
    return found


def _weighted(layout: PageLayout) -> tuple[OrderChoice, ...]:
    """All orders kept, the best first, with probabilities that add up to 1."""
    best = OrderChoice(layout.order, layout.clarity)
    choices = (best, *layout.alternatives)
    whole = sum(c.probability for c in choices)
    return tuple(OrderChoice(c.order, c.probability / whole) for c in choices)
