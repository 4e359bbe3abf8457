"""The written grid: drawing, recovering, errors that point at the character."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.errors import NotationError
from panelscan.layout.distance import grid_distance
from panelscan.layout.notation import best_order, in_order, parse_grid, write_grid, written_grid
from panelscan.layout.pages import lay_out_grid
from panelscan.layout.tiers import tier_pattern
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection
from tests.assertions import assert_grids_close
from tests.samples import random_grid
from tests.strategies import PHASES, DrawnPage, grid_of_page, guillotine_pages, heaps, pinwheels

seldom = settings(max_examples=30, deadline=None, derandomize=True, phases=PHASES)


def bounds(grid: Grid, panel: int) -> list[float]:
    return [round(v, 4) for v in grid.panels[panel].outline.bounds]


def test_counts_then_and_over():
    grid = parse_grid("page 1 by 1, margin 10, gutter 2; two then one over one and one")
    assert len(grid) == 5
    assert bounds(grid, 0) == [0.1, 0.1, 0.49, 0.49]
    assert bounds(grid, 2) == [0.1, 0.51, 0.49, 0.695]
    assert bounds(grid, 4) == [0.51, 0.51, 0.9, 0.9]
    assert tier_pattern(lay_out_grid(grid).tiers) == "2-3"


def test_sizes_leave_the_gutters_out():
    grid = parse_grid("page 1 by 1, margin 0, gutter 10; tall 2: one wide 3 and one then one")
    assert bounds(grid, 0) == [0.0, 0.0, 0.675, 0.6]
    assert bounds(grid, 1) == [0.775, 0.0, 1.0, 0.6]
    assert bounds(grid, 2) == [0.0, 0.7, 1.0, 1.0]


def test_digits_and_words_say_the_same():
    assert parse_grid("2 then 3 then 1") == parse_grid("two then three, then ONE")


def test_gutters_are_as_wide_down_as_across_on_any_page():
    grid = parse_grid("page 1 by 2, margin 0, gutter 4; two then two")
    assert bounds(grid, 1)[0] - bounds(grid, 0)[2] == pytest.approx(0.04)
    assert (bounds(grid, 2)[1] - bounds(grid, 0)[3]) * 2 == pytest.approx(0.04)


def test_slant_is_clockwise_to_the_eye():
    grid = parse_grid("page 1 by 1, margin 0, gutter 0; one and slant 10 one")
    left = grid.panels[0].outline.array()
    top, bottom = left[left[:, 1] < 0.5][:, 0].max(), left[left[:, 1] > 0.5][:, 0].max()
    assert top - bottom == pytest.approx(np.tan(np.radians(10)), abs=1e-9)
    tier = parse_grid("page 1 by 1, margin 0, gutter 0; one then slant 10 one").panels[0].outline
    right_end = max(y for x, y in tier.points if x > 0.5)
    assert right_end > max(y for x, y in tier.points if x < 0.5)


def test_right_to_left_is_written_in_reading_order():
    grid = parse_grid("right to left; one wide 3 and one then two")
    assert grid.direction is ReadingDirection.RTL
    assert bounds(grid, 0)[0] > bounds(grid, 1)[0]
    assert grid.panels[0].outline.width > grid.panels[1].outline.width


def test_bleeds_insets_and_rounds():
    grid = parse_grid("one bleed left top right inset 50 50 90 90 inset round 5 5 40 40 then two")
    assert grid.panels[0].bleed == {PageEdge.LEFT, PageEdge.TOP, PageEdge.RIGHT}
    assert bounds(grid, 0)[:3] == [0.0, 0.0, 1.0]
    assert [p.host for p in grid.panels] == [None, 0, 0, None, None]
    # The inset at the top left is read first, whatever was written first.
    assert bounds(grid, 1)[0] < bounds(grid, 2)[0]
    inset, host = grid.panels[2].outline, grid.panels[0].outline
    assert inset.width == pytest.approx(0.4 * host.width)


def test_the_order_can_be_given():
    plain, told = parse_grid("one over one and one"), parse_grid("read 1 3 2; one over one and one")
    assert [p.outline for p in told.panels] == [plain.panels[i].outline for i in (0, 2, 1)]
    assert write_grid(told) == "read 1 3 2; one over one and one"


@pytest.mark.parametrize(
    "text",
    [
        "one",
        "two then three then one",
        "one over one and one",
        "tall 40: two then tall 60: one wide 30 and (one over two) wide 70",
        "right to left; two then one over one and one",
        "margin 6 8, gutter 1 3; two then gap 0 three then one then one",
        "one and slant 8 one then slant -5 two",
        "one bleed all",
        "one bleed left top bottom and one over one",
        "one inset 60 5 95 40 then two",
        "page 130 by 100, fold 50; two then one bleed left right bottom",
        "one round and one",
        "page 70 by 100; loose (one at 0 0 60 55, one at 40 45 100 100)",
    ],
)
def test_canonical_texts_come_back_as_they_are(text: str):
    assert write_grid(parse_grid(text)) == text


def test_a_long_text_settles_after_one_round():
    text = write_grid(parse_grid("one wide 2 and one then tall 1.3: one over one and one wide 1.7"))
    assert write_grid(parse_grid(text)) == text


@seldom
@given(guillotine_pages())
def test_what_cuts_part_is_written_exactly(page: DrawnPage):
    grid = grid_of_page(page)
    grid = in_order(grid, best_order(grid))
    written = written_grid(grid)
    assert written.worst_iou > 0.95
    if written.is_exact:
        assert_grids_close(parse_grid(written.text), grid)
    assert grid_distance(parse_grid(written.text), grid).value < 0.02


@seldom
@given(st.one_of(pinwheels(), heaps(6)))
def test_what_no_cut_parts_is_written_panel_by_panel(page: DrawnPage):
    grid = grid_of_page(page)
    grid = in_order(grid, best_order(grid))
    hosts = lay_out_grid(grid)
    written = written_grid(grid)
    again = parse_grid(written.text)
    assert len(again) == len(grid)
    assert hosts.order == tuple(range(len(grid)))
    assert written.is_exact == (not written.notes)


def test_many_plausible_pages_come_back():
    rng = np.random.default_rng(11)
    exact = 0
    for _ in range(40):
        grid = random_grid(rng)
        grid = in_order(grid, best_order(grid))
        written = written_grid(grid)
        exact += written.is_exact
        assert grid_distance(parse_grid(written.text), grid).value < 0.01
    assert exact >= 38


@pytest.mark.parametrize(
    "text, position, expected",
    [
        ("", 0, "the text ends"),
        ("two than one", 4, "Did you mean 'then'"),
        ("two then", 8, "Expected a number of panels"),
        ("two then (one and one", 21, "Expected '\\)'"),
        ("one tall 2 and one", 0, "write|Write the height before the tier"),
        ("one wide 2 over one", 0, "Put the stack in brackets"),
        ("margin 5, two", 10, "Expected a setting"),
        ("margin 5 4 3; two", 12, "one, two or four numbers"),
        ("page 2 by; two", 9, "Expected a number for the page's height"),
        ("two # one", 4, "'#' has no meaning"),
        ("two bleed left", 4, "write 'one' before it"),
        ("one bleed", 9, "after 'bleed'"),
        ("one inset 60 5 40 40", 10, "left, top, right, bottom"),
        ("one corners 0 0 1", 4, "three pairs"),
        ("read 1 3; two", 0, "each of the 2 panels"),
        ("two then any", 9, "Expected a number of panels"),
        ("one wide -2", 9, "will not do for width: between"),
        ("loose (two at 0 0 1 1)", 7, "Expected 'one at'"),
        ("two one", 4, "Expected 'then', 'and', 'over' or the end"),
    ],
)
def test_errors_point_at_the_character(text: str, position: int, expected: str):
    with pytest.raises(NotationError, match=expected) as caught:
        parse_grid(text)
    assert caught.value.position == position
    assert caught.value.exit_code == 2
    lines = str(caught.value).splitlines()
    assert lines[2] == " " * (2 + position) + "^"


@pytest.mark.parametrize(
    "text", ["margin 45 45 45 45, page 3 by 1; one", "gutter 100; three", "one and gap 95 one"]
)
def test_no_room_is_an_error(text: str):
    with pytest.raises(NotationError, match="cannot be drawn"):
        parse_grid(text)


WORDS = (
    "one two then and over tall wide 2 5 ( ) ; : , gap slant bleed left all inset round loose "
    "at page by margin read corners 0"
).split()


@seldom
@given(st.lists(st.sampled_from(WORDS), max_size=14))
def test_any_words_give_a_grid_or_a_clear_error(words: list[str]):
    try:
        grid = parse_grid(" ".join(words))
    except NotationError as error:
        assert 0 <= error.position <= len(error.text)
        assert error.message
    else:
        assert len(grid) >= 1


def test_odd_pages_are_written_somehow():
    # Slivers, spikes, panels off the page and double panels, as a detector may find them.
    rng = np.random.default_rng(8)
    for _ in range(25):
        panels = []
        for _ in range(int(rng.integers(1, 9))):
            (x, y), (width, height) = rng.uniform(-0.3, 1.2, 2), rng.uniform(1e-6, 0.6, 2)
            spike = [(x, y), (x + width, y + 1e-5), (x + width, y + height)]
            panels.append(GridPanel(Outline.of(spike)))
        panels.append(panels[0])
        grid = Grid(tuple(panels))
        written = written_grid(in_order(grid, best_order(grid)))
        assert len(parse_grid(written.text)) == len(panels)
        assert written.is_exact == (not written.notes)
