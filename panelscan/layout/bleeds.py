"""Bleeds and margins: which panels run off which edges, and what is left free."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from panelscan.model.page import PageEdge

PAST_EDGE = 1e-3
"""Share of the page's size within which a side lies on the page's edge."""


def bleed_edges(
    box: Sequence[float], width: float, height: float, given: Iterable[PageEdge] = ()
) -> frozenset[PageEdge]:
    """Edges of the page that a panel runs off.

    Parameters
    ----------
    box : sequence of four floats
        x_min, y_min, x_max, y_max in the upright page.
    width, height : float
        Size of the page.
    given : iterable of PageEdge
        Edges already known, e.g. from the picture.

    Returns
    -------
    frozenset of PageEdge
        The given ones and those that the box reaches.

    Examples
    --------
    >>> sorted(bleed_edges((0, 5, 60, 95), 100, 100))
    [<PageEdge.LEFT: 'left'>]
    """
    x, y = PAST_EDGE * width, PAST_EDGE * height
    if box[0] > x and box[1] > y and box[2] < width - x and box[3] < height - y:
        return frozenset(given)
    reached = {
        PageEdge.LEFT: box[0] <= x,
        PageEdge.TOP: box[1] <= y,
        PageEdge.RIGHT: box[2] >= width - x,
        PageEdge.BOTTOM: box[3] >= height - y,
    }
    return frozenset(given) | {edge for edge, there in reached.items() if there}


def margins_of(
    boxes: np.ndarray, bleeds: Sequence[frozenset[PageEdge]], width: float, height: float
) -> dict[PageEdge, float]:
    """Free distance between the outermost panel side and each edge of the page.

    Parameters
    ----------
    boxes : ndarray of float64, shape (N, 4)
        Boxes of the panels in the upright page.
    bleeds : sequence of frozenset of PageEdge
        Bleeds of each panel.
    width, height : float
        Size of the page.

    Returns
    -------
    dict of PageEdge to float
        0 at a bleed; half the page each way where there is no panel.
    """
    if not len(boxes):
        return dict(zip(PageEdge, (width / 2, height / 2, width / 2, height / 2), strict=True))
    free = {
        PageEdge.LEFT: float(boxes[:, 0].min()),
        PageEdge.TOP: float(boxes[:, 1].min()),
        PageEdge.RIGHT: width - float(boxes[:, 2].max()),
        PageEdge.BOTTOM: height - float(boxes[:, 3].max()),
    }
    off = frozenset[PageEdge]().union(*bleeds)
    return {edge: 0.0 if edge in off else max(0.0, room) for edge, room in free.items()}
