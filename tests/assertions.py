"""Comparisons with a tolerance, shared by tests."""

from __future__ import annotations

import pytest

from panelscan.layout.notation_corners import ring_iou
from panelscan.model.grid import Grid, PageLayout


def assert_grids_close(first: Grid, second: Grid, least_iou: float = 0.98) -> None:
    """Same panels in the same order with the same bleeds and hosts."""
    assert len(first) == len(second)
    assert first.direction is second.direction
    for k, (a, b) in enumerate(zip(first.panels, second.panels, strict=True)):
        iou = ring_iou(a.outline.array(), b.outline.array())
        assert iou >= least_iou, f"panel {k + 1}: IoU {iou:.3f}"
        assert (a.bleed, a.host) == (b.bleed, b.host), f"panel {k + 1}"


def assert_layouts_same(first: PageLayout, second: PageLayout, length: float = 1.0) -> None:
    """Same order, probabilities and structure; lengths differ by a factor."""
    assert first.order == second.order
    assert first.clarity == pytest.approx(second.clarity, abs=1e-6)
    assert first.patterns == second.patterns
    assert [t.panels for t in first.tiers] == [t.panels for t in second.tiers]
    assert first.cut_tree == second.cut_tree
    assert [g.panels for g in first.gutters] == [g.panels for g in second.gutters]
    for a, b in zip(first.gutters, second.gutters, strict=True):
        assert a.width * length == pytest.approx(b.width, abs=1e-6 * length)
