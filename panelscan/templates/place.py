"""A grid laid on a page format: proportions are kept, gutters and borders keep their mm.

The grid is stretched so that its outermost panels meet the live area (bleed panels the
bleed line). Cells, which are panels with half a gutter around them, keep their share of
the page; then every gutter is set to the width asked for, all at once, by the smallest
shifts that do it (minimum-norm least squares).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from panelscan.errors import UsageError
from panelscan.layout.sides import (
    Facing,
    PanelSide,
    facing_sides,
    lines_of_sides,
    measure_gap,
    panel_sides,
)
from panelscan.model.formats import Box, PageFormat
from panelscan.model.grid import Grid, GutterKind
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.templates.moving import Equations, bleed_side, is_free_form, moved, outward
from panelscan.templates.placement import PlacedPanel, Placement, shape_changes

WIDEST_SHARE = 0.12
MEANT_WIDE = 1.6
SHARED_LINE = 0.3
OPEN_MARGIN_SHARE = 0.16
LEAST_PANEL_MM = 3.0
_ON_LINE_MM = 0.8


def place(
    grid: Grid,
    page_format: PageFormat,
    tier_gutter_mm: float | None = None,
    column_gutter_mm: float | None = None,
) -> Placement:
    """Lay a grid on a page.

    Parameters
    ----------
    grid : Grid
        Page-relative.
    page_format : PageFormat
        Where to.
    tier_gutter_mm, column_gutter_mm : float, optional
        Gutters; those of the page format if not given.

    Returns
    -------
    Placement
        Panels in millimetres, with the change of every panel's shape.

    Raises
    ------
    UsageError
        If there is no panel, or the page is too dense for the gutters asked.

    Notes
    -----
    Gutters clearly wider than the grid's usual ones (1.6 times) stay wider by the same
    ratio; panels that share one line go on sharing it. A margin that takes more than 16 %
    of the page is meant as open space and keeps its share.

    Examples
    --------
    >>> from panelscan.model.formats import US_PRINT
    >>> from panelscan.model.grid import GridPanel
    >>> boxes = Outline.box(0.1, 0.1, 0.9, 0.45), Outline.box(0.1, 0.5, 0.9, 0.9)
    >>> placed = place(Grid(tuple(GridPanel(b) for b in boxes), 0.65), US_PRINT)
    >>> upper, lower = (p.outline.bounds for p in placed.panels)
    >>> round(lower[1] - upper[3], 6), round(upper[0], 4), round(lower[3], 2)
    (3.0, 7.9375, 241.3)
    """
    if not grid.panels:
        raise UsageError("The grid has no panels.", "Choose another page or grid.")
    tier = page_format.tier_gutter_mm if tier_gutter_mm is None else tier_gutter_mm
    column = page_format.column_gutter_mm if column_gutter_mm is None else column_gutter_mm
    source = _in_mm(grid, page_format)
    pairs = gutter_pairs(source, WIDEST_SHARE * page_format.trim_mm[1])
    gutters = _gutters(source, pairs, {GutterKind.TIER: tier, GutterKind.COLUMN: column})
    outlines, bleeds, notes = _settled(grid, source, pairs, page_format, gutters)
    panels = tuple(
        PlacedPanel(o, bleeds[i], p.bleed, p.host, p.depth)
        for i, (o, p) in enumerate(zip(outlines, grid.panels, strict=True))
    )
    changes = shape_changes(grid, outlines, page_format)
    return Placement(panels, page_format, tier, column, changes, notes)


def _in_mm(grid: Grid, page_format: PageFormat) -> list[Outline]:
    """The grid's outlines at its own aspect, as high as the page format's trim."""
    height = page_format.trim_mm[1]
    return [p.outline.scaled(grid.aspect * height, height) for p in grid.panels]


def gutter_pairs(outlines: Sequence[Outline], widest: float) -> list[Facing]:
    """Facing sides, those of free-form panels left out; indices into `panel_sides`."""
    sides = panel_sides(outlines)
    free = {i for i, o in enumerate(outlines) if is_free_form(o)}
    return [
        f
        for f in facing_sides(outlines, widest, sides)
        if sides[f.first].panel not in free and sides[f.second].panel not in free
    ]


@dataclass(frozen=True)
class _Gutters:
    """Gutters in the source (median gap of each kind, and whether there are any) and asked."""

    usual: dict[GutterKind, float]
    present: dict[GutterKind, bool]
    asked: dict[GutterKind, float]


def _gutters(
    source: list[Outline], pairs: list[Facing], asked: dict[GutterKind, float]
) -> _Gutters:
    """Median gap of each kind in the source; the other kind's where there is none."""
    sides = panel_sides(source)
    gaps: dict[GutterKind, list[float]] = {kind: [] for kind in GutterKind}
    for f in pairs:
        gaps[sides[f.first].kind].append(max(0.0, f.gap))
    usual = {kind: median(values) if values else 0.0 for kind, values in gaps.items()}
    return _Gutters(usual, {kind: bool(values) for kind, values in gaps.items()}, asked)


