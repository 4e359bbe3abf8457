"""The reading order against published experiments and printed pages.

Sources: [C13] N. Cohn 2013, Frontiers in Psychology 4:186, doi 10.3389/fpsyg.2013.00186.
[CC15] N. Cohn and H. Campbell 2015, Applied Cognitive Psychology 29(2), doi
10.1002/acp.3086. [C16] N. Cohn, post of 30 Aug 2016, Visual Language Lab. Figures marked
"second-hand" are quoted in public notes; the papers' tables were not read.
"""

from __future__ import annotations

import itertools

import pytest
from scipy.stats import kendalltau

from panelscan.layout import clarity
from panelscan.layout.pages import lay_out
from panelscan.model.grid import PageLayout
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import Panel
from tests.samples import (
    BLOCKAGE,
    FRAME,
    PINWHEEL,
    TALL_BETWEEN,
    TALL_FIRST,
    Box,
    even_grid,
    panels_of,
    staggered,
)

LTR, RTL = ReadingDirection.LTR, ReadingDirection.RTL


def laid_out(boxes: list[Box], direction: ReadingDirection = LTR) -> PageLayout:
    return lay_out(panels_of(boxes), FRAME, direction)


def rows_share(layout: PageLayout, row_order: tuple[int, ...]) -> float:
    """Probability that the layout gives to one order."""
    if layout.order == row_order:
        return layout.clarity
    return next((c.probability for c in layout.alternatives if c.order == row_order), 0.0)


@pytest.mark.parametrize("rows", [2, 3])
def test_a_regular_grid_is_read_row_by_row(rows: int):
    # Check 1. C13: 94 % row first on a 2 x 3 page; CC15: 95 % on the grid (second-hand).
    layout = laid_out(even_grid(rows, 3))
    assert layout.order == tuple(range(3 * rows))
    assert kendalltau(layout.order, range(3 * rows)).statistic == pytest.approx(1.0)
    assert 0.94 <= layout.clarity <= 0.95
    assert "regular grid" in layout.patterns


@pytest.mark.parametrize("rows", [2, 3])
def test_a_right_to_left_grid_is_read_in_mirrored_rows(rows: int):
    # Check 2. Common practice, no source: mirror left and right.
    boxes = even_grid(rows, 3)
    expected = [r * 3 + c for r in range(rows) for c in (2, 1, 0)]
    assert laid_out(boxes, RTL).order == tuple(expected)


def test_a_tall_panel_that_closes_a_stack_is_read_last():
    # Check 3. C13 by way of C16 (author's own words): about 32 % row first on blockage.
    # CC15 (second-hand): under 10 % where the upright gutter runs over the whole page.
    layout = laid_out(BLOCKAGE)
    assert layout.order == (0, 1, 2)
    assert "blockage" in layout.patterns
    assert [p.reason for p in layout.partings] == ["blockage"]
    assert rows_share(layout, (0, 2, 1)) == pytest.approx(0.09, abs=0.01)
    # Against the row order A, C, B: tau = 1/3 (arithmetic).
    assert kendalltau([0, 1, 2], [0, 2, 1]).statistic == pytest.approx(1 / 3)


def test_blockage_inside_a_page_leaves_a_third_with_the_rows():
    # Check 3, within a page of more tiers. C13 (C16): about 32 %; CC15: 31 % (second-hand).
    boxes = [(10, 10, 190, 90), (10, 94, 98, 140), (10, 144, 98, 190), (102, 94, 190, 190),
             (10, 194, 190, 290)]  # fmt: skip
    layout = laid_out(boxes)
    assert layout.order == (0, 1, 2, 3, 4)
    assert rows_share(layout, (0, 1, 3, 2, 4)) == pytest.approx(0.315, abs=0.01)


@pytest.mark.parametrize("shares", [(0.3, 0.7), (0.5, 0.5), (0.8, 0.2)])
def test_blockage_does_not_depend_on_where_the_stack_is_cut(shares: tuple[float, float]):
    middle = 10 + 280 * shares[0]
    boxes = [(10, 10, 98, middle - 2), (10, middle + 2, 98, 290), (102, 10, 190, 290)]
    assert laid_out(boxes).order == (0, 1, 2)


