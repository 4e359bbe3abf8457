"""The order as a relation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings

from panelscan.layout.gutters import neighbours_of, shared_sides
from panelscan.layout.notation import parse_grid
from panelscan.layout.pages import lay_out, lay_out_grid
from panelscan.layout.succession import precedence, succession
from panelscan.model.page import ReadingDirection
from tests.strategies import FRAME, PHASES, DrawnPage, any_page


@settings(max_examples=25, deadline=None, derandomize=True, phases=PHASES)
@given(any_page())
def test_every_reader_reaches_every_panel_once(page: DrawnPage):
    layout = lay_out(page.panels, FRAME, ReadingDirection.LTR)
    steps = succession(layout)
    for panel in range(len(page.panels)):
        assert sum(s.share for s in steps if s.after == panel) == pytest.approx(1)
    assert sum(s.share for s in steps if s.before is None) == pytest.approx(1)
    first = precedence(layout)
    off = ~np.eye(len(first), dtype=bool)
    assert (first + first.T)[off] == pytest.approx(1) and not first.diagonal().any()


def test_a_plain_row_leaves_no_choice():
    steps = succession(lay_out_grid(parse_grid("three")))
    assert [(s.before, s.after, s.share) for s in steps] == [(None, 0, 1), (0, 1, 1), (1, 2, 1)]


def test_neighbours_and_shared_sides():
    layout = lay_out_grid(parse_grid("two and gap 0 one then one"))
    assert neighbours_of(layout.gutters) == {0: {1, 3}, 1: {0, 2, 3}, 2: {1, 3}, 3: {0, 1, 2}}
    assert shared_sides(layout.gutters) == ((1, 2),)


def test_panels_across_the_fold_are_counted():
    text = "page 13 by 10, fold 50; two then one"
    assert lay_out_grid(parse_grid(text)).measures["across_fold"] == 1
    assert "across_fold" not in lay_out_grid(parse_grid("two then one")).measures
