from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.errors import UsageError
from panelscan.layout.sides import facing_sides, panel_sides
from panelscan.model.formats import BUILT_IN, US_PRINT, format_named
from panelscan.model.grid import Grid, GridPanel, GutterKind
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.templates.build import build_page
from panelscan.templates.options import TemplateOptions
from panelscan.templates.place import place
from panelscan.templates.regularize import regularize
from panelscan.templates.svg import svg_bytes
from tests.templates.samples import NAMED, bleeding, inset, slanted, splash, tiers


def gaps(placement, kind):
    outlines = [p.outline for p in placement.panels]
    sides = panel_sides(outlines)
    return [f.gap for f in facing_sides(outlines, 40, sides) if sides[f.first].kind is kind]


@pytest.mark.parametrize("name", NAMED)
@pytest.mark.parametrize("page", ["us-print", "jis-b5", "a4", "square"])
def test_gutters_are_those_of_the_format(name, page):
    target = format_named(page)
    placed = place(NAMED[name], target)
    for kind, mm in (
        (GutterKind.TIER, target.tier_gutter_mm),
        (GutterKind.COLUMN, target.column_gutter_mm),
    ):
        assert gaps(placed, kind) == pytest.approx([mm] * len(gaps(placed, kind)), abs=1e-6)
    assert placed.notes == ()


@pytest.mark.parametrize("name", ["six", "nine", "mixed", "blockage", "slanted"])
def test_outer_sides_meet_the_live_area(name):
    placed = place(NAMED[name], US_PRINT)
    boxes = [p.outline.bounds for p in placed.panels]
    found = (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )
    assert found == pytest.approx(US_PRINT.live_box_mm, abs=1e-6)


def test_equal_panels_stay_equal():
    placed = place(tiers(3, 3, 3, gutter=0.04), US_PRINT)
    widths = [p.outline.width for p in placed.panels]
    heights = [p.outline.height for p in placed.panels]
    # Arithmetic: (152.4 - 2 * 3) / 3 wide, (228.6 - 2 * 3) / 3 high.
    assert widths == pytest.approx([48.8] * 9)
    assert heights == pytest.approx([74.2] * 9)


def test_bleeds_reach_the_bleed_line():
    placed = place(bleeding(), US_PRINT)
    x0, y0, x1, _ = placed.panels[0].outline.bounds
    assert (x0, y0, x1) == pytest.approx(US_PRINT.bleed_box_mm[:3])
    assert len(placed.panels[0].bleed_sides) == 3
    full = place(splash(), US_PRINT).panels[0]
    assert full.outline.bounds == pytest.approx(US_PRINT.bleed_box_mm)


def test_inset_stays_in_its_host():
    host, small = place(inset(), US_PRINT).panels
    assert host.outline.shape.contains(small.outline.shape)
    assert small.host == 0


def test_slanted_gutter_keeps_its_slant():
    left, right, _ = place(slanted(), US_PRINT).panels
    a, b = panel_sides([left.outline])[1], panel_sides([right.outline])[3]
    assert a.tilt_deg == pytest.approx(b.tilt_deg)
    assert abs(a.tilt_deg) > 5


def test_shape_changes_are_reported():
    placed = place(tiers(2, 2), format_named("square"))
    for change, panel in zip(placed.changes, placed.panels, strict=True):
        assert change.after == pytest.approx(panel.outline.width / panel.outline.height)
        assert change.percent > 30
    same = place(place(tiers(2, 2), US_PRINT).grid(tiers(2, 2)), US_PRINT)
    assert [c.percent for c in same.changes] == pytest.approx([0] * 4, abs=1e-6)


def test_wide_gutter_stays_wider_and_shared_line_shared():
    boxes = [(0.06, 0.06, 0.94, 0.3), (0.06, 0.32, 0.94, 0.5), (0.06, 0.58, 0.94, 0.75)]
    boxes += [(0.06, 0.77, 0.94, 0.85), (0.06, 0.85, 0.94, 0.94)]
    placed = place(Grid(tuple(GridPanel(Outline.box(*b)) for b in boxes), 0.65), US_PRINT)
    # Gaps of 0.02, 0.08, 0.02, 0: usual 0.02, so one gutter is four times as wide.
    assert gaps(placed, GutterKind.TIER) == pytest.approx([3, 12, 3, 0], abs=1e-6)


def test_open_space_is_kept():
    low = Grid((GridPanel(Outline.box(0.06, 0.5, 0.94, 0.94)),), 0.65)
    assert place(low, US_PRINT).panels[0].outline.bounds[1] == pytest.approx(0.5 * 260.35)


