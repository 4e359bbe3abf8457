"""A grid as it lies on a page format, in millimetres, and what that did to its shapes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from panelscan.model.formats import Box, PageFormat
from panelscan.model.grid import Grid
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge


@dataclass(frozen=True)
class PlacedPanel:
    """A panel on a page, in millimetres from the trim's top-left corner.

    Parameters
    ----------
    outline : Outline
        Centre line of the border; sides that bleed lie on the bleed line.
    bleed_sides : frozenset of int
        Which sides of the outline bleed (no border is drawn there).
    bleed : frozenset of PageEdge
        Page edges it runs off.
    host, depth : int or None, int
        As in `panelscan.model.grid.GridPanel`.
    """

    outline: Outline
    bleed_sides: frozenset[int] = frozenset()
    bleed: frozenset[PageEdge] = frozenset()
    host: int | None = None
    depth: int = 0


@dataclass(frozen=True, slots=True)
class ShapeChange:
    """How a panel's shape changed on the way to the page: width divided by height."""

    panel: int
    before: float
    after: float

    @property
    def percent(self) -> float:
        """Change of the ratio in percent; positive is wider."""
        return (self.after / self.before - 1.0) * 100.0


@dataclass(frozen=True)
class Placement:
    """A grid on a page format.

    Parameters
    ----------
    panels : tuple of PlacedPanel
        In reading order.
    page_format : PageFormat
        The page.
    tier_gutter_mm, column_gutter_mm : float
        The gutters that were set.
    changes : tuple of ShapeChange
        One per panel.
    notes : tuple of str
        What could not be kept, and what was taken as meant.
    """

    panels: tuple[PlacedPanel, ...]
    page_format: PageFormat
    tier_gutter_mm: float
    column_gutter_mm: float
    changes: tuple[ShapeChange, ...]
    notes: tuple[str, ...] = ()

    def grid(self, source: Grid) -> Grid:
        """The placed panels as a grid again, page-relative to the trim."""
        w, h = self.page_format.trim_mm
        panels = tuple(
            replace(old, outline=new.outline.scaled(1 / w, 1 / h))
            for old, new in zip(source.panels, self.panels, strict=True)
        )
        return replace(source, panels=panels, aspect=w / h)


def shape_changes(
    grid: Grid, outlines: Sequence[Outline], page: PageFormat
) -> tuple[ShapeChange, ...]:
    """Width divided by height of the visible part of each panel, before and after."""
    w, h = page.trim_mm
    changes = []
    for i, (panel, placed) in enumerate(zip(grid.panels, outlines, strict=True)):
        x0, y0, x1, y1 = _clipped(panel.outline.bounds, 1.0, 1.0)
        before = (x1 - x0) * grid.aspect / (y1 - y0)
        x0, y0, x1, y1 = _clipped(placed.bounds, w, h)
        changes.append(ShapeChange(i, before, (x1 - x0) / (y1 - y0)))
    return tuple(changes)


def _clipped(box: Box, w: float, h: float) -> Box:
    x0, y0, x1, y1 = box
    return max(0.0, x0), max(0.0, y0), min(w, x1), min(h, y1)
