"""What must hold for every page, drawn by Hypothesis."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.layout.pages import grid_of, lay_out, lay_out_grid
from panelscan.model.grid import CutNode
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import Panel
from tests.assertions import assert_layouts_same
from tests.strategies import (
    FRAME,
    HEIGHT,
    PHASES,
    WIDTH,
    DrawnPage,
    any_page,
    guillotine_pages,
    tiered_pages,
)

LTR, RTL = ReadingDirection.LTR, ReadingDirection.RTL
many = settings(max_examples=40, deadline=None, derandomize=True, phases=PHASES)
some = settings(max_examples=20, deadline=None, derandomize=True, phases=PHASES)


def assert_children_part_their_node(node: CutNode) -> None:
    if node.children:
        assert sorted(i for c in node.children for i in c.panels) == sorted(node.panels)
    for child in node.children:
        assert_children_part_their_node(child)


@many
@given(any_page(), st.sampled_from([LTR, RTL]))
def test_an_order_always_names_every_panel_once(page: DrawnPage, direction: ReadingDirection):
    # Cohn 2013, rules 3 and 4 (second-hand): never jump over a panel, leave none behind.
    layout = lay_out(page.panels, FRAME, direction)
    everyone = list(range(len(page.panels)))
    assert sorted(layout.order) == everyone
    assert all(sorted(choice.order) == everyone for choice in layout.alternatives)
    assert 0 < layout.clarity <= 1
    assert layout.clarity + sum(c.probability for c in layout.alternatives) <= 1 + 1e-9
    assert sorted(k for tier in layout.tiers for k in tier.panels) == everyone
    assert sorted(layout.cut_tree.panels) == everyone
    assert_children_part_their_node(layout.cut_tree)


@many
@given(any_page())
def test_a_mirrored_page_has_the_mirrored_order(page: DrawnPage):
    # Common practice, no source: right-to-left pages mirror left-to-right ones.
    mirrored = [Panel(p.outline.mirrored(WIDTH)) for p in page.panels]
    plain, flipped = lay_out(page.panels, FRAME, LTR), lay_out(mirrored, FRAME, RTL)
    assert flipped.order == plain.order
    assert flipped.clarity == pytest.approx(plain.clarity, abs=1e-6)
    assert [t.panels for t in flipped.tiers] == [t.panels for t in plain.tiers]
    assert [p.reason for p in flipped.partings] == [p.reason for p in plain.partings]


@many
@given(any_page(), st.floats(0.01, 50), st.floats(-500, 500), st.floats(-500, 500))
def test_scale_and_shift_change_nothing(page: DrawnPage, scale: float, dx: float, dy: float):
    moved = [Panel(p.outline.scaled(scale, scale).moved(dx, dy)) for p in page.panels]
    frame = FRAME.scaled(scale, scale).moved(dx, dy)
    assert_layouts_same(lay_out(page.panels, FRAME, LTR), lay_out(moved, frame, LTR), scale)


@some
@given(tiered_pages(), st.floats(0.1, 2.0))
def test_adding_a_border_width_changes_nothing(page: DrawnPage, border: float):
    # Whether a panel is taken to its line's middle or its inner edge is the reader's choice.
    inner = [Panel(Outline.from_shape(p.outline.shape.buffer(-border, join_style="mitre")))
             for p in page.panels]  # fmt: skip
    before, after = lay_out(page.panels, FRAME, LTR), lay_out(inner, FRAME, LTR)
    assert after.order == before.order
    assert [t.panels for t in after.tiers] == [t.panels for t in before.tiers]


@many
@given(any_page(), st.randoms(use_true_random=False))
def test_the_order_in_which_panels_are_given_plays_no_part(page: DrawnPage, random):
    places = list(range(len(page.panels)))
    random.shuffle(places)
    shuffled = [page.panels[i] for i in places]
    plain, again = lay_out(page.panels, FRAME, LTR), lay_out(shuffled, FRAME, LTR)
    boxes = [page.panels[i].outline.bounds for i in plain.order]
    if len(set(boxes)) == len(boxes):
        first, second = plain.clarity, again.clarity
        assert second == pytest.approx(first, abs=0.05)


@some
@given(guillotine_pages())
def test_a_page_seen_at_an_angle_reads_the_same(page: DrawnPage):
    seen = np.array([[0.9, 0.05, 30], [-0.04, 0.95, 20], [0.0002, 0.0001, 1]])

    def tilt(outline: Outline) -> Outline:
        flat = outline.array() @ seen[:, :2].T + seen[:, 2]
        return Outline.of((flat[:, :2] / flat[:, 2:]).tolist())

    tilted = [Panel(tilt(p.outline)) for p in page.panels]
    frame = tilt(FRAME)
    plain, again = lay_out(page.panels, FRAME, LTR), lay_out(tilted, frame, LTR)
    assert again.order == plain.order
    assert len(again.gutters) == len(plain.gutters)
    grid = grid_of(tilted, frame, again, LTR)
    for panel, index in zip(grid.panels, again.order, strict=True):
        wanted = page.panels[index].outline.scaled(1 / WIDTH, 1 / HEIGHT).array()
        assert np.abs(panel.outline.array() - wanted).max() < 1e-6


@some
@given(any_page())
def test_a_grid_keeps_its_own_order_and_the_same_measures(page: DrawnPage):
    layout = lay_out(page.panels, FRAME, LTR)
    grid = grid_of(page.panels, FRAME, layout, LTR)
    again = lay_out_grid(grid)
    assert again.order == tuple(range(len(grid.panels)))
    assert again.patterns == layout.patterns
    assert again.clarity == pytest.approx(layout.clarity, abs=1e-6)
    for name in ("density", "symmetry", "contrast", "rhythm"):
        assert again.measures[name] == pytest.approx(layout.measures[name], rel=1e-6)
    backwards = replace(grid, panels=tuple(replace(p, host=None) for p in grid.panels[::-1]))
    assert lay_out_grid(backwards).order == tuple(range(len(grid.panels)))
