"""Other readings count for panels, tiers, gutters, shapes and bleeds."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from panelscan.study import other_readings
from panelscan.study.estimate import page_mean, row_median, sheet_weights
from panelscan.study.grids import grid_figures, grid_uses
from panelscan.study.habits import study
from panelscan.study.shelf import Shelf
from panelscan.study.spacing import gutter_figures
from tests.study.support import made_up

WIDTH, HEIGHT = 1000.0, 1500.0
Box = tuple[float, float, float, float]


def ring(box: Box, lean: float = 0.0) -> list[list[float]]:
    x0, y0, x1, y1 = box
    return [[x0 + lean, y0], [x1 + lean, y0], [x1, y1], [x0, y1]]


def tiers(count: int, gap: float = 20.0) -> list[Box]:
    """Boxes of equal tiers between 100 and 1400 px."""
    tall = (1300 - gap * (count - 1)) / count
    return [(50, 100 + k * (tall + gap), 950, 100 + k * (tall + gap) + tall) for k in range(count)]


def shelf_with(
    best: list[Box], readings: list[dict], pages: int = 40, reviewed: bool = False
) -> Shelf:
    """Pages that all have the same best reading and the same other ones."""
    page_rows, _, gutters = made_up(pages=pages, books=1)
    page_rows = page_rows.assign(
        panel_count=len(best), tier_count=len(best), tier_pattern="-".join("1" * len(best)),
        readings=json.dumps(readings), reviewed=reviewed, width_mm=200.0, height_mm=300.0,
        bleed_left=False,
    )  # fmt: skip
    rows = []
    for page_id in page_rows["page_id"]:
        for place, (x0, y0, x1, y1) in enumerate(best, start=1):
            rows.append(
                {
                    "page_id": page_id, "reading_order": place, "confidence": 0.9,
                    "area_share": (x1 - x0) * (y1 - y0) / WIDTH / HEIGHT,
                    "aspect": (x1 - x0) / (y1 - y0), "shape": "rectangle", "slant_deg": 0.0,
                    "is_inset": False, "is_full_tier": True, "depth": 0, "border_mm": 0.6,
                    "x_min_share": x0 / WIDTH, "y_min_share": y0 / HEIGHT,
                    "x_max_share": x1 / WIDTH, "y_max_share": y1 / HEIGHT,
                }
            )  # fmt: skip
    return Shelf.of(page_rows, pd.DataFrame(rows), gutters.iloc[:0])


def reading(probability: float, boxes: list[Box], lean: float = 0.0) -> dict:
    return {"probability": probability, "panels": [ring(box, lean) for box in boxes]}


def test_the_same_panels_a_little_off_are_no_other_reading():
    off = [(x0 + 4, y0 + 4, x1 - 4, y1 - 4) for x0, y0, x1, y1 in tiers(3)]
    shelf = shelf_with(tiers(3), [reading(0.6, off)])
    assert not shelf.is_open
    assert study(shelf).figure("panels_per_page_mean").value == 3.0


def test_tiers_patterns_shapes_and_gutters_follow_the_reading():
    # A quarter of the pages has four tiers with gutters of 40 px (8 mm) in truth.
    shelf = shelf_with(tiers(3), [reading(0.25, tiers(4, gap=40.0))])
    habits = study(shelf)
    assert habits.figure("panels_per_page_mean").value == pytest.approx(3.25)
    assert habits.figure("tiers_mean").value == pytest.approx(3.25)
    assert habits.figure("tier_gutter_mm").value == pytest.approx(8.0, abs=0.05)
    uses = {u.pattern: u.share for u in habits.grids}
    assert uses["1-1-1"] == pytest.approx(0.75)
    assert habits.tier_counts == pytest.approx({3: 30.0, 4: 10.0})
    assert sheet_weights(shelf).sum() == pytest.approx(len(shelf))


def test_a_reading_with_slanted_panels_counts_as_slanted():
    leaning = reading(0.5, tiers(3), lean=120.0)
    habits = study(shelf_with(tiers(3), [leaning]))
    assert habits.figure("slanted_share").value == pytest.approx(50.0)
    assert habits.figure("slant_deg").value == pytest.approx(
        np.degrees(np.arctan2(120.0, 420.0)), abs=1.0
    )


def test_a_reading_that_bleeds_is_another_one_though_it_overlaps_well():
    wide = [(0.0, y0, x1, y1) for _, y0, x1, y1 in tiers(3)]
    habits = study(shelf_with(tiers(3), [reading(0.25, wide)]))
    assert habits.figure("bleed_left_share").value == pytest.approx(25.0)
    assert habits.figure("margin_left").value == pytest.approx(10.0, abs=0.05)


def test_measures_that_need_the_picture_stay_with_the_panels_that_two_readings_share():
    boxes = tiers(3)
    merged = [boxes[0], (50, boxes[1][1], 950, boxes[2][3])]
    shelf = shelf_with(boxes, [reading(0.5, merged)])
    rows = shelf.others.panels
    assert rows["border_mm"].notna().sum() == rows["page"].nunique()
    assert study(shelf).figure("panels_per_page_mean").value == pytest.approx(2.5)
    assert rows["is_full_tier"].all()


def test_outlines_that_were_never_measured_are_put_right_by_those_that_were():
    # The other reading lies 3 px inside everywhere, as readings do before sides are measured.
    def inner(boxes: list[Box]) -> list[Box]:
        return [(x0 + 3, y0 + 3, x1 - 3, y1 - 3) for x0, y0, x1, y1 in boxes]

    best = tiers(4)
    middle = (best[1][0], best[1][1], best[1][2], best[2][3])
    split = [(50, middle[1], 490, middle[3]), (510, middle[1], 950, middle[3])]
    shelf = shelf_with(best, [reading(0.5, inner([best[0], *split, best[3]]))])
    columns = shelf.others.gutters.query("kind == 'column'")
    assert columns["width_px"].to_numpy() == pytest.approx(20.0, abs=0.5)


def test_reviewed_pages_have_one_reading():
    shelf = shelf_with(tiers(3), [reading(0.5, tiers(4))], reviewed=True)
    assert not shelf.is_open


def test_a_sample_of_pages_stands_for_a_large_shelf(monkeypatch):
    monkeypatch.setattr(other_readings, "MOST_READ", 50)
    shelf = shelf_with(tiers(3), [reading(0.5, tiers(4))], pages=400)
    assert shelf.others.scale == 8.0
    figure = study(shelf).figure("panels_per_page_mean")
    assert figure.value == pytest.approx(3.5, abs=0.02)
    # What a sample of 50 pages leaves open of a share of one half: about 0.07 panels.
    assert 0.05 < figure.high - figure.low < 0.5


def test_draws_hit_each_probability_and_stay_between_neighbouring_counts():
    rng = np.random.default_rng(0)
    odds = np.array([0.3, 0.15])
    drawn = np.array([other_readings._draw(odds, rng) for _ in range(2000)])
    shares = [(drawn == k).mean() for k in range(3)]
    assert shares == pytest.approx([0.55, 0.3, 0.15], abs=0.01)
    counts = (drawn == 1).sum(axis=1)
    assert set(counts) <= {2, 3}


def test_part_of_a_shelf_keeps_its_readings():
    shelf = shelf_with(tiers(3), [reading(0.5, tiers(4))])
    half = shelf.part(np.arange(40) >= 20)
    assert len(half) == 20
    assert page_mean(half, "x", "x", half.numbers("panel_count")).value == pytest.approx(3.5)
    rows = half.panel_rows
    assert row_median(half, "x", "x", rows.sheet, rows.numbers("x_min_share")).value == (
        pytest.approx(0.05)
    )
    assert grid_uses(half)[0].pattern in ("1-1-1", "1-1-1-1")
    assert grid_figures(half)[0].value == pytest.approx(2.0, abs=0.2)


def test_gutters_count_by_the_less_sure_of_their_panels():
    pages, panels, gutters = made_up(pages=30, books=1, mean_panels=4.0)
    second = panels["reading_order"] == 2
    panels.loc[second, "confidence"] = 0.0
    shelf = Shelf.of(pages, panels, gutters)
    beside = (gutters["panel_a"] == 2) | (gutters["panel_b"] == 2)
    assert shelf.gutter_confidence == pytest.approx(np.where(beside, 0.0, 0.95))
    figure = gutter_figures(shelf)[0]
    assert figure.value == pytest.approx(gutters.loc[~beside, "width_mm"].median(), abs=0.02)
