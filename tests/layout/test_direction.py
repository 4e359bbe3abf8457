"""Direction of a book from geometry: a hint that knows how weak it is."""

from __future__ import annotations

import pytest

from panelscan.layout.clarity import log_odds
from panelscan.layout.direction import LTR_PRIOR, infer_direction
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from tests.samples import BLOCKAGE, TALL_FIRST, Box, even_grid

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
    assert infer_direction(book)[0] is LTR and evidence(book) > 0.5
    assert evidence(mirrored(book)) == pytest.approx(-evidence(book), abs=0.1)
    turned = mirrored([outlines(TALL_FIRST)] * 8)
    assert infer_direction(turned)[0] is RTL


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