@dataclass(frozen=True, slots=True)
class _Anchor:
    """One edge of the page: where the outermost panels lie, and where they are to go.

    `source` maps to `target`, both with half a gutter added outside; `extreme` is the
    outermost side itself and `goal` its final place (None: no side is put there).
    """

    source: float
    target: float
    extreme: float | None = None
    goal: float | None = None


def _anchors(
    grid: Grid, source: list[Outline], page: PageFormat, gutters: _Gutters
) -> dict[PageEdge, _Anchor]:
    """How each edge of the source maps to the page."""
    w, h = page.trim_mm
    left, top, right, bottom = page.live_box_mm
    live = {
        PageEdge.LEFT: left,
        PageEdge.TOP: top,
        PageEdge.RIGHT: right,
        PageEdge.BOTTOM: bottom,
    }
    anchors = {}
    for edge in PageEdge:
        across = edge in (PageEdge.LEFT, PageEdge.RIGHT)
        kind = GutterKind.COLUMN if across else GutterKind.TIER
        sign = -1 if edge in (PageEdge.LEFT, PageEdge.TOP) else 1
        size, goal = (grid.aspect * h, w) if across else (h, h)
        page_edge, trim_edge = (0.0, 0.0) if sign < 0 else (size, goal)
        extreme = _extreme(grid, source, edge)
        if extreme is None:
            anchors[edge] = _Anchor(page_edge, trim_edge)
        elif abs(extreme - page_edge) > OPEN_MARGIN_SHARE * size:
            kept = trim_edge - sign * abs(extreme - page_edge) * goal / size
            anchors[edge] = _Anchor(extreme, kept)
        else:
            before, after = gutters.usual[kind] / 2, gutters.asked[kind] / 2
            if not gutters.present[kind]:
                before = after = 0.0
            anchors[edge] = _Anchor(
                extreme + sign * before, live[edge] + sign * after, extreme, live[edge]
            )
    return anchors


def _extreme(grid: Grid, source: list[Outline], edge: PageEdge) -> float | None:
    """Outermost place of panels that do not bleed off the edge; None if all of them do."""
    axis = 0 if edge in (PageEdge.LEFT, PageEdge.RIGHT) else 1
    low = edge in (PageEdge.LEFT, PageEdge.TOP)
    staying = [
        o.bounds[axis if low else axis + 2]
        for p, o in zip(grid.panels, source, strict=True)
        if edge not in p.bleed and p.host is None
    ]
    if not staying:
        return None
    return min(staying) if low else max(staying)


