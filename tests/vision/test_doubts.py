from __future__ import annotations

import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.panel import Panel, Side, SideState
from panelscan.vision.doubts import border_doubts, page_doubts, with_hosts
from panelscan.vision.left_out import BordersLeft
from panelscan.vision.selection import ChosenSet
from panelscan.vision.working import Working

SETS = [ChosenSet((0,), 2.0)]


def test_the_smallest_panel_around_an_inset_is_its_host() -> None:
    page, tier, inset = (
        Panel(Outline.box(0, 0, 100, 100)),
        Panel(Outline.box(10, 10, 90, 50)),
        Panel(Outline.box(20, 20, 40, 40)),
    )
    found = with_hosts([inset, page, tier])
    assert [p.host for p in found] == [2, None, 1]
    assert [p.depth for p in found] == [2, 0, 1]


def test_guessed_sides_and_unsure_panels_are_told() -> None:
    sides = (Side(SideState.INFERRED, 0.0), Side(), Side(), Side())
    panel = Panel(Outline.box(0, 0, 10, 10), sides, confidence=0.4)
    kinds = [d.kind for d in page_doubts([panel], 0.9, SETS)]
    assert kinds == ["unsure-panel", "inferred-side"]


def test_a_close_second_set_is_told_on_an_unsure_page_only() -> None:
    close = [ChosenSet((0,), 2.0), ChosenSet((), 1.995)]
    panel = Panel(Outline.box(0, 0, 10, 10), confidence=0.9)
    assert [d.kind for d in page_doubts([panel], 0.3, close)] == ["close-second"]
    assert page_doubts([panel], 0.9, close) == ()


def test_a_border_that_is_no_panels_is_shown_where_it_lies() -> None:
    twice = np.diag([2.0, 2.0, 1.0])
    work = Working(np.zeros((500, 300, 3), np.uint8), np.zeros((500, 300), np.uint8), twice, 0.5)
    (doubt,) = border_doubts(BordersLeft(0.5, (100.0, 40.0)), work)
    assert (doubt.kind, doubt.place) == ("border-left-out", (200.0, 80.0))
    assert border_doubts(BordersLeft(0.1, (100.0, 40.0)), work) == ()
    assert border_doubts(BordersLeft(), work) == ()
