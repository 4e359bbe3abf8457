"""From the parts of a written grid to panels on a page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from panelscan.layout.frame import as_outline
from panelscan.layout.regions import box_ring, centre_span, cut_up
from panelscan.layout.written import Cell, Inset, Joint, Loose, Part, Split, WrittenPage
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.page import PageEdge, ReadingDirection

ROUND_CORNERS = 32
EDGE_SLACK = 1e-6


class CannotDraw(ValueError):
    """The parts leave no room for a panel."""


@dataclass(frozen=True)
class DrawnPanel:
    """A panel as drawn: ring in page widths, its bleeds, its host's number, its place's ring."""

    ring: np.ndarray
    bleed: frozenset[PageEdge]
    host: int | None
    place: np.ndarray


@dataclass
class Drawing:
    """Draws the parts of one written page; ``panels`` fills up in written order."""

    page: WrittenPage
    panels: list[DrawnPanel] = field(default_factory=list)

    @cached_property
    def height(self) -> float:
        """Height of the page in widths."""
        return 1.0 / self.page.aspect

    @cached_property
    def live(self) -> np.ndarray:
        """Ring of the live box."""
        left, top, right, bottom = (m / 100 for m in self.page.margins)
        if left + right >= 0.98 or top + bottom >= 0.98 * self.height:
            raise CannotDraw("the margins leave no room")
        return box_ring(left, top, 1 - right, self.height - bottom)

    def part(self, part: Part, region: np.ndarray) -> None:
        """Draw a part into a region."""
        if isinstance(part, Cell):
            self.cell(part, region)
        elif isinstance(part, Split):
            for child, ring in self.split(part, region):
                self.part(child, ring)
        elif isinstance(part, Loose):
            low, high = region.min(axis=0), region.max(axis=0)
            for cell, box in zip(part.cells, part.boxes, strict=True):
                ring = low + box_ring(*box) / 100 * (high - low)
                self.cell(cell, ring)
        else:
            raise CannotDraw("a pattern with 'any', 'some' or 'or' cannot be drawn")

    def split(self, split: Split, region: np.ndarray) -> list[tuple[Part, np.ndarray]]:
        """Children of a split with their rings, in written order."""
        backwards = not split.rows and self.page.direction is ReadingDirection.RTL
        sizes, joints = list(split.sizes), list(split.joints)
        if backwards:
            sizes.reverse()
            joints.reverse()
        rings = cut_up(region, split.rows, self._lines(split.rows, sizes, joints, region))
        if backwards:
            rings.reverse()
        return list(zip(split.parts, rings, strict=True))

    def _lines(
        self, rows: bool, sizes: Sequence[float], joints: Sequence[Joint], region: np.ndarray
    ) -> list[tuple[float, float, float]]:
        start, end, _ = centre_span(region, rows)
        usual = self.page.gutters[1 if rows else 0]
        gaps = [(usual if j.gap is None else j.gap) / 100 for j in joints]
        taken = [g / math.cos(math.radians(j.slant_deg)) for g, j in zip(gaps, joints, strict=True)]
        room = end - start - sum(taken)
        if room <= 0:
            raise CannotDraw("the gutters leave no room for panels")
        unit = room / sum(sizes)
        lines, at = [], start
        for size, gap, wide, joint in zip(sizes, gaps, taken, joints, strict=False):
            at += size * unit + wide / 2
            lines.append((at, joint.slant_deg, gap))
            at += wide / 2
        return lines

    def cell(self, cell: Cell, place: np.ndarray) -> None:
        """Draw one panel and its insets."""
        if len(place) < 3:
            raise CannotDraw("there is no room for a panel")
        ring = self._bled(place, cell.bleed)
        if cell.corners is not None:
            ring = in_box(cell.corners, ring)
        elif cell.round:
            ring = ellipse(ring)
        number = len(self.panels)
        self.panels.append(DrawnPanel(ring, cell.bleed, None, place))
        for inset in cell.insets:
            self._inset(inset, ring, number)

    def _inset(self, inset: Inset, host: np.ndarray, number: int) -> None:
        ring = in_box(inset.corners, host)
        if inset.round:
            ring = ellipse(ring)
        own = len(self.panels)
        self.panels.append(DrawnPanel(ring, frozenset(), number, ring))
        for inner in inset.insets:
            self._inset(inner, ring, own)

    def _bled(self, place: np.ndarray, bleed: frozenset[PageEdge]) -> np.ndarray:
        """The place drawn out to the page's edges."""
        if not bleed:
            return place
        ring = place.copy()
        ends = {PageEdge.LEFT: (0, 0.0), PageEdge.TOP: (1, 0.0)}
        ends |= {PageEdge.RIGHT: (0, 1.0), PageEdge.BOTTOM: (1, self.height)}
        live = {
            PageEdge.LEFT: self.live[:, 0].min(), PageEdge.TOP: self.live[:, 1].min(),
            PageEdge.RIGHT: self.live[:, 0].max(), PageEdge.BOTTOM: self.live[:, 1].max(),
        }  # fmt: skip
        for edge in PageEdge:
            if edge not in bleed:
                continue
            axis, end = ends[edge]
            near = edge in (PageEdge.LEFT, PageEdge.TOP)
            outermost = place[:, axis].min() if near else place[:, axis].max()
            reach = float(live[edge]) if abs(outermost - live[edge]) < 0.02 else float(outermost)
            slack = EDGE_SLACK + abs(outermost - reach)
            ring[np.abs(place[:, axis] - outermost) <= slack, axis] = end
        return ring


def in_box(corners: Sequence[float], ring: np.ndarray) -> np.ndarray:
    """Corners in percent of a ring's box, as points."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    result: np.ndarray = low + np.array(corners).reshape(-1, 2) / 100 * (high - low)
    return result


def ellipse(ring: np.ndarray) -> np.ndarray:
    """Ellipse that fills a ring's box, as a ring of many corners."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    turn = np.linspace(0, 2 * np.pi, ROUND_CORNERS, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    result: np.ndarray = (low + high) / 2 + circle * (high - low) / 2
    return result


def drawn(page: WrittenPage) -> list[DrawnPanel]:
    """Panels of a written page in written order, in widths of the page.

    Raises
    ------
    CannotDraw
        If the parts leave no room for a panel, or hold wildcards.
    """
    drawing = Drawing(page)
    drawing.part(page.body, drawing.live)
    return drawing.panels


def grid_from(page: WrittenPage, panels: Sequence[DrawnPanel]) -> Grid:
    """Grid of drawn panels in written order, x and y in shares of the page."""
    scale = np.array([1.0, page.aspect])
    found = []
    for panel in panels:
        outline = as_outline(panel.ring * scale)
        if outline is None:
            raise CannotDraw("there is no room for a panel")
        depth = 0
        host = panel.host
        while host is not None:
            depth, host = depth + 1, panels[host].host
        found.append(GridPanel(outline, panel.bleed, panel.host, depth))
    fold = None if page.fold is None else page.fold / 100
    return Grid(tuple(found), page.aspect, page.direction, fold)