def _stretched(source: list[Outline], anchors: dict[PageEdge, _Anchor]) -> list[Outline]:
    """The grid stretched along x and y so that cells meet the live area (or the trim)."""
    maps = []
    for low, high in ((PageEdge.LEFT, PageEdge.RIGHT), (PageEdge.TOP, PageEdge.BOTTOM)):
        a, b = anchors[low], anchors[high]
        scale = (b.target - a.target) / (b.source - a.source)
        maps.append((scale, a.target - a.source * scale))
    (ax, bx), (ay, by) = maps
    return [o.scaled(ax, ay).moved(bx, by) for o in source]


def _kept_open(
    anchors: dict[PageEdge, _Anchor], size: tuple[float, float], goal: tuple[float, float]
) -> dict[PageEdge, _Anchor]:
    """A few small panels on an open page keep their places: they are not pulled to the margins.

    That is so where the stretch would squeeze them to less than three quarters of their share.
    """
    kept = dict(anchors)
    for axis, (low, high) in enumerate(
        ((PageEdge.LEFT, PageEdge.RIGHT), (PageEdge.TOP, PageEdge.BOTTOM))
    ):
        a, b = anchors[low], anchors[high]
        span, natural = b.source - a.source, goal[axis] / size[axis]
        if span <= 1e-6 or (b.target - a.target) / span < 0.75 * natural:
            kept[low] = _Anchor(0.0, 0.0)
            kept[high] = _Anchor(size[axis], goal[axis])
    return kept


def _settled(
    grid: Grid,
    source: list[Outline],
    pairs: list[Facing],
    page: PageFormat,
    gutters: _Gutters,
) -> tuple[list[Outline], list[frozenset[int]], tuple[str, ...]]:
    """Stretched, gutters set, outer sides on the live area, bleeds on the bleed line."""
    w, h = page.trim_mm
    anchors = _kept_open(_anchors(grid, source, page, gutters), (grid.aspect * h, h), (w, h))
    stretched = _stretched(source, anchors)
    sides, source_sides = panel_sides(stretched), panel_sides(source)
    first = np.cumsum([0, *(len(o.points) for o in stretched)])
    equations = Equations(len(sides))
    _add_gutters(equations, pairs, source_sides, sides, gutters)
    asked = len(equations.rows)
    bleeds = _add_bleeds(equations, grid, sides, first, page)
    _add_live(equations, grid, source_sides, sides, bleeds, anchors)
    _add_alignments(equations, source_sides, sides)
    shifts = equations.least_shifts()
    missed = np.abs(equations.misses(shifts))[:asked]
    outlines = _rebuilt(stretched, sides, first, shifts, gutters.asked)
    _refuse_dense(outlines, page, gutters.asked)
    notes = []
    if missed.size and missed.max() > 0.05:
        notes.append(
            f"{int((missed > 0.05).sum())} of {asked} gutters could not be set exactly; "
            f"the worst is {missed.max():.2f} mm off."
        )
    return outlines, bleeds, tuple(notes)


def _add_gutters(
    equations: Equations,
    pairs: list[Facing],
    source_sides: list[PanelSide],
    sides: list[PanelSide],
    gutters: _Gutters,
) -> None:
    """One equation per gutter of the source: its width on the page."""
    for f in pairs:
        kind = source_sides[f.first].kind
        usual = gutters.usual[kind]
        ratio = max(0.0, f.gap) / usual if usual > 1e-6 else 0.0
        if f.gap < -0.1:
            continue
        factor = 0.0 if ratio < SHARED_LINE else 1.0 if ratio <= MEANT_WIDE else ratio
        now = measure_gap(f.first, f.second, sides[f.first], sides[f.second])
        if now is not None:
            equations.gutter(now, factor * gutters.asked[kind])


