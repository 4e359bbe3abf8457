"""Gutters, margins, tiers, shapes and words of pages whose figures are known."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from panelscan.layout.describe import describe_gutters, describe_page, describe_panels
from panelscan.layout.notation import parse_grid
from panelscan.layout.pages import grid_of, lay_out, lay_out_grid
from panelscan.layout.patterns import WORDS
from panelscan.layout.shapes import PanelShape, shape_notes
from panelscan.layout.structure import crossings, rhythm
from panelscan.layout.tiers import tier_pattern
from panelscan.model.grid import GutterKind, PageLayout
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection
from panelscan.model.panel import Panel
from tests.assertions import assert_grids_close
from tests.samples import BLOCKAGE, FRAME, PINWHEEL, even_grid, panels_of

LTR, RTL = ReadingDirection.LTR, ReadingDirection.RTL


def written(text: str) -> PageLayout:
    return lay_out_grid(parse_grid(text))


def test_gutters_of_a_grid():
    layout = lay_out(panels_of(even_grid(3, 2, across=4, down=7)), FRAME, LTR)
    columns = [g for g in layout.gutters if g.kind is GutterKind.COLUMN]
    tiers = [g for g in layout.gutters if g.kind is GutterKind.TIER]
    assert [g.panels for g in columns] == [(0, 1), (2, 3), (4, 5)]
    assert [g.panels for g in tiers] == [(0, 2), (1, 3), (2, 4), (3, 5)]
    assert {round(g.width, 9) for g in columns} == {4.0}
    assert {round(g.width, 9) for g in tiers} == {7.0}
    assert columns[0].strip is not None and tiers[0].strip is not None
    assert columns[0].strip.bounds == pytest.approx((98, 10, 102, 98.6666667))
    assert columns[0].position_share == pytest.approx(0.5)
    assert layout.measures["gutter_cv"] == pytest.approx(0, abs=1e-9)
    assert layout.measures["tier_gutter"] == pytest.approx(7)
    assert crossings(layout.gutters) == 2


def test_strips_lie_between_their_panels():
    boxes = panels_of([*PINWHEEL])
    layout = lay_out(boxes, FRAME, LTR)
    for gutter in layout.gutters:
        assert gutter.strip is not None
        for place in gutter.panels:
            panel = boxes[layout.order[place]].outline.shape
            assert shapely.distance(gutter.strip.shape, panel) < 1e-6
            assert gutter.strip.shape.intersection(panel).area < 1e-6


def test_a_slanted_gutter_is_measured_across_itself():
    layout = written("page 1 by 1, margin 0, gutter 5; one and slant 20 one")
    (gutter,) = layout.gutters
    assert gutter.width == pytest.approx(0.05)
    # Stored angles count counterclockwise to the eye, written ones clockwise.
    assert gutter.angle_deg == pytest.approx(-20)
    assert gutter.length == pytest.approx(1 / math.cos(math.radians(20)))
    assert gutter.taper_deg == pytest.approx(0, abs=1e-9) and gutter.wobble < 1e-9


def test_a_tapering_gutter():
    left, right = (
        [(10, 10), (90, 10), (80, 290), (10, 290)],
        [(100, 10), (190, 10), (190, 290), (110, 290)],
    )
    layout = lay_out([Panel(Outline.of(left)), Panel(Outline.of(right))], FRAME, LTR)
    (gutter,) = layout.gutters
    assert gutter.taper_deg == pytest.approx(2 * math.degrees(math.atan(10 / 280)))
    assert gutter.width == pytest.approx(20) and gutter.width_min < 12 and gutter.width_max > 28


def test_panels_that_share_a_line_touch():
    layout = written("gutter 0; two then one")
    assert all(g.width == 0 and g.strip is None for g in layout.gutters)
    assert len(layout.gutters) == 3


def test_right_to_left_gutters_lie_where_they_lie():
    boxes = panels_of(BLOCKAGE)
    plain, turned = lay_out(boxes, FRAME, LTR), lay_out(boxes, FRAME, RTL)
    strips = [
        {tuple(np.round(g.strip.bounds, 6)) for g in page.gutters if g.strip}
        for page in (plain, turned)
    ]
    assert strips[0] == strips[1]


def test_margins_and_bleeds():
    layout = written("page 1 by 1, margin 4 5 6 7; one bleed left top and one")
    assert layout.margins[PageEdge.LEFT] == layout.margins[PageEdge.TOP] == 0
    assert layout.margins[PageEdge.RIGHT] == pytest.approx(0.06)
    assert layout.margins[PageEdge.BOTTOM] == pytest.approx(0.07)
    assert layout.measures["bleed_count"] == 1


def test_tiers_of_stacks_and_tall_panels():
    layout = written("two then one over one and one then one")
    assert tier_pattern(layout.tiers) == "2-3-1"
    assert [t.panels for t in layout.tiers] == [(0, 1), (2, 3, 4), (5,)]


def test_tiers_hold_where_panels_cross_by_a_little():
    boxes = [(10, 10, 98, 100), (102, 10, 190, 108), (10, 104, 98, 290), (102, 112, 190, 290)]
    layout = lay_out(panels_of(boxes), FRAME, LTR)
    assert [t.panels for t in layout.tiers] == [(0, 1), (2, 3)]


def test_symmetry_density_contrast_and_rhythm():
    even, uneven = written("two then two"), written("one wide 3 and one then two")
    assert even.measures["symmetry"] == pytest.approx(1)
    assert uneven.measures["symmetry"] < 0.8
    assert even.measures["contrast"] == pytest.approx(1)
    assert uneven.measures["contrast"] == pytest.approx(3)
    assert even.measures["rhythm"] == pytest.approx(0, abs=1e-9)
    assert uneven.measures["rhythm"] > 0.5
    assert even.measures["entropy"] == pytest.approx(1)
    full = written("margin 0, gutter 0; two then two")
    assert full.measures["density"] == full.measures["live_use"] == pytest.approx(1)


def test_density_counts_overlaps_once():
    layout = lay_out(panels_of([(0, 0, 200, 300), (50, 50, 150, 250)]), FRAME, LTR)
    assert layout.measures["density"] == pytest.approx(1)


def test_rhythm_is_the_share_of_each_panel_along_the_order():
    from panelscan.layout.sheet import make_sheet

    rings = [Outline.box(*b).array() for b in [(0, 0, 10, 10), (0, 20, 30, 30)]]
    assert rhythm(make_sheet(rings, 100, 100, False), (1, 0)) == pytest.approx((0.75, 0.25))


@pytest.mark.parametrize(
    "text, words",
    [
        ("one bleed all", ["splash", "bleed"]),
        ("tall 3: one then two", ["half-splash", "tiers", "full-tier panel"]),
        ("three then three then three", ["regular grid", "tiers"]),
        ("one over one and one", ["tall panel", "blockage"]),
        ("one then one over one and one", ["tiers" , "full-tier panel", "blockage"]),
        ("two and slant 10 one then two", ["slanted"]),
        ("one inset 60 60 90 90 then two", ["inset"]),
        ("page 13 by 10, fold 50; two then one", ["spread", "full-tier panel"]),
    ],
)  # fmt: skip
def test_trade_words(text: str, words: list[str]):
    found = written(text).patterns
    assert set(words) - {"tiers"} <= set(found) <= set(WORDS)
    if "regular grid" not in words:
        assert "regular grid" not in found


def test_shapes():
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    rings = [
        np.array([[0, 0], [4, 0], [4, 2], [0, 2.0]]),
        np.array([[0, 0], [4, 0.0], [5, 2], [0, 2]]),
        np.array([[0, 0], [4, 0], [4, 2], [2, 3], [0, 2.0]]),
        np.stack([3 * np.cos(turn), 2 * np.sin(turn)], axis=1),
    ]
    notes = shape_notes(rings)
    wanted = [PanelShape.RECTANGLE, PanelShape.SLANTED, PanelShape.POLYGON, PanelShape.ROUND]
    assert [n.shape for n in notes] == wanted
    assert notes[1].slant_deg == pytest.approx(math.degrees(math.atan(0.5)))
    assert [n.corner_count for n in notes[:3]] == [4, 4, 5]


def test_a_shaky_line_is_still_a_rectangle():
    rng = np.random.default_rng(3)
    ring = shapely.get_coordinates(shapely.segmentize(shapely.box(0, 0, 300, 200).exterior, 10))[
        :-1
    ]
    note = shape_notes([ring + rng.normal(0, 1, ring.shape)])[0]
    assert note.shape is PanelShape.RECTANGLE and note.corner_count == 4


def test_figures_for_the_library():
    boxes = [(0, 0, 200, 90), (10, 95, 98, 290), (102, 95, 190, 290)]
    panels = panels_of(boxes)
    layout = lay_out(panels, FRAME, LTR)
    grid = grid_of(panels, FRAME, layout, LTR)
    page = describe_page(layout, grid)
    assert (page.panel_count, page.tier_count, page.tier_pattern) == (3, 2, "1-2")
    assert page.grid_is_exact
    assert_grids_close(parse_grid(page.grid_text), grid)
    assert page.margin_bottom_share == pytest.approx(10 / 300)
    assert page.margin_left_share == 0
    assert page.column_gutter_share == pytest.approx(4 / 200)
    assert page.tier_gutter_share == pytest.approx(5 / 200)
    assert page.bleeds == {PageEdge.LEFT, PageEdge.TOP, PageEdge.RIGHT}
    first, second, third = describe_panels(layout, grid)
    assert (first.tier, first.place_in_tier, first.is_full_tier) == (1, 1, True)
    assert (third.tier, third.place_in_tier, third.is_full_tier) == (2, 2, False)
    assert second.aspect == pytest.approx(88 / 195)
    assert second.area_share == pytest.approx(88 * 195 / 60000)
    assert second.shape == "rectangle" and second.host_order is None
    gutters = describe_gutters(layout)
    assert [(g.kind, g.panel_a, g.panel_b) for g in gutters] == [
        (GutterKind.COLUMN, 2, 3), (GutterKind.TIER, 1, 2), (GutterKind.TIER, 1, 3),
    ]  # fmt: skip
    assert gutters[0].width_share == pytest.approx(4 / 200)


def test_partings_say_where_and_why():
    layout = lay_out(panels_of(BLOCKAGE), FRAME, LTR)
    (parting,) = layout.partings
    assert (parting.panel, parting.first, parting.second) == (0, 1, 2)
    assert parting.probability == pytest.approx(0.09, abs=0.01)
    assert 54 < parting.place[0] < 146


def test_an_order_that_the_artist_gives_is_kept():
    boxes = panels_of(even_grid(2, 2))
    layout = lay_out(boxes, FRAME, LTR, order=(0, 2, 1, 3))
    assert layout.order == (0, 2, 1, 3)
    assert layout.clarity == pytest.approx(0.055)
    assert layout.alternatives[0].order == (0, 1, 2, 3)
    with pytest.raises(ValueError, match="every panel once"):
        lay_out(boxes, FRAME, LTR, order=(0, 1, 1, 3))
