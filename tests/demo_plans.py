"""Plans of the demo's pages with their true order, without drawing a pixel."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from panelscan.demo.recipes import CATEGORIES, PAGE_RATIOS, cook, make_look
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import Panel

HEIGHT = 1900.0
PLANNED = tuple(c for c in CATEGORIES if c != "spread")
"""Categories whose plan is one page."""


@dataclass(frozen=True)
class TruePage:
    """Panels of a page in shuffled order, and the orders that are right."""

    panels: tuple[Panel, ...]
    frame: Outline
    direction: ReadingDirection
    right_orders: frozenset[tuple[int, ...]]


def true_page(category: str, seed: int) -> TruePage:
    """Plan of the page that ``demo.maker.draw_page`` would draw, its panels shuffled."""
    code = zlib.crc32(category.encode())
    book = [code, seed // 6]
    rng = np.random.default_rng([code, seed, 1])
    look = make_look(category, np.random.default_rng([*book, 2]), None, None)
    ratio = PAGE_RATIOS[int(np.random.default_rng([*book, 3]).integers(len(PAGE_RATIOS)))]
    size = (float(round(HEIGHT * ratio)), HEIGHT)
    plan = cook(category, look, *size, np.random.default_rng([*book, 4]), rng).plan
    count = len(plan.panels)
    shuffled = np.random.default_rng(seed).permutation(count)
    place = {int(panel): k for k, panel in enumerate(shuffled)}
    orders = {tuple(range(count)), *plan.also_fine}
    return TruePage(
        tuple(Panel(Outline.of(plan.panels[i].points.tolist())) for i in shuffled),
        Outline.box(0, 0, plan.width, plan.height),
        ReadingDirection.RTL if category == "rtl" else ReadingDirection.LTR,
        frozenset(tuple(place[i] for i in order) for order in orders),
    )
