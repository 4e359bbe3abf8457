"""Named layouts and makers of random pages, shared by tests and scripts. All invented here."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.model.panel import Panel

Box = tuple[float, float, float, float]


def panels_of(boxes: Sequence[Box]) -> list[Panel]:
    """Panels from boxes."""
    return [Panel(Outline.box(*box)) for box in boxes]


def even_grid(rows: int, columns: int, across: float = 4, down: float = 4) -> list[Box]:
    """Boxes of a regular grid on a 200 x 300 page, row by row; gutters in units of the page."""
    width = (180 - across * (columns - 1)) / columns
    height = (280 - down * (rows - 1)) / rows
    return [
        (
            10 + c * (width + across),
            10 + r * (height + down),
            10 + c * (width + across) + width,
            10 + r * (height + down) + height,
        )
        for r in range(rows)
        for c in range(columns)
    ]


FRAME = Outline.box(0, 0, 200, 300)
"""The page that the named layouts lie on."""

BLOCKAGE: list[Box] = [(10, 10, 98, 148), (10, 152, 98, 290), (102, 10, 190, 290)]
"""Stack of two, closed by a tall panel: A, B, then C."""
TALL_FIRST: list[Box] = [(10, 10, 98, 290), (102, 10, 190, 148), (102, 152, 190, 290)]
"""Tall panel on the left, stack on the right."""
TALL_BETWEEN: list[Box] = [
    (10, 10, 68, 148), (72, 10, 128, 290), (132, 10, 190, 148),
    (10, 152, 68, 290), (132, 152, 190, 290),
]  # fmt: skip
"""Tall panel between two stacks: A, T, B, C, D."""
PINWHEEL: list[Box] = [
    (10, 10, 130, 98), (10, 102, 68, 290), (72, 102, 130, 198),
    (134, 10, 190, 198), (72, 202, 190, 290),
]  # fmt: skip
"""No clean cut anywhere."""


def staggered(slide: float) -> list[Box]:
    """2 x 2 grid whose right gutter is slid down by a share of the panels' height."""
    height = 138.0
    down = slide * height
    return [
        (10, 10, 98, 148),
        (102, 10, 190, 148 + down),
        (10, 152, 98, 290),
        (102, 152 + down, 190, 290),
    ]


def random_grid(rng: np.random.Generator, busy: float = 1.0) -> Grid:
    """A plausible page: two to five tiers, some stacks, some bleeds, hand-sized proportions."""
    aspect = float(rng.choice([0.65, 0.646, 0.7, 0.707]))
    margin = float(rng.uniform(0.03, 0.08))
    gutter_x, gutter_y = float(rng.uniform(0.008, 0.03)), float(rng.uniform(0.008, 0.03))
    tiers = int(rng.choice([1, 2, 3, 4, 5], p=[0.04, 0.2, 0.45, 0.25, 0.06]))
    panels: list[GridPanel] = []
    heights = _shares(rng, tiers)
    top = margin
    room = 1 - 2 * margin - gutter_y * (tiers - 1)
    for k, share in enumerate(heights):
        bottom = top + share * room
        columns = int(rng.choice([1, 2, 3, 4], p=[0.28, 0.36, 0.28, 0.08]))
        if rng.random() < 0.08 * busy and columns == 1:
            edges = {PageEdge.LEFT, PageEdge.RIGHT}
            y0, y1 = top, bottom
            if k == 0:
                edges.add(PageEdge.TOP)
                y0 = 0.0
            if k == tiers - 1:
                edges.add(PageEdge.BOTTOM)
                y1 = 1.0
            panels.append(GridPanel(Outline.box(0, y0, 1, y1), frozenset(edges)))
        else:
            panels += _tier(rng, columns, (margin, top, 1 - margin, bottom), gutter_x, gutter_y)
        top = bottom + gutter_y
    return Grid(tuple(panels), aspect)


def _tier(
    rng: np.random.Generator, columns: int, box: Box, gutter_x: float, gutter_y: float
) -> list[GridPanel]:
    left, top, right, bottom = box
    room = right - left - gutter_x * (columns - 1)
    panels = []
    x = left
    for share in _shares(rng, columns):
        width = share * room
        if columns > 1 and rng.random() < 0.12:
            middle = top + float(rng.uniform(0.35, 0.65)) * (bottom - top)
            panels.append(GridPanel(Outline.box(x, top, x + width, middle - gutter_y / 2)))
            panels.append(GridPanel(Outline.box(x, middle + gutter_y / 2, x + width, bottom)))
        else:
            panels.append(GridPanel(Outline.box(x, top, x + width, bottom)))
        x += width + gutter_x
    return panels


def _shares(rng: np.random.Generator, count: int) -> np.ndarray:
    even = rng.random() < 0.4
    weights = np.ones(count) if even else rng.uniform(0.6, 1.6, count)
    return weights / weights.sum()


def jittered(grid: Grid, rng: np.random.Generator, share: float = 0.01) -> Grid:
    """The grid with every corner moved at random by up to a share of the page."""
    panels = []
    for panel in grid.panels:
        moved = panel.outline.array() + rng.uniform(-share, share, (len(panel.outline.points), 2))
        panels.append(GridPanel(Outline.of(moved.tolist()), panel.bleed, panel.host, panel.depth))
    return Grid(tuple(panels), grid.aspect, grid.direction, grid.fold)