def test_a_tall_panel_on_the_near_side_is_read_first_whatever_the_rule():
    # Check 4. C16: reverse blockage gives the same order by rows and by columns.
    layout = laid_out(TALL_FIRST)
    assert layout.order == (0, 1, 2)
    assert layout.alternatives == ()
    assert layout.partings == ()


def test_from_stagger_to_blockage_the_order_turns_once_and_gets_less_sure_before():
    # Check 5. CC15 abstract: row-first reading drops step by step as the page departs from
    # a grid; 90 % on stagger (second-hand), 31 % on blockage. Where it turns is unpublished.
    slides = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.97]
    layouts = [laid_out(staggered(slide)) for slide in slides]
    rows = [rows_share(layout, (0, 1, 2, 3)) for layout in layouts]
    assert all(a >= b for a, b in itertools.pairwise(rows))
    assert all(a > b + 0.01 for a, b in itertools.pairwise(rows[1:8]))
    row_first = [layout.order == (0, 1, 2, 3) for layout in layouts]
    assert row_first == sorted(row_first, reverse=True)
    assert row_first[0] and row_first[3] and not row_first[-1]
    assert laid_out(BLOCKAGE).order == (0, 1, 2)
    assert rows[2] == pytest.approx(0.895, abs=0.02)


def test_a_wide_upright_gutter_separates_but_the_rows_still_lead():
    # Check 6. C13 (second-hand): about 72 % keep to the row at a wide gap.
    even, wide = laid_out(even_grid(2, 2)), laid_out(even_grid(2, 2, across=12))
    assert wide.order == even.order == (0, 1, 2, 3)
    assert wide.clarity == pytest.approx(0.72, abs=0.01) and wide.clarity < even.clarity
    assert "separation" in wide.patterns and "separation" not in even.patterns
    # A wide level gutter only holds the rows together.
    assert laid_out(even_grid(2, 2, down=12)).clarity >= even.clarity


def test_two_overlapping_panels_leave_readers_evenly_split():
    # Check 7. C13 and CC15 (second-hand): about half go either way.
    layout = laid_out([(20, 30, 120, 170), (90, 110, 185, 270)])
    assert layout.order == (0, 1)
    assert layout.clarity == pytest.approx(0.5, abs=0.02)
    assert layout.alternatives[0].order == (1, 0)
    assert [p.reason for p in layout.partings] == ["overlap"]
    others = [even_grid(2, 2), BLOCKAGE, staggered(0.3), even_grid(2, 2, across=12)]
    assert layout.clarity < min(laid_out(boxes).clarity for boxes in others)


def test_a_tall_panel_between_two_stacks_is_read_along_the_first_row():
    # Check 8. One printed page of 1943 (What Were Comics? project blog): A, T, B, C, D.
    layout = laid_out(TALL_BETWEEN)
    assert layout.order == (0, 1, 2, 3, 4)
    assert layout.clarity < 0.7


def test_reading_starts_at_the_entry_corner():
    # Check 9. Entry at the top-left is preferred (from memory: a strong majority).
    for boxes in (even_grid(3, 3), BLOCKAGE, TALL_BETWEEN, PINWHEEL, staggered(0.4)):
        first = boxes[laid_out(boxes).order[0]]
        assert first[0] == min(b[0] for b in boxes) and first[1] == min(b[1] for b in boxes)
        last = boxes[laid_out(boxes, RTL).order[0]]
        assert last[2] == max(b[2] for b in boxes) and last[1] == min(b[1] for b in boxes)


@pytest.mark.parametrize("rows, columns, tau", [(2, 3, 0.6), (3, 3, 0.5)])
def test_row_order_against_column_order(rows: int, columns: int, tau: float):
    # Check 10. Arithmetic: Q = C(r,2) C(c,2) discordant pairs.
    layout = laid_out(even_grid(rows, columns))
    by_columns = [r * columns + c for c in range(columns) for r in range(rows)]
    assert layout.alternatives[0].order == tuple(by_columns)
    ranks = [by_columns.index(i) for i in layout.order]
    assert kendalltau(range(len(ranks)), ranks).statistic == pytest.approx(tau)


