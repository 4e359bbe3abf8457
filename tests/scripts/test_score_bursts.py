"""The scores of art over borders on answers known beforehand."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

from score_bursts import burst_areas, false_bursts, visible_bursts
from score_page import PageScore
from score_table import burst_figures, burst_line

from panelscan.demo.truth import PageTruth, PanelTruth
from panelscan.model.outline import Outline
from panelscan.model.panel import Panel

LEFT, RIGHT = Outline.box(10, 10, 90, 90), Outline.box(100, 10, 180, 90)
ARM = Outline.box(90, 40, 120, 50)
"""Reaches from the left panel across the gutter into the right one, which lies in front."""


def truth(balloons: tuple[Outline, ...] = (), burst: tuple[Outline, ...] = (ARM,)) -> PageTruth:
    return PageTruth(
        200, 100, (Outline.box(0, 0, 200, 100),),
        (PanelTruth(LEFT, burst=burst), PanelTruth(RIGHT)), balloons=balloons,
    )  # fmt: skip


def test_what_a_later_panel_hides_is_not_asked_for() -> None:
    assert [g.area for g in visible_bursts(truth())] == [100, 0]
    found = [Panel(LEFT, burst=(Outline.box(90, 40, 100, 50),)), Panel(RIGHT)]
    assert burst_areas(truth(), found) == (100, 0, 0)
    assert false_bursts(truth(), found) == (0, 6400)


def test_areas_found_wrongly_and_missed_are_told() -> None:
    # Source: arithmetic; half the arm found, and a patch of 60 px where nothing sticks out.
    found = [
        Panel(LEFT, burst=(Outline.box(90, 40, 95, 50),)),
        Panel(RIGHT, burst=(Outline.box(180, 20, 190, 26),)),
    ]
    assert burst_areas(truth(), found) == (50, 60, 50)
    assert false_bursts(truth(), found) == (6400, 6400)


def test_balloons_count_neither_way() -> None:
    balloon = Outline.box(85, 30, 115, 60)
    found = [Panel(LEFT), Panel(RIGHT, burst=(Outline.box(90, 35, 100, 55),))]
    assert burst_areas(truth((balloon,)), found) == (0, 0, 0)
    assert false_bursts(truth((balloon,)), found) == (0, 6400)


def test_a_page_without_bursts_counts_for_false_ones_only() -> None:
    found = [Panel(LEFT, burst=(Outline.box(90, 35, 100, 55),)), Panel(RIGHT)]
    assert burst_areas(truth(burst=()), found) == (0, 0, 0)
    assert false_bursts(truth(burst=()), found) == (6400, 12800)


def test_figures_of_many_pages_add_up_by_area() -> None:
    pages = [
        PageScore("a", "burst", "book", burst=(50, 60, 50), burst_false=(6400, 6400)),
        PageScore("b", "burst", "book", burst=(100, 0, 0), burst_false=(0, 6400)),
        PageScore("c", "grid", "book", burst_false=(0, 12800)),
    ]
    told = burst_figures(pages)
    assert told["pages with bursts"] == 2
    assert told["f1"] == pytest.approx(300 / (300 + 110))
    assert told["recall"] == pytest.approx(150 / 200)
    assert told["panels wrongly with one"] == 0.25
    assert "F1 0.732, recall 0.750 by area on 2 pages" in burst_line("burst", pages)
    assert math.isnan(burst_figures([PageScore("d", "grid", "book")])["f1"])