def _add_bleeds(
    equations: Equations, grid: Grid, sides: list[PanelSide], first: np.ndarray, page: PageFormat
) -> list[frozenset[int]]:
    """Put bleeding sides on the bleed line; says which sides of each panel those are."""
    bleeds = []
    for i, panel in enumerate(grid.panels):
        own = sides[first[i] : first[i + 1]]
        found = set()
        for edge in panel.bleed:
            k = bleed_side(panel, own, edge)
            if k is None:
                continue
            found.add(k)
            equations.add(
                [(int(first[i]) + k, 1.0)], _distance_to_line(own[k], edge, page.bleed_box_mm)
            )
        bleeds.append(frozenset(found))
    return bleeds


def _distance_to_line(side: PanelSide, edge: PageEdge, box: Box) -> float:
    """How far outward the side's middle must go to lie on the box's edge."""
    x, y = side.middle
    return {
        PageEdge.LEFT: x - box[0],
        PageEdge.TOP: y - box[1],
        PageEdge.RIGHT: box[2] - x,
        PageEdge.BOTTOM: box[3] - y,
    }[edge]


def _add_live(
    equations: Equations,
    grid: Grid,
    source_sides: list[PanelSide],
    sides: list[PanelSide],
    bleeds: list[frozenset[int]],
    anchors: dict[PageEdge, _Anchor],
) -> None:
    """Put the outermost sides onto the live area's edge."""
    for n, (before, side) in enumerate(zip(source_sides, sides, strict=True)):
        panel = grid.panels[side.panel]
        if side.index in bleeds[side.panel] or panel.host is not None or abs(side.tilt_deg) > 1.0:
            continue
        for edge in PageEdge:
            ex, ey = outward(edge)
            anchor = anchors[edge]
            if anchor.goal is None or anchor.extreme is None:
                continue
            if side.normal[0] * ex + side.normal[1] * ey < 0.99:
                continue
            across = 0 if ex else 1
            if abs(before.middle[across] - anchor.extreme) <= _ON_LINE_MM:
                move = (anchor.goal - side.middle[across]) * (ex + ey)
                equations.add([(n, 1.0)], move)


def _add_alignments(
    equations: Equations, source_sides: list[PanelSide], sides: list[PanelSide]
) -> None:
    """Sides in one line in the source stay in one line."""
    for group in lines_of_sides(source_sides, 0.05, 0.2):
        lead = sides[group[0]]
        for other in group[1:]:
            middle = sides[other].middle
            off = lead.normal[0] * middle[0] + lead.normal[1] * middle[1] - lead.offset
            equations.add([(group[0], 1.0), (other, -1.0)], off)


def _rebuilt(
    stretched: list[Outline],
    sides: list[PanelSide],
    first: np.ndarray,
    shifts: np.ndarray,
    gutters: dict[GutterKind, float],
) -> list[Outline]:
    """Outlines with their sides shifted; free-form ones stay as stretched."""
    outlines = []
    for i, outline in enumerate(stretched):
        if is_free_form(outline):
            outlines.append(outline)
            continue
        own = slice(int(first[i]), int(first[i + 1]))
        try:
            outlines.append(moved(outline, sides[own], shifts[own].tolist()))
        except ValueError as error:
            raise _too_dense(i, 0.0, gutters) from error
    return outlines


def _refuse_dense(
    outlines: list[Outline], page: PageFormat, gutters: dict[GutterKind, float]
) -> None:
    """Refuse a page on which a panel would be too small to draw in."""
    least = max(LEAST_PANEL_MM, 4 * page.border_mm)
    for i, outline in enumerate(outlines):
        size = min(outline.width, outline.height)
        if size < least:
            raise _too_dense(i, size, gutters)


def _too_dense(panel: int, size: float, gutters: dict[GutterKind, float]) -> UsageError:
    return UsageError(
        f"The grid is too dense for the gutters asked: between tier gutters of "
        f"{gutters[GutterKind.TIER]:g} mm and column gutters of "
        f"{gutters[GutterKind.COLUMN]:g} mm, panel {panel + 1} would be {size:.1f} mm across.",
        "Ask for narrower gutters, a larger page or a grid with fewer panels.",
    )
