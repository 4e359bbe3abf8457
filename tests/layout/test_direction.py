"""Direction of a book: from panels a weak hint, from lettering a good one, from its file best."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.layout.clarity import log_odds
from panelscan.layout.direction import LTR_PRIOR, infer_direction, judge_direction
from panelscan.layout.lettering_start import Starts, lettering_starts
from panelscan.model.direction import DirectionSource
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from tests.samples import BLOCKAGE, TALL_FIRST, Box, even_grid
from tests.strategies import PHASES, any_page

LTR, RTL = ReadingDirection.LTR, ReadingDirection.RTL


def outlines(boxes: list[Box]) -> list[Outline]:
    return [Outline.box(*b) for b in boxes]


def mirrored(pages: list[list[Outline]]) -> list[list[Outline]]:
    return [[o.mirrored(200) for o in page] for page in pages]


def evidence(pages: list[list[Outline]]) -> float:
    """What the pages themselves say, in log odds; positive for left to right."""
    direction, sure = infer_direction(pages)
    odds = log_odds(sure)
    return (odds if direction is LTR else -odds) - LTR_PRIOR


def test_symmetrical_pages_say_nothing():
    for book in ([], [outlines(even_grid(3, 2))] * 10):
        assert infer_direction(book)[0] is LTR
        assert evidence(book) == pytest.approx(0, abs=0.05)


def test_tall_panels_stand_rather_where_reading_starts():
    # Common practice, no source; follows from the published cost of blockage.
    book = [outlines(TALL_FIRST)] * 3 + [outlines(BLOCKAGE)]
    assert infer_direction(book)[0] is LTR and evidence(book) > 0.3
    assert evidence(mirrored(book)) == pytest.approx(-evidence(book), abs=0.1)
    turned = mirrored([outlines(TALL_FIRST)] * 15)
    # Panels alone make a book doubtful, but do not turn it round.
    assert infer_direction(turned)[0] is LTR and infer_direction(turned)[1] < 0.5


def test_one_stack_does_not_turn_a_whole_book_round():
    assert infer_direction([outlines(BLOCKAGE)])[0] is LTR


def test_the_spine_s_margin_tells_odd_from_even():
    # Common practice, no source: odd pages stand right of the spine in left-to-right books.
    odd = outlines([(x0 + 6, y0, x1 + 6, y1) for x0, y0, x1, y1 in even_grid(3, 2)])
    even = outlines([(x0 - 6, y0, x1 - 6, y1) for x0, y0, x1, y1 in even_grid(3, 2)])
    assert evidence([odd, even] * 2) > 0.3
    assert evidence(mirrored([odd, even] * 2)) < -0.3


def test_it_is_never_certain():
    assert infer_direction([outlines(TALL_FIRST)] * 200)[1] <= 0.96
    assert judge_direction([GRID] * 50, [FROM_RIGHT] * 50).confidence <= 0.96


GRID = outlines(even_grid(3, 2))
FROM_LEFT = [
    Outline.box(x0 + dx, y0 + dy, x0 + dx + 30, y0 + dy + 15)
    for x0, y0, _, _ in even_grid(3, 2)
    for dx, dy in ((4, 4), (50, 20))
]
"""In each panel a first piece of lettering at the upper left, a second lower at the right."""
FROM_RIGHT = [piece.mirrored(200) for piece in FROM_LEFT]


def test_lettering_tells_which_way_a_book_is_read():
    # Common practice, no source: lettering starts at the side where reading starts.
    left = judge_direction([GRID] * 2, [FROM_LEFT] * 2)
    assert (left.direction, left.source) == (LTR, DirectionSource.LETTERING)
    right = judge_direction([GRID] * 2, [FROM_RIGHT] * 2)
    assert (right.direction, right.source) == (RTL, DirectionSource.LETTERING)
    assert left.confidence >= right.confidence > 0.9  # the same signs, against the usual


def test_little_lettering_leaves_a_book_as_it_is():
    judged = judge_direction([GRID], [FROM_RIGHT[:4]])
    assert (judged.direction, judged.source) == (LTR, DirectionSource.ASSUMED)
    assert judged.confidence < 0.65


def test_the_file_s_own_word_counts_most():
    # ISO 32000-1:2008, 12.2, Table 150 (from memory): L2R is what a PDF says by default.
    said = judge_direction([GRID] * 3, [FROM_LEFT] * 3, said=RTL)
    assert said.direction is RTL and said.source is DirectionSource.FILE
    assert judge_direction([], said=RTL).confidence == 0.99
    assert 0.95 < judge_direction([], said=LTR).confidence < 0.99
    assert judge_direction([GRID] * 3, [FROM_RIGHT] * 3, said=LTR).direction is RTL


@given(any_page(), any_page(), st.integers(1, 4))
@settings(max_examples=60, deadline=None, phases=PHASES)
def test_the_mirror_image_says_the_opposite(page, lettering, count):
    pages, pieces = [list(page.outlines)], [list(lettering.outlines)]
    told = lettering_starts(pages[0], pieces[0])
    turned = lettering_starts(*(mirrored(side)[0] for side in (pages, pieces)))
    assert (turned.left, turned.right) == pytest.approx((told.right, told.left))
    assert turned.log_odds == pytest.approx(-told.log_odds)
    many = Starts(count * told.left, count * told.right)
    assert abs(many.log_odds) >= abs(told.log_odds) - 1e-9


def test_a_closing_caption_sits_where_reading_ends():
    # Common practice, no source.
    panel = Outline.box(0, 0, 100, 100)
    assert lettering_starts([panel], [Outline.box(60, 80, 98, 98)]) == Starts(left=1.0)
    assert lettering_starts([panel], [Outline.box(2, 2, 40, 20)]) == Starts(left=1.0)
    assert lettering_starts([panel], [Outline.box(60, 2, 98, 20)]) == Starts(right=1.0)
    assert lettering_starts([panel], [Outline.box(30, 2, 70, 20)]) == Starts()


def test_lettering_belongs_to_the_smallest_panel_that_holds_it():
    host, inset = Outline.box(0, 0, 200, 200), Outline.box(100, 100, 190, 190)
    pieces = [Outline.box(101, 101, 140, 120)]
    assert lettering_starts([host, inset], pieces) == Starts(left=1.0)
    assert lettering_starts([host], pieces) == Starts()
    assert lettering_starts([], pieces) == lettering_starts([host], []) == Starts()
