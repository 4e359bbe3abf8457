"""From panels to a page's layout: the one place where order and measures come together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from panelscan.layout.bleeds import bleed_edges, margins_of
from panelscan.layout.choices import Divide, Options, Parse
from panelscan.layout.clarity import PLAIN
from panelscan.layout.frame import FrameMap, all_to_page, as_outline, as_point, frame_map, unit_map
from panelscan.layout.gutters import gutters_of, strips_of
from panelscan.layout.patterns import patterns_of
from panelscan.layout.reading_order import Reader
from panelscan.layout.sheet import Sheet, make_sheet, numbering, renumbered
from panelscan.layout.structure import measures_of
from panelscan.layout.tiers import tiers_of
from panelscan.model.grid import (
    CutNode,
    Grid,
    GridPanel,
    OrderChoice,
    PageLayout,
    Parting,
)
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection
from panelscan.model.panel import Panel

LEAST_PARTING = 0.07
"""Share of readers who leave the path from which a place is worth naming; a plain grid has
fewer (about one in twenty)."""
UNLISTED = 0.02
"""Probability given to an order that the artist set and the rules did not think of."""


def lay_out(
    panels: Sequence[Panel],
    frame: Outline,
    direction: ReadingDirection = ReadingDirection.LTR,
    *,
    fold_x: float | None = None,
    order: Sequence[int] | None = None,
) -> PageLayout:
    """Order and measures of a page's panels.

    Parameters
    ----------
    panels : sequence of Panel
        Panels in source pixels, in any order; ``host`` indexes this sequence.
    frame : Outline
        The page in source pixels; it may be skewed or seen at an angle.
    direction : ReadingDirection
        Which way the book is read.
    fold_x : float, optional
        Where the fold of facing pages kept as one lies, in source pixels.
    order : sequence of int, optional
        Reading order that is known already; the measures then follow it.

    Returns
    -------
    PageLayout
        ``order`` and ``alternatives`` index `panels`. Lengths are in source pixels,
        measured in the page's own upright frame; gutter strips and places of partings are
        carried back into the source image; tiers' heights count from the frame's top.

    Examples
    --------
    >>> boxes = [(55, 5, 95, 95), (5, 5, 45, 45), (5, 55, 45, 95)]
    >>> page = lay_out([Panel(Outline.box(*b)) for b in boxes], Outline.box(0, 0, 100, 100))
    >>> page.order, page.patterns
    ((1, 2, 0), ('tall panel', 'blockage'))
    """
    page = frame_map(frame)
    corners = all_to_page(page, [p.outline.array() for p in panels])
    fold = None
    if fold_x is not None:
        middle = np.array([[fold_x, np.mean([p[1] for p in frame.points])]])
        fold = float(page.to_page(middle)[0, 0])
    given = [p.bleed for p in panels]
    hosts = [p.host for p in panels]
    return _lay_out(corners, hosts, given, page, direction, fold, order)


def lay_out_grid(grid: Grid) -> PageLayout:
    """Order and measures of a grid, its own order kept.

    Parameters
    ----------
    grid : Grid
        Panels in reading order, in page-relative units.

    Returns
    -------
    PageLayout
        ``order`` is the grid's own (0, 1, 2 …) and ``clarity`` says how surely readers
        follow it. Lengths are in widths of the page, along x and y alike.
    """
    page = unit_map(1.0, 1.0 / grid.aspect)
    corners = all_to_page(page, [p.outline.array() for p in grid.panels])
    hosts = [p.host for p in grid.panels]
    given = [p.bleed for p in grid.panels]
    own = range(len(grid.panels))
    return _lay_out(corners, hosts, given, None, grid.direction, grid.fold, own, page)


def grid_of(
    panels: Sequence[Panel],
    frame: Outline,
    layout: PageLayout,
    direction: ReadingDirection = ReadingDirection.LTR,
    *,
    fold_x: float | None = None,
) -> Grid:
    """The same panels as a grid: in reading order, in page-relative units.

    Parameters
    ----------
    panels : sequence of Panel
        As given to `lay_out`.
    frame : Outline
        The page in source pixels.
    layout : PageLayout
        What `lay_out` said of them.
    direction : ReadingDirection
        Which way the book is read.
    fold_x : float, optional
        As given to `lay_out`.

    Returns
    -------
    Grid
        x in shares of the frame's width, y in shares of its height.
    """
    page = frame_map(frame)
    size = np.array([page.width, page.height])
    place = {panel: k for k, panel in enumerate(layout.order)}
    corners = all_to_page(page, [p.outline.array() for p in panels])
    sheet = _sheet(corners, page, [p.host for p in panels])
    boxes = sheet.boxes.tolist()
    found = []
    for index in layout.order:
        panel, box = panels[index], boxes[index]
        outline = as_outline(corners[index] / size)
        host = sheet.hosts[index]
        found.append(
            GridPanel(
                outline if outline is not None else panel.outline,
                bleed_edges(box, page.width, page.height, panel.bleed),
                None if host is None else place[host],
                panel.depth,
            )
        )
    fold = None
    if fold_x is not None:
        middle = np.array([[fold_x, np.mean([p[1] for p in frame.points])]])
        fold = float(page.to_page(middle)[0, 0]) / page.width
    return Grid(tuple(found), page.width / page.height, direction, fold)


def _sheet(
    corners: Sequence[np.ndarray], page: FrameMap, hosts: Sequence[int | None], flip: bool = False
) -> Sheet:
    return make_sheet(corners, page.width, page.height, flip, hosts)


def _lay_out(
    corners: Sequence[np.ndarray],
    hosts: Sequence[int | None],
    given: Sequence[frozenset[PageEdge]],
    back: FrameMap | None,
    direction: ReadingDirection,
    fold: float | None,
    order: Sequence[int] | None,
    page: FrameMap | None = None,
) -> PageLayout:
    """Lay panels out in the upright page; carry strips back where a map is given."""
    page = page or back
    assert page is not None  # noqa: S101 - one of both is always given
    rtl = direction is ReadingDirection.RTL
    given_as = numbering(corners, page.width, rtl)
    corners = [corners[i] for i in given_as]
    given = [given[i] for i in given_as]
    sheet = _sheet(corners, page, renumbered(hosts, given_as), rtl)
    ahead = None if fold is None else page.width - fold if rtl else fold
    reader = Reader(sheet, ahead)
    parse = reader.read()
    number = {panel: k for k, panel in enumerate(given_as)}
    wanted = None if order is None else [number.get(i, -1) for i in order]
    read, options, clarity = _settled(parse, wanted)
    flat = _sheet(corners, page, sheet.hosts) if rtl else sheet
    bleeds = [
        bleed_edges(box, page.width, page.height, edges)
        for box, edges in zip(flat.boxes.tolist(), given, strict=True)
    ]
    tiers = tiers_of(sheet, parse.tree, read)
    strips = strips_of(flat) if rtl else reader.strips
    gutters = gutters_of(flat, strips, read, back)
    partings = _partings(parse.divides, read, flat)
    measures = measures_of(flat, read, gutters, bleeds)
    measures |= {"page_width": page.width, "page_height": page.height}
    if fold is not None:
        measures["across_fold"] = float(_across(flat, fold))
    patterns = patterns_of(
        sheet, parse.tree, tiers, read, partings, bleeds,
        measures.get("slanted_share", 0.0), fold is not None,
    )  # fmt: skip
    if back is not None:
        partings = tuple(
            replace(p, place=as_point(back.to_source(np.array([p.place]))[0])) for p in partings
        )
    place = {panel: k for k, panel in enumerate(read)}
    return PageLayout(
        order=tuple(given_as[i] for i in read),
        alternatives=tuple(
            OrderChoice(tuple(given_as[i] for i in o.order), o.probability) for o in options
        ),
        clarity=clarity,
        partings=partings,
        tiers=tiers,
        cut_tree=_placed(parse.tree, place),
        gutters=gutters,
        margins=margins_of(flat.boxes, bleeds, page.width, page.height),
        patterns=patterns,
        measures=measures,
    )


def _across(sheet: Sheet, fold: float) -> int:
    """Number of panels that run across the fold."""
    slack = 0.02 * sheet.width
    return int(((sheet.boxes[:, 0] < fold - slack) & (sheet.boxes[:, 2] > fold + slack)).sum())


def _settled(
    parse: Parse, order: Sequence[int] | None
) -> tuple[tuple[int, ...], tuple[OrderChoice, ...], float]:
    """Order to use, the others, and how surely readers follow the one used."""
    options: Options = parse.options
    read = options[0][1] if order is None else tuple(order)
    if sorted(read) != sorted(options[0][1]):
        raise ValueError("a reading order names every panel once")
    own = next((p for p, o in options if o == read), UNLISTED)
    others = tuple(OrderChoice(o, p) for p, o in options if o != read)
    return read, others, own if len(read) < 2 else min(own, PLAIN.rows_share)


def _partings(divides: Sequence[Divide], order: Sequence[int], sheet: Sheet) -> tuple[Parting, ...]:
    place = {panel: k for k, panel in enumerate(order)}
    middles = sheet.boxes.reshape(-1, 2, 2).mean(axis=1)
    found = []
    for mark in divides:
        if mark.share_second < LEAST_PARTING:
            continue
        first = place[mark.first]
        before = place[mark.before] if mark.before is not None else first - 1
        spot = (middles[mark.first] + middles[mark.second]) / 2
        found.append(
            Parting(
                panel=before if before >= 0 else None,
                first=first,
                second=place[mark.second],
                reason=mark.reason,
                probability=mark.share_second,
                place=as_point(spot),
            )
        )
    return tuple(sorted(found, key=lambda p: (p.first, p.second)))


def _placed(node: CutNode, place: dict[int, int]) -> CutNode:
    panels = tuple([place[i] for i in node.panels])
    return CutNode(node.cut, panels, tuple([_placed(c, place) for c in node.children]))
