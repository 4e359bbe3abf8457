"""How much room lettering takes, and where in a panel it is kept.

All rules of thumb; the letterer decides. Common practice, no source, unless said.
"""

from __future__ import annotations

import math

from shapely import Polygon, box

from panelscan.model.formats import PageFormat

TOP_SHARE = 1 / 3  # keep about the top third of a panel clear: common practice, no source
TYPE_PT = 8.5  # printed capitals of 8 to 9.5 pt: one type foundry's tips
LEADING_PT = 9.0
LETTERS_PER_WORD = 5.5  # with the space after it; rule of thumb, no source
LETTER_WIDTH_EM = 0.62
BALLOON_FILL = 0.55  # share of a balloon's box that its words fill; rule of thumb, no source
CLEAR_PT = 6.0  # keep 6 to 8 pt clear of the border: a working letterer's page
_PT_MM = 25.4 / 72.0


def words_area_mm2(words: int, page_format: PageFormat) -> float:
    """Area that balloons of so many words take on the page, in square millimetres.

    Examples
    --------
    >>> from panelscan.model.formats import US_PRINT
    >>> 1500 < words_area_mm2(35, US_PRINT) < 2500
    True
    """
    width = LETTERS_PER_WORD * LETTER_WIDTH_EM * TYPE_PT * _PT_MM
    printed = words * width * LEADING_PT * _PT_MM / BALLOON_FILL
    return printed / page_format.reduction**2


def clear_mm(page_format: PageFormat) -> float:
    """How far lettering keeps from a border, on the page."""
    return CLEAR_PT * _PT_MM / page_format.reduction


def leading_mm(page_format: PageFormat) -> float:
    """Distance between lines of lettering, on the page."""
    return LEADING_PT * _PT_MM / page_format.reduction


def lettering_room(
    panel: Polygon, page_format: PageFormat, words: int | None, border_mm: float
) -> Polygon | None:
    """The strip at the panel's top that is kept for lettering.

    Parameters
    ----------
    panel : shapely Polygon
        Visible part of the panel, in mm of the trim's frame.
    page_format : PageFormat
        Its safe box limits the room.
    words : int or None
        Words in the panel; None for the usual top third, 0 for no room at all.
    border_mm : float
        Weight of the border.

    Returns
    -------
    shapely Polygon or None
        None where nothing is left, or nothing is wanted.
    """
    if words == 0:
        return None
    clear = clear_mm(page_format) + border_mm / 2
    inner = panel.buffer(-clear, join_style="mitre").intersection(box(*page_format.safe_box_mm))
    inner = _largest(inner)
    if inner is None:
        return None
    x0, y0, x1, _ = inner.bounds
    top = panel.bounds[1]
    depth = (panel.bounds[3] - top) * TOP_SHARE - (y0 - top)
    if words is not None:
        depth = _depth_for(inner, words_area_mm2(words, page_format))
    return _largest(inner.intersection(box(x0, y0, x1, y0 + max(depth, 0.0))))


def _depth_for(inner: Polygon, area: float) -> float:
    """How deep the strip from the top must be to have that area (all of it, if too small)."""
    x0, y0, x1, y1 = inner.bounds
    if inner.area <= area:
        return float(y1 - y0)
    low, high = 0.0, float(y1 - y0)
    for _ in range(40):
        middle = (low + high) / 2
        if inner.intersection(box(x0, y0, x1, y0 + middle)).area < area:
            low = middle
        else:
            high = middle
    return high


def _largest(shape: object) -> Polygon | None:
    """The largest polygon of a shape, or None if it has no area."""
    parts = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon)]
    parts = [p for p in parts if p.area > 1.0 and math.isfinite(p.area)]
    return max(parts, key=lambda p: p.area) if parts else None
