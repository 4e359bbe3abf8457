"""Rows of panels say what ``layout.describe`` says: there is one truth about a panel."""

from __future__ import annotations

from dataclasses import replace

import pytest

from panelscan.corpus.rows import rows_of
from panelscan.layout.describe import describe_panels
from panelscan.layout.pages import grid_of, lay_out
from panelscan.model.record import PageRecord
from tests.corpus.made_up import make_record
from tests.demo_plans import true_page

SAME = (
    "reading_order", "area_share", "x_min_share", "y_max_share", "aspect", "shape", "tier",
    "place_in_tier", "is_full_tier",
)  # fmt: skip


def record_of(category: str, seed: int) -> PageRecord:
    page = true_page(category, seed)
    layout = lay_out(page.panels, page.frame, page.direction)
    record = make_record("Salt", 1)
    finding = replace(record.finding, panels=page.panels, frame=page.frame)
    grid = grid_of(page.panels, page.frame, layout, page.direction)
    return replace(record, finding=finding, layout=layout, grid=grid, direction=page.direction)


@pytest.mark.parametrize("category", ["slanted", "hand-drawn", "inset", "shaped", "rtl"])
def test_rows_and_description_agree(category):
    for seed in range(4):
        record = record_of(category, seed)
        told = describe_panels(record.layout, record.grid)
        rows = rows_of(record, "2026-03-01T10:00:00Z").panels
        for panel, row in zip(told, rows, strict=True):
            assert {name: row[name] for name in SAME} == {n: getattr(panel, n) for n in SAME}
            assert row["slant_deg"] == (None if panel.shape == "round" else panel.slant_deg)


def test_what_the_finder_called_round_stays_round():
    record = record_of("grid", 0)
    panels = tuple(replace(p, shape_hint="round") for p in record.finding.panels)
    rows = rows_of(replace(record, finding=replace(record.finding, panels=panels)), "").panels
    assert {(row["shape"], row["slant_deg"]) for row in rows} == {("round", None)}
