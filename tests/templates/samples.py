"""Named grids, built by hand, for the tests of templates and checks."""

from __future__ import annotations

from dataclasses import replace

from panelscan.model.formats import US_PRINT
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge

# A small page of whole pixels at 300 dpi, for comparisons pixel by pixel.
POCKET = replace(
    US_PRINT,
    name="pocket",
    trim_mm=(3.0 * 25.4, 4.5 * 25.4),
    bleed_mm=2.54,
    live_mm=(5.08, 7.62, 5.08, 7.62),
)
ASPECT = 168.275 / 260.35
ALL_EDGES = frozenset(PageEdge)


def tiers(*counts: int, gutter: float = 0.02, margin: float = 0.06) -> Grid:
    """Tiers of equal height, each with as many equal panels as said; gutter in page heights."""
    g_x, g_y = gutter / ASPECT, gutter
    width, height = 1 - 2 * margin, 1 - 2 * margin
    tall = (height - g_y * (len(counts) - 1)) / len(counts)
    panels = []
    for row, count in enumerate(counts):
        wide = (width - g_x * (count - 1)) / count
        y = margin + row * (tall + g_y)
        for column in range(count):
            x = margin + column * (wide + g_x)
            panels.append(GridPanel(Outline.box(x, y, x + wide, y + tall)))
    return Grid(tuple(panels), ASPECT)


def blockage() -> Grid:
    """Two panels stacked at the left, one tall panel at the right."""
    return Grid(
        (
            GridPanel(Outline.box(0.06, 0.06, 0.48, 0.48)),
            GridPanel(Outline.box(0.06, 0.52, 0.48, 0.94)),
            GridPanel(Outline.box(0.54, 0.06, 0.94, 0.94)),
        ),
        ASPECT,
    )


def slanted() -> Grid:
    """A slanted gutter in the upper tier, a wide panel below."""
    return Grid(
        (
            GridPanel(Outline.of([(0.06, 0.06), (0.56, 0.06), (0.44, 0.46), (0.06, 0.46)])),
            GridPanel(Outline.of([(0.60, 0.06), (0.94, 0.06), (0.94, 0.46), (0.48, 0.46)])),
            GridPanel(Outline.box(0.06, 0.50, 0.94, 0.94)),
        ),
        ASPECT,
    )


def bleeding() -> Grid:
    """A wide panel that bleeds off three edges above two bordered ones."""
    top = frozenset({PageEdge.LEFT, PageEdge.TOP, PageEdge.RIGHT})
    return Grid(
        (
            GridPanel(Outline.box(0, 0, 1, 0.5), bleed=top),
            GridPanel(Outline.box(0.06, 0.53, 0.48, 0.94)),
            GridPanel(Outline.box(0.52, 0.53, 0.94, 0.94)),
        ),
        ASPECT,
    )


def inset() -> Grid:
    """A large panel with a small one inset in its lower right."""
    return Grid(
        (
            GridPanel(Outline.box(0.06, 0.06, 0.94, 0.94)),
            GridPanel(Outline.box(0.6, 0.66, 0.88, 0.88), host=0, depth=1),
        ),
        ASPECT,
    )


def splash() -> Grid:
    """One panel that bleeds off all four edges."""
    return Grid((GridPanel(Outline.box(0, 0, 1, 1), bleed=ALL_EDGES),), ASPECT)


NAMED = {
    "six": tiers(2, 2, 2),
    "nine": tiers(3, 3, 3),
    "mixed": tiers(1, 3, 2),
    "blockage": blockage(),
    "slanted": slanted(),
    "bleeding": bleeding(),
    "inset": inset(),
    "splash": splash(),
}
