"""Everything about a page and its panels that the library keeps, ready to be copied.

Names follow the library's columns: lengths as shares of the page, counts from 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.layout.notation import written_grid
from panelscan.layout.shapes import shape_notes
from panelscan.layout.signature import grid_vector
from panelscan.layout.tiers import FULL_WIDTH, tier_pattern
from panelscan.model.grid import Grid, GutterKind, OrderChoice, PageLayout, Parting
from panelscan.model.page import PageEdge


@dataclass(frozen=True, eq=False)
class PageMeasures:
    """Figures of one page.

    Parameters
    ----------
    aspect : float
        Width of the page divided by its height.
    panel_count, tier_count : int
        Numbers of panels and tiers.
    tier_pattern : str
        Panels in each tier from the top, e.g. ``"2-1-3"``.
    grid_text : str
        The grid in words.
    grid_is_exact : bool
        The words draw every panel again with an IoU of at least 0.985.
    vector : ndarray of float32, shape (161,)
        For searching.
    clarity : float
        How surely readers follow the best order, 0..1.
    alternatives : tuple of OrderChoice
        Other orders, as places in the best one.
    partings : tuple of Parting
        Where readers part.
    patterns : tuple of str
        Trade words.
    margin_left_share, margin_top_share, margin_right_share, margin_bottom_share : float
        Free margins: shares of the page's width (left, right) and height (top, bottom).
    tier_gutter_share, column_gutter_share : float or None
        Median widths as shares of the page's width; None without such a gutter.
    gutter_cv : float or None
        Coefficient of variation of the gutters' widths, within each kind.
    bleeds : frozenset of PageEdge
        Edges that a panel runs off.
    symmetry, density, contrast : float or None
        See ``layout.structure``; None on a page without panels.
    """

    aspect: float
    panel_count: int
    tier_count: int
    tier_pattern: str
    grid_text: str
    grid_is_exact: bool
    vector: np.ndarray
    clarity: float
    alternatives: tuple[OrderChoice, ...]
    partings: tuple[Parting, ...]
    patterns: tuple[str, ...]
    margin_left_share: float
    margin_top_share: float
    margin_right_share: float
    margin_bottom_share: float
    tier_gutter_share: float | None
    column_gutter_share: float | None
    gutter_cv: float | None
    bleeds: frozenset[PageEdge]
    symmetry: float | None
    density: float | None
    contrast: float | None


@dataclass(frozen=True)
class PanelMeasures:
    """Figures of one panel, in reading order; counts from 1, shares of the page.

    Parameters
    ----------
    reading_order : int
        Place on the page.
    area_share : float
        Share of the page's area.
    x_min_share, y_min_share, x_max_share, y_max_share : float
        Box: x in shares of the width, y of the height.
    aspect : float
        Width of the box divided by its height, in true proportions.
    corner_count : int
        Corners without a hand-drawn line's wobble.
    shape : str
        ``"rectangle"``, ``"slanted"``, ``"polygon"`` or ``"round"``.
    slant_deg : float
        Largest turn of a long side from upright or level.
    tier, place_in_tier : int
        Tier from the top, and place in it in reading order.
    is_full_tier : bool
        Alone in a tier of full width.
    is_inset : bool
        Inset in another panel.
    host_order : int or None
        Reading order of the host.
    depth : int
        0 for the back.
    bleed : frozenset of PageEdge
        Edges it runs off.
    """

    reading_order: int
    area_share: float
    x_min_share: float
    y_min_share: float
    x_max_share: float
    y_max_share: float
    aspect: float
    corner_count: int
    shape: str
    slant_deg: float
    tier: int
    place_in_tier: int
    is_full_tier: bool
    is_inset: bool
    host_order: int | None
    depth: int
    bleed: frozenset[PageEdge]


@dataclass(frozen=True)
class GutterMeasures:
    """Figures of one gutter: kind, the two panels (from 1), shares of the page's width.

    ``position_share`` is the middle across its run: share of the height for a gutter
    between tiers, of the width for one between panels in a tier.
    """

    kind: GutterKind
    panel_a: int
    panel_b: int
    width_share: float
    length_share: float
    position_share: float
    angle_deg: float


def describe_page(layout: PageLayout, grid: Grid) -> PageMeasures:
    """Figures of a page.

    Parameters
    ----------
    layout : PageLayout
        From ``pages.lay_out`` or ``pages.lay_out_grid``.
    grid : Grid
        The same page's grid.

    Returns
    -------
    PageMeasures

    Examples
    --------
    >>> from panelscan.layout.notation import parse_grid
    >>> from panelscan.layout.pages import lay_out_grid
    >>> grid = parse_grid("two then one bleed left bottom")
    >>> page = describe_page(lay_out_grid(grid), grid)
    >>> page.tier_pattern, page.grid_text, page.margin_left_share
    ('2-1', 'two then one bleed left bottom', 0.0)
    """
    measures = layout.measures
    width = measures["page_width"]
    height = measures["page_height"]
    written = written_grid(grid)
    place = {panel: k for k, panel in enumerate(layout.order)}
    margins = layout.margins

    def share(name: str) -> float | None:
        return measures[name] / width if name in measures else None

    return PageMeasures(
        aspect=grid.aspect,
        panel_count=len(grid.panels),
        tier_count=len(layout.tiers),
        tier_pattern=tier_pattern(layout.tiers),
        grid_text=written.text,
        grid_is_exact=written.is_exact,
        vector=grid_vector(grid),
        clarity=layout.clarity,
        alternatives=tuple(
            OrderChoice(tuple(place[i] for i in choice.order), choice.probability)
            for choice in layout.alternatives
        ),
        partings=layout.partings,
        patterns=layout.patterns,
        margin_left_share=margins[PageEdge.LEFT] / width,
        margin_top_share=margins[PageEdge.TOP] / height,
        margin_right_share=margins[PageEdge.RIGHT] / width,
        margin_bottom_share=margins[PageEdge.BOTTOM] / height,
        tier_gutter_share=share("tier_gutter"),
        column_gutter_share=share("column_gutter"),
        gutter_cv=measures.get("gutter_cv"),
        bleeds=frozenset[PageEdge]().union(*(p.bleed for p in grid.panels)),
        symmetry=measures.get("symmetry"),
        density=measures.get("density"),
        contrast=measures.get("contrast"),
    )


def describe_panels(layout: PageLayout, grid: Grid) -> tuple[PanelMeasures, ...]:
    """Figures of a page's panels, in reading order; see `describe_page`."""
    scale = np.array([1.0, 1.0 / grid.aspect])
    notes = shape_notes([p.outline.array() * scale for p in grid.panels])
    tier_of, place_of = _stands(layout)
    full = full_tiers(layout, grid)
    found = []
    for k, (panel, note) in enumerate(zip(grid.panels, notes, strict=True)):
        x_min, y_min, x_max, y_max = panel.outline.bounds
        found.append(
            PanelMeasures(
                reading_order=k + 1,
                area_share=panel.outline.area,
                x_min_share=x_min,
                y_min_share=y_min,
                x_max_share=x_max,
                y_max_share=y_max,
                aspect=(x_max - x_min) * grid.aspect / (y_max - y_min),
                corner_count=note.corner_count,
                shape=note.shape.value,
                slant_deg=note.slant_deg,
                tier=tier_of[k] + 1,
                place_in_tier=place_of[k] + 1,
                is_full_tier=k in full,
                is_inset=panel.host is not None,
                host_order=None if panel.host is None else panel.host + 1,
                depth=panel.depth,
                bleed=panel.bleed,
            )
        )
    return tuple(found)


