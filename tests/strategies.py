"""Hypothesis strategies for pages: any shape that the layout rules must cope with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import Phase
from hypothesis import strategies as st

from panelscan.layout.regions import box_ring, cut_up
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.panel import Panel

PHASES = (Phase.explicit, Phase.generate)
"""No shrinking: pages are built from many numbers, and shrinking them takes minutes."""
WIDTH, HEIGHT = 200.0, 300.0
FRAME = Outline.box(0, 0, WIDTH, HEIGHT)


@dataclass(frozen=True)
class DrawnPage:
    """Panels on a 200 x 300 page, in an order of no meaning."""

    panels: tuple[Panel, ...]

    @property
    def outlines(self) -> tuple[Outline, ...]:
        return tuple(p.outline for p in self.panels)


def page_of(rings: list[np.ndarray]) -> DrawnPage:
    return DrawnPage(tuple(Panel(Outline.of(ring.tolist())) for ring in rings))


def _weights(count: int) -> st.SearchStrategy[list[int]]:
    return st.lists(st.integers(3, 6), min_size=count, max_size=count)


@st.composite
def _cut(
    draw: st.DrawFn, region: np.ndarray, rows: bool, count: int, lean: int
) -> list[np.ndarray]:
    """A region cut into parts by gutters of 2 to 6, perhaps slanted."""
    low, high = (region[:, int(rows)].min(), region[:, int(rows)].max())
    shares = np.cumsum(draw(_weights(count)))[:-1] / 1.0
    weights = shares / (shares[-1] + 4) if len(shares) else shares
    lines = []
    for share in weights:
        # steps of 1.1 degrees stay off the thresholds that the rules name
        slant = 1.1 * draw(st.integers(-lean, lean)) if lean else 0.0
        lines.append((low + share * (high - low), slant, float(draw(st.integers(2, 6)))))
    return cut_up(region, rows, lines)


@st.composite
def guillotine_rings(draw: st.DrawFn, lean: int = 0, stacks: bool = True) -> list[np.ndarray]:
    """Tiers cut into columns, some columns into stacks: rings in tier order."""
    live = box_ring(10, 12, 190, 288)
    rings = []
    for tier in draw(_cut(live, True, draw(st.integers(1, 4)), lean)):
        for column in draw(_cut(tier, False, draw(st.integers(1, 4)), lean)):
            if stacks and draw(st.integers(0, 4)) == 0:
                rings += draw(_cut(column, True, 2, lean))
            else:
                rings.append(column)
    return rings


@st.composite
def tiered_pages(draw: st.DrawFn) -> DrawnPage:
    """Upright tiers of panels without stacks; panels come in reading order."""
    return page_of(draw(guillotine_rings(stacks=False)))


@st.composite
def guillotine_pages(draw: st.DrawFn) -> DrawnPage:
    """Straight or slanted pages that clean cuts part."""
    return page_of(draw(guillotine_rings(lean=draw(st.sampled_from([0, 0, 4, 8])))))


@st.composite
def pinwheels(draw: st.DrawFn) -> DrawnPage:
    """Five panels that no clean cut parts."""
    x1, x2 = draw(st.integers(50, 80)), draw(st.integers(110, 150))
    y1, y2 = draw(st.integers(70, 120)), draw(st.integers(170, 230))
    boxes = [
        (10, 10, x2 - 2, y1 - 2), (10, y1 + 2, x1 - 2, 290), (x1 + 2, y1 + 2, x2 - 2, y2 - 2),
        (x2 + 2, 10, 190, y2 - 2), (x1 + 2, y2 + 2, 190, 290),
    ]  # fmt: skip
    return page_of([box_ring(*map(float, b)) for b in boxes])


@st.composite
def heaps(draw: st.DrawFn, most: int = 9) -> DrawnPage:
    """Boxes and quadrilaterals anywhere: overlapping, nested, apart."""
    rings = []
    for _ in range(draw(st.integers(1, most))):
        x, y = draw(st.integers(0, 150)), draw(st.integers(0, 240))
        w, h = draw(st.integers(15, 120)), draw(st.integers(15, 150))
        ring = box_ring(x, y, min(x + w, 200), min(y + h, 300))
        ring += np.array(draw(st.lists(st.integers(-4, 4), min_size=8, max_size=8))).reshape(4, 2)
        # a little off whole numbers, so that no figure lies exactly on a rule's threshold
        rings.append(ring + 0.05 * np.sin(np.arange(8.0) + 8 * len(rings)).reshape(4, 2))
    return page_of(rings)


def any_page() -> st.SearchStrategy[DrawnPage]:
    """Pages of every kind, guillotine and not, slanted, overlapping."""
    return st.one_of(guillotine_pages(), pinwheels(), heaps())


def grid_of_page(page: DrawnPage, aspect: float = 2 / 3) -> Grid:
    """The page as a grid, panels in the order given."""
    panels = tuple(GridPanel(o.scaled(1 / WIDTH, 1 / HEIGHT)) for o in page.outlines)
    return Grid(panels, aspect)


def grids() -> st.SearchStrategy[Grid]:
    """Grids of every kind."""
    return any_page().map(grid_of_page)
