"""The reading order of the demo's own pages against what was planned."""

from __future__ import annotations

import pytest

from panelscan.layout.pages import lay_out
from tests.demo_plans import true_page

PAGES = 24


def shares_right(category: str) -> tuple[float, float]:
    """Shares of pages whose order is exact, and exact or among the alternatives."""
    exact = listed = 0
    for seed in range(PAGES):
        page = true_page(category, seed)
        layout = lay_out(page.panels, page.frame, page.direction)
        is_exact = layout.order in page.right_orders
        exact += is_exact
        listed += is_exact or any(c.order in page.right_orders for c in layout.alternatives)
    return exact / PAGES, listed / PAGES


@pytest.mark.parametrize("category, least", [("grid", 0.99), ("rtl", 0.985), ("slanted", 0.97)])
def test_grids_are_ordered_exactly(category: str, least: float):
    assert shares_right(category)[0] >= least


@pytest.mark.parametrize("category", ["inset", "bleed", "gutter", "shaped", "mixed"])
def test_harder_pages_are_ordered_exactly_or_list_the_planned_order(category: str):
    assert shares_right(category)[1] >= 0.97