def describe_gutters(layout: PageLayout) -> tuple[GutterMeasures, ...]:
    """Figures of a page's gutters; ``layout.gutters`` in the same order has the strips."""
    width = layout.measures.get("page_width", 1.0)
    return tuple(
        GutterMeasures(
            kind=g.kind,
            panel_a=g.panels[0] + 1,
            panel_b=g.panels[1] + 1,
            width_share=g.width / width,
            length_share=g.length / width,
            position_share=g.position_share,
            angle_deg=g.angle_deg,
        )
        for g in layout.gutters
    )


def full_tiers(layout: PageLayout, grid: Grid) -> frozenset[int]:
    """Places in the order of panels that stand alone in a tier of full width."""
    if not grid.panels:
        return frozenset()
    boxes = np.array([p.outline.bounds for p in grid.panels])
    whole = boxes[:, 2].max() - boxes[:, 0].min()
    found = set()
    for tier in layout.tiers:
        tops = [k for k in tier.panels if grid.panels[k].host is None]
        if len(tops) == 1 and boxes[tops[0], 2] - boxes[tops[0], 0] >= FULL_WIDTH * whole:
            found.add(tops[0])
    return frozenset(found)


def _stands(layout: PageLayout) -> tuple[Sequence[int], Sequence[int]]:
    """For each place in the order: its tier, and its place in that tier, from 0."""
    tier_of, place_of = [0] * len(layout.order), [0] * len(layout.order)
    for t, tier in enumerate(layout.tiers):
        for at, k in enumerate(tier.panels):
            tier_of[k], place_of[k] = t, at
    return tier_of, place_of
