"""The written grid: a page's panels in words that can be typed and read aloud.

A grid is written as it is said: ``two then three then one`` is a page of three tiers with
two, three and one panels. Words count panels, figures give sizes.

=====================  =======================================================================
``two``                two panels side by side, of one width (``2`` says the same)
``then``               the next tier, below
``and``                beside
``over``               stacked in one column: ``one over one and one`` is a stack of two with a
                       tall panel beside it
``( )``                holds parts together: ``(one over two) wide 3 and one``
``wide 3``             width against the others in the row
``tall 2``             height against the others in the stack; before a tier with a colon:
                       ``tall 2: one and one then three``
``gap 4``              after then, and, over: this gutter's own width; 0 for a shared line,
                       negative for panels that overlap
``slant 8``            after then, and, over: this gutter turned by 8 degrees, clockwise to
                       the eye
``bleed left top``     runs off these edges of the page; ``bleed all`` off all four
``inset 60 5 95 40``   a panel inset in the one before: left, top, right, bottom in percent of it
``round``              an ellipse
``corners …``          its own corners in percent of its place, x before y
``loose (one at …)``   panels that no straight gutter parts, each with its box
=====================  =======================================================================

Settings may come first, closed by a semicolon: ``right to left``, ``page 2 by 3``,
``margin 5`` (or left and right, then top and bottom; or all four from the left), ``gutter 2
3`` (between panels in a tier, then between tiers), ``fold 50``, and ``read 1 3 2`` where
the order is not the one that readers would take by themselves. Margins and gutters are
percent of the page's width, everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from panelscan.errors import NotationError
from panelscan.layout.notation_corners import ring_ious, with_corners
from panelscan.layout.notation_draw import CannotDraw, drawn, grid_from
from panelscan.layout.notation_parse import parse_written
from panelscan.layout.notation_text import text_of
from panelscan.layout.notation_write import Writer, box_by_box
from panelscan.layout.reading_order import Reader
from panelscan.layout.sheet import make_sheet, numbering, renumbered
from panelscan.layout.written import WrittenPage
from panelscan.model.grid import Grid
from panelscan.model.page import ReadingDirection

EXACT_IOU = 0.985


def parse_grid(text: str) -> Grid:
    """Grid that a text describes.

    Parameters
    ----------
    text : str
        A written grid.

    Returns
    -------
    Grid
        Panels in reading order, in page-relative units.

    Raises
    ------
    NotationError
        Where the text breaks off, or if it leaves no room for a panel.

    Examples
    --------
    >>> grid = parse_grid("two then one wide 2 and one")
    >>> len(grid), [round(v, 3) for v in grid.panels[2].outline.bounds]
    (4, [0.05, 0.507, 0.637, 0.967])
    """
    return grid_of_written(parse_written(text), text)


def grid_of_written(page: WrittenPage, text: str = "") -> Grid:
    """Grid of parsed parts; ``text`` is for the error message."""
    try:
        grid = grid_from(page, drawn(page))
    except CannotDraw as reason:
        raise NotationError(
            text, 0, f"This grid cannot be drawn: {reason}.", "Make margins or gutters smaller."
        ) from reason
    return in_order(grid, page.read or best_order(grid))


def best_order(grid: Grid) -> tuple[int, ...]:
    """Reading order of a grid's panels by geometry alone, whatever order they are given in."""
    scale = np.array([1.0, 1.0 / grid.aspect])
    corners = [p.outline.array() * scale for p in grid.panels]
    flip = grid.direction is ReadingDirection.RTL
    hosts = [p.host for p in grid.panels]
    fold = grid.fold
    if fold is not None and flip:
        fold = 1.0 - fold
    given_as = numbering(corners, 1.0, flip)
    ranked = [corners[i] for i in given_as]
    sheet = make_sheet(ranked, 1.0, 1.0 / grid.aspect, flip, renumbered(hosts, given_as))
    return tuple(given_as[i] for i in Reader(sheet, fold).read().order)


def in_order(grid: Grid, order: Sequence[int]) -> Grid:
    """The grid with its panels put in another order; hosts follow."""
    place = {panel: k for k, panel in enumerate(order)}
    panels = tuple(
        replace(p, host=None if p.host is None else place[p.host])
        for p in (grid.panels[i] for i in order)
    )
    return replace(grid, panels=panels)


@dataclass(frozen=True)
class WrittenGrid:
    """A grid's text and how well it draws the grid again.

    Parameters
    ----------
    text : str
        The written grid.
    is_exact : bool
        Every panel is drawn again with an IoU of at least 0.985.
    worst_iou : float
        Least IoU of a panel with what the text draws.
    notes : tuple of str
        What the text only comes near, in words.
    """

    text: str
    is_exact: bool
    worst_iou: float
    notes: tuple[str, ...] = ()


def write_grid(grid: Grid) -> str:
    """Text of a grid; see `written_grid` for how exact it is.

    Parameters
    ----------
    grid : Grid
        In page-relative units. A grid without panels gives an empty text.

    Returns
    -------
    str
        Text that `parse_grid` draws.

    Examples
    --------
    >>> write_grid(parse_grid("two then 1 and (1 over 1) wide 2"))
    'two then one wide 33.3 and (one over one) wide 66.7'
    """
    return written_grid(grid).text


def written_grid(grid: Grid) -> WrittenGrid:
    """Text of a grid, and what it only comes near.

    Parameters
    ----------
    grid : Grid
        In page-relative units.

    Returns
    -------
    WrittenGrid
    """
    if not grid.panels:
        return WrittenGrid("", True, 1.0)
    try:
        writer = Writer(grid)
        return _checked(grid, with_corners(writer.page(), grid, writer.written), writer.written)
    except (CannotDraw, NotationError):
        # Panels too small or too odd for cuts: their boxes can always be written.
        page, written = box_by_box(grid)
        return _checked(grid, page, written)


def _checked(grid: Grid, page: WrittenPage, written: Sequence[int]) -> WrittenGrid:
    """The text of a page, after drawing it again from that very text."""
    order = tuple(sorted(range(len(written)), key=lambda k: written[k]))
    if best_order(grid_from(page, drawn(page))) != order:
        page = replace(page, read=order)
    text = text_of(page)
    again = parse_written(text)
    ious = ring_ious(
        [grid.panels[index].outline.array() for index in written],
        [panel.outline.array() for panel in grid_from(again, drawn(again)).panels],
    )
    notes = tuple(
        f"panel {index + 1} is drawn only nearly (IoU {iou:.2f})"
        for index, iou in zip(written, ious, strict=True)
        if iou < EXACT_IOU
    )
    return WrittenGrid(text, not notes, min(ious), notes)
