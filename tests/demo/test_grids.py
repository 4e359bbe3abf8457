"""The grammar of grids: every category's plans are sound, and read in the planned order."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
import shapely

from panelscan.demo.grid_changes import mirrored, with_bleeds, with_insets
from panelscan.demo.grids import Idea, PagePlan, PanelPlan, corners_of, cut, make_grid
from panelscan.demo.recipes import CATEGORIES, cook, make_look
from panelscan.demo.truth import lenient_outline
from panelscan.layout.order_agreement import compare_orders
from panelscan.layout.pages import lay_out
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import Panel

SINGLE = [c for c in CATEGORIES if c != "spread"]


def plan_of(category: str, seed: int) -> PagePlan:
    code = zlib.crc32(category.encode())
    look = make_look(category, np.random.default_rng([code, seed, 2]), None, None)
    books, pages = (np.random.default_rng([code, seed, k]) for k in (4, 1))
    return cook(category, look, 1290.0, 1900.0, books, pages).plan


@pytest.mark.parametrize("category", SINGLE)
def test_plans_are_sound_and_read_in_their_order(category: str) -> None:
    wrong = 0
    for seed in range(25):
        plan = plan_of(category, seed)
        for p in plan.panels:
            assert p.shape.is_valid
            assert p.shape.area > (0.07 * plan.width) ** 2
        flat = [p.shape for p in plan.panels if p.host is None and p.depth == 0]
        for i, a in enumerate(flat):
            for b in flat[i + 1 :]:
                front = any(p.depth for p in plan.panels)
                assert front or a.intersection(b).area < 0.02 * min(a.area, b.area)
        panels = [
            Panel(lenient_outline(p.points), host=p.host, depth=p.depth, bleed=frozenset(p.bleed))  # type: ignore[arg-type]
            for p in plan.panels
        ]
        direction = ReadingDirection.RTL if category == "rtl" else ReadingDirection.LTR
        layout = lay_out(panels, Outline.box(0, 0, plan.width, plan.height), direction)
        wrong += not compare_orders(range(len(panels)), layout.order).exact
    # Two pieces of code, written apart, should read nearly all plans alike.
    assert wrong <= 1


def test_a_cut_takes_out_the_gutter() -> None:
    top, bottom = cut(shapely.box(0, 0, 100, 60), "across", 0.5, 10)
    # Source: arithmetic.
    assert (top.area, bottom.area) == (pytest.approx(2500), pytest.approx(2500))
    left, right = cut(shapely.box(0, 0, 100, 60), "down", 0.25, 0)
    assert left.area == pytest.approx(1500, abs=1)
    assert left.distance(right) < 1e-3


def test_a_slanted_cut_is_as_wide_as_a_straight_one() -> None:
    left, right = cut(shapely.box(0, 0, 100, 60), "down", 0.5, 8, tilt_deg=20)
    assert left.distance(right) == pytest.approx(8)


def test_corners_on_a_straight_side_are_dropped() -> None:
    ring = shapely.Polygon([(0, 0), (5, 0), (10, 0), (10, 10), (0, 10)])
    assert len(corners_of(ring)) == 4


def test_bleeding_panels_reach_the_edge_and_keep_their_slants() -> None:
    rng = np.random.default_rng(4)
    plan = make_grid(Idea((2, 2), column_tilt=12.0, tier_tilt=0.0), 1000, 1500, rng)
    bled = with_bleeds(plan, ["top"], rng)
    upper = [p for p in bled.panels if "top" in p.bleed]
    assert len(upper) == 2
    for before, after in zip(plan.panels, bled.panels, strict=True):
        if "top" in after.bleed:
            assert after.box[1] == 0
            a = before.points[1] - before.points[2]
            b = after.points[1] - after.points[2]
            assert np.degrees(np.arctan2(*a) - np.arctan2(*b)) == pytest.approx(0, abs=1e-6)


def test_mirroring_twice_gives_the_plan_back() -> None:
    rng = np.random.default_rng(6)
    plan = with_insets(make_grid(Idea((2, 1, 3)), 1000, 1500, rng), rng)
    opened = PanelPlan(plan.panels[0].points, open_sides=(1,), bleed=("left",))
    plan = PagePlan(1000, 1500, (opened, *plan.panels[1:]), plan.live, plan.gutter)
    back = mirrored(mirrored(plan))
    for a, b in zip(plan.panels, back.panels, strict=True):
        assert a.open_sides == b.open_sides
        assert a.bleed == b.bleed
        assert np.allclose(a.points, b.points)


def test_insets_come_after_their_host_and_lie_in_it() -> None:
    rng = np.random.default_rng(9)
    plan = with_insets(make_grid(Idea((1, 2)), 1000, 1500, rng), rng, 2, 2)
    for k, p in enumerate(plan.panels):
        if p.host is not None:
            assert p.host < k
            assert p.shape.intersection(plan.panels[p.host].shape).area > 0.6 * p.shape.area