def test_too_dense_and_empty_are_refused():
    with pytest.raises(UsageError, match=r"too dense.*panel 1 would be"):
        place(tiers(*[4] * 6), US_PRINT, 45, 45)
    with pytest.raises(UsageError, match="no panels"):
        place(Grid(()), US_PRINT)


@st.composite
def cut_grids(draw):
    """A page cut into cells by random full cuts, then gutters taken from the cells."""

    def cut(box, depth):
        x0, y0, x1, y1 = box
        across = draw(st.booleans())
        if depth == 0 or draw(st.integers(0, 3)) == 0:
            return [box]
        size = (y1 - y0) if across else (x1 - x0)
        if size < 0.3:
            return [box]
        at = draw(st.floats(0.35, 0.65)) * size
        parts = (
            ((x0, y0, x1, y0 + at), (x0, y0 + at, x1, y1))
            if across
            else ((x0, y0, x0 + at, y1), (x0 + at, y0, x1, y1))
        )
        return [leaf for part in parts for leaf in cut(part, depth - 1)]

    half = draw(st.floats(0.004, 0.012))
    cells = cut((0.04, 0.04, 0.96, 0.96), 3)
    inner = [(x0 + half * 1.5, y0 + half, x1 - half * 1.5, y1 - half) for x0, y0, x1, y1 in cells]
    return Grid(tuple(GridPanel(Outline.box(*b)) for b in inner), 2 / 3)


@settings(max_examples=60, deadline=None)
@given(cut_grids(), st.sampled_from([p for p in BUILT_IN.values() if p.name not in ("strip",)]))
def test_any_cut_grid_keeps_its_order_and_gutters(grid, page):
    placed = place(grid, page)
    for kind, mm in (
        (GutterKind.TIER, page.tier_gutter_mm),
        (GutterKind.COLUMN, page.column_gutter_mm),
    ):
        assert all(abs(g - mm) < 0.05 for g in gaps(placed, kind)) or placed.notes
    for a, b in itertools.combinations(placed.panels, 2):
        assert a.outline.shape.intersection(b.outline.shape).area < 0.01
    # What lay beside (above) a panel, sharing a stretch with it, still does.
    for (p, q), (r, s) in zip(
        itertools.combinations(grid.panels, 2),
        itertools.combinations(placed.panels, 2),
        strict=True,
    ):
        for axis in (0, 1):
            a, b, other = p.outline.bounds, q.outline.bounds, 1 - axis
            beside = min(a[other + 2], b[other + 2]) - max(a[other], b[other]) > 0.05
            if beside and a[axis + 2] <= b[axis]:
                assert r.outline.bounds[axis + 2] <= s.outline.bounds[axis] + 1e-6


@st.composite
def any_grids(draw):
    """Panels anywhere, overlapping, askew, bleeding at random."""
    panels = []
    for _ in range(draw(st.integers(1, 6))):
        x = sorted(draw(st.lists(st.floats(0, 1), min_size=2, max_size=2)))
        y = sorted(draw(st.lists(st.floats(0, 1), min_size=2, max_size=2)))
        if x[1] - x[0] < 0.03 or y[1] - y[0] < 0.03:
            continue
        corners = [(x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1])]
        shake = st.floats(-0.01, 0.01)
        outline = Outline.of([(a + draw(shake), b + draw(shake)) for a, b in corners])
        bleed = frozenset(draw(st.sets(st.sampled_from(list(PageEdge)), max_size=2)))
        panels.append(GridPanel(outline, bleed, depth=draw(st.integers(0, 2))))
    return Grid(tuple(panels), draw(st.floats(0.3, 3)))


@settings(max_examples=25, deadline=None)
@given(any_grids(), st.sampled_from(["us-print", "jis-b4", "strip", "wide"]), st.booleans())
def test_any_grid_is_placed_or_refused_in_words(grid, name, clean):
    target = format_named(name)
    try:
        if clean:
            grid = regularize(grid, target).grid
        placed = place(grid, target)
    except UsageError as error:
        assert error.remedy
        return
    svg = svg_bytes(build_page(placed, TemplateOptions(masks=True, words=(5, 0, 300))))
    assert len(placed.panels) == len(grid.panels)
    assert b"NaN" not in svg
    assert b"nan" not in svg


def test_a_small_panel_on_an_open_page_keeps_its_place():
    small = Grid((GridPanel(Outline.box(0.1, 0.02, 0.9, 0.1)),), 0.65)
    x0, y0, x1, y1 = place(small, US_PRINT).panels[0].outline.bounds
    assert (y0, y1) == pytest.approx((0.02 * 260.35, 0.1 * 260.35))
    assert (x0, x1) == pytest.approx((US_PRINT.live_box_mm[0], US_PRINT.live_box_mm[2]))