def test_the_fitted_curve_passes_through_every_published_share():
    for unbroken, blocked in ((False, clarity.BLOCKAGE), (True, clarity.FULL_BLOCKAGE)):
        shares = [clarity.rows_share(s, unbroken) for s in (0, 0.2, clarity.BLOCKED_AT)]
        wanted = [clarity.GRID, clarity.STAGGER, blocked]
        assert shares == pytest.approx([w.rows_share for w in wanted])
    assert {s.standing for s in clarity.PUBLISHED} == {"abstract", "second-hand"}
    assert {s.standing for s in clarity.ASSUMED} == {"assumed"}


def test_pull_away_from_rows_is_ranked_as_published():
    # Ranking from the figures of both papers (second-hand): full blockage > blockage >
    # overlap > separation > staggering > grid.
    ranked = [clarity.FULL_BLOCKAGE, clarity.BLOCKAGE, clarity.OVERLAP, clarity.SEPARATION,
              clarity.STAGGER, clarity.GRID]  # fmt: skip
    shares = [s.rows_share for s in ranked]
    assert shares == sorted(shares)


def test_an_inset_is_read_after_its_host_begins():
    boxes = [(10, 10, 190, 140), (130, 90, 180, 130), (10, 144, 98, 290), (102, 144, 190, 290)]
    layout = laid_out(boxes)
    assert layout.order == (0, 1, 2, 3)
    assert "inset" in layout.patterns
    assert layout.tiers[0].panels == (0, 1)


def test_panels_on_a_full_page_picture_are_read_after_it_as_a_page_of_their_own():
    boxes = [(0, 0, 200, 300), (110, 20, 190, 90), (10, 20, 90, 90), (10, 200, 90, 280)]
    layout = laid_out(boxes)
    assert layout.order == (0, 2, 1, 3)
    assert [t.panels for t in layout.tiers] == [(0,), (1, 2), (3,)]


def test_facing_pages_are_read_page_by_page_unless_a_panel_crosses_the_fold():
    frame = Outline.box(0, 0, 400, 300)
    left = even_grid(2, 1)
    right = [(x0 + 200, y0, x1 + 200, y1) for x0, y0, x1, y1 in left]
    panels = panels_of([*left, *right])
    layout = lay_out(panels, frame, LTR, fold_x=200)
    assert layout.order == (0, 1, 2, 3)
    assert [len(t.panels) for t in layout.tiers] == [1, 1, 1, 1]
    assert "spread" in layout.patterns
    assert lay_out(panels, frame, RTL, fold_x=200).order == (2, 3, 0, 1)
    # One picture across the top; below it a tier on each page.
    crossing = panels_of([(10, 10, 390, 140), (10, 150, 190, 290), (210, 150, 390, 290)])
    layout = lay_out(crossing, frame, LTR, fold_x=200)
    assert layout.order == (0, 1, 2)
    assert next(len(t.panels) for t in layout.tiers) == 1


def test_sixteen_panels_without_a_cut_are_ordered_exactly():
    from itertools import permutations

    import numpy as np

    from panelscan.layout.group_order import exact_order

    rng = np.random.default_rng(5)
    odds = rng.normal(size=(6, 6))
    odds -= odds.T
    best = max(
        permutations(range(6)),
        key=lambda o: sum(odds[o[a], o[b]] for a in range(6) for b in range(a + 1, 6)),
    )
    assert exact_order(odds) == best
    ranks = np.arange(16)
    sure = np.sign(ranks[None, :] - ranks[:, None]).astype(float)
    assert exact_order(sure) == tuple(range(16))


def test_a_page_without_panels_and_a_page_of_one():
    empty = lay_out([], FRAME, LTR)
    assert empty.order == () and empty.tiers == () and empty.measures["density"] == 0
    one = lay_out([Panel(Outline.box(0, 0, 200, 300))], FRAME, LTR)
    assert one.clarity == 1.0 and "splash" in one.patterns and "bleed" in one.patterns
