"""What is left of a burst where a person drew a panel over it."""

from __future__ import annotations

import shapely

from panelscan.model.outline import Outline, common_area

LEAST_BURST_SHARE = 1e-5
"""Parts of a cut burst that take no greater share of the page's area are slivers."""


def cut_burst(burst: Outline, hidden: shapely.Geometry, least: float) -> list[Outline]:
    """Parts of a burst outside of what hides it, holes parted, slivers left out.

    Parameters
    ----------
    burst : Outline
        In source pixels.
    hidden : shapely.Geometry
        In the same frame.
    least : float
        Parts of no greater area, in squared source pixels, are slivers.

    Returns
    -------
    list of Outline
        The burst itself where nothing hides it.

    Examples
    --------
    >>> left = cut_burst(Outline.box(0, 0, 10, 4), shapely.box(6, 0, 20, 4), 0.1)
    >>> [part.bounds for part in left]
    [(0.0, 0.0, 6.0, 4.0)]
    """
    if common_area(burst.shape, hidden) <= 0:
        return [burst]
    left = shapely.get_parts(burst.shape.difference(hidden))
    whole = [piece for part in left if part.area > least for piece in _without_holes(part)]
    return [Outline.from_shape(piece) for piece in whole if piece.area > least]


def _without_holes(part: shapely.Polygon) -> list[shapely.Polygon]:
    """The same area in pieces without holes, parted through the middles of the holes."""
    if part.geom_type != "Polygon" or not part.interiors:
        return [part] if part.geom_type == "Polygon" else []
    x0, y0, x1, y1 = part.bounds
    middle = part.interiors[0].centroid.x
    halves = [shapely.box(x0, y0, middle, y1), shapely.box(middle, y0, x1, y1)]
    pieces = [g for half in halves for g in shapely.get_parts(part.intersection(half))]
    return [whole for piece in pieces for whole in _without_holes(piece)]
