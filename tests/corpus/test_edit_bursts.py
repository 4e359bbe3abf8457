"""Bursts of panels whose outlines a person draws anew."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from panelscan.corpus.edit import Draft, apply, finished
from panelscan.model.correction import (
    AddPanel,
    Correction,
    DeletePanel,
    MergePanels,
    MoveCorner,
    PageIsFine,
    SetOutline,
    SplitPanel,
)
from panelscan.model.outline import Outline
from panelscan.model.panel import Panel
from panelscan.model.record import PageRecord
from tests.corpus.made_up import make_record

PANEL, OTHER = Outline.box(100, 300, 1000, 1400), Outline.box(1040, 300, 1900, 1400)
LOWER = Outline.box(100, 1500, 1900, 2900)
HEAD, FOOT = Outline.box(300, 200, 500, 300), Outline.box(200, 1400, 400, 1450)


def page(burst: tuple[Outline, ...] = (HEAD, FOOT)) -> PageRecord:
    record = make_record("Salt", 1, [2, 1])
    panels = (Panel(PANEL, burst=burst), Panel(OTHER), Panel(LOWER))
    return replace(record, finding=replace(record.finding, panels=panels))


def after(record: PageRecord, *corrections: Correction) -> dict[str, Panel]:
    draft = Draft.of(record)
    for revision, correction in enumerate(corrections, start=1):
        draft = apply(draft, correction, revision)
    made, keys = finished(draft)
    return {k: made.finding.panels[i] for k, i in zip(keys, made.layout.order, strict=True)}


def bounds(panel: Panel) -> list[tuple[float, ...]]:
    return [b.bounds for b in panel.burst]


def test_an_outline_moved_over_a_burst_leaves_what_still_sticks_out() -> None:
    panels = after(page(), SetOutline("d0", Outline.box(100, 250, 1000, 1400)))
    assert bounds(panels["d0"]) == [(300, 200, 500, 250), FOOT.bounds]


def test_a_burst_that_a_moved_outline_swallows_is_none_any_more() -> None:
    panels = after(page(), SetOutline("d0", Outline.box(100, 150, 1000, 1449.9)))
    assert panels["d0"].burst == ()


def test_a_moved_corner_cuts_a_burst_aslant() -> None:
    panels = after(page(), MoveCorner("d0", 0, (100.0, 100.0)))
    own, left = panels["d0"].outline.shape, panels["d0"].burst
    assert shapely.union_all([b.shape for b in left]).intersection(own).area < 1e-6
    expected = HEAD.shape.difference(own).area + FOOT.area
    assert sum(b.area for b in left) == pytest.approx(expected)
    assert 0 < expected < HEAD.area + FOOT.area


def test_a_burst_cut_in_two_stays_as_two() -> None:
    peak = Outline.of([(100, 300), (390, 300), (400, 150), (410, 300), (1000, 300), (1000, 1400)])
    assert len(after(page((HEAD,)), SetOutline("d0", peak))["d0"].burst) == 2


def test_an_outline_moved_too_far_and_back_costs_no_burst() -> None:
    far = SetOutline("d0", Outline.box(100, 50, 1000, 1460))
    assert after(page(), far, SetOutline("d0", PANEL))["d0"].burst == (HEAD, FOOT)


def test_a_panel_added_over_a_burst_takes_its_place_until_it_is_deleted() -> None:
    over = AddPanel(Outline.box(280, 180, 400, 290))
    assert bounds(after(page(), over)["d0"])[1:] == [FOOT.bounds]
    left = after(page(), over)["d0"].burst[0].shape
    assert left.equals(HEAD.shape.difference(over.outline.shape))
    assert after(page(), over, DeletePanel("n1"))["d0"].burst == (HEAD, FOOT)


def test_a_panel_added_in_the_midst_of_a_burst_lies_in_none() -> None:
    inner = AddPanel(Outline.box(350, 220, 420, 280))
    shapes = [b.shape for b in after(page((HEAD,)), inner)["d0"].burst]
    assert shapely.union_all(shapes).equals(HEAD.shape.difference(inner.outline.shape))


@pytest.mark.parametrize("upright", [True, False])
def test_each_part_of_a_split_panel_keeps_its_bursts(upright: bool) -> None:
    ends = ((450, 0), (450, 2000)) if upright else ((0, 800), (2000, 800))
    panels = after(page(), SplitPanel("d0", *ends, 20.0))
    bursts = {k: p.burst for k, p in panels.items() if p.burst}
    expected = {"n1a": (HEAD, FOOT)} if upright else {"n1a": (HEAD,), "n1b": (FOOT,)}
    assert bursts == expected


def test_merged_panels_keep_what_sticks_out_of_both() -> None:
    arm = Outline.box(1000, 600, 1030, 700)
    panels = after(page((HEAD, arm)), MergePanels(("d0", "d1")))
    assert panels["n1"].burst == (HEAD,)


def test_an_inset_may_burst_out_over_its_host() -> None:
    inset, head = Outline.box(300, 1700, 700, 2200), Outline.box(400, 1650, 500, 1700)
    record = page()
    panels = (*record.finding.panels, Panel(inset, depth=1, host=2, burst=(head,)))
    record = replace(record, finding=replace(record.finding, panels=panels))
    wider = after(record, SetOutline("d2", Outline.box(100, 1490, 1900, 2900)))
    assert wider["d3"].burst == (head,)


def test_other_corrections_leave_bursts_as_they_are() -> None:
    # As found: reaching into its own panel by a hair.
    deep = Outline.box(300, 200, 500, 301)
    far = SetOutline("d2", Outline.box(100, 1500, 1900, 2800))
    assert after(page((deep,)), PageIsFine(), far)["d0"].burst == (deep,)
