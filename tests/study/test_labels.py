from __future__ import annotations

import numpy as np
import pytest

from panelscan.study.habits import study
from panelscan.study.report import report_html
from panelscan.study.shelf import Shelf
from panelscan.study.shots import shot_habits, simpson
from panelscan.study.stages import stage_changes
from tests.study.support import made_up
from tests.study.test_report import shelf_with_geometry


def test_simpson_worked_example():
    # Simpson, E. H. (1949), "Measurement of diversity", Nature 163, doi 10.1038/163688a0: the
    # chance that two drawn with replacement differ is 1 - sum p^2.
    # Worked by hand: shares 2/8, 1/8, 1/8, 4/8 -> 1 - (4 + 1 + 1 + 16)/64 = 42/64.
    assert simpson(np.array([2, 1, 1, 4]) / 8) == pytest.approx(42 / 64)


def test_shots_are_counted_in_reading_order_within_a_book():
    pages, panels, gutters = made_up(pages=4, books=1, mean_panels=2, seed=5)
    panels = panels.sample(frac=1.0, random_state=1)
    order = panels.sort_values(["page_number", "reading_order"]).index
    cycle = np.resize(["long", "long", "close-up"], len(panels))
    panels.loc[order, "shot"] = cycle
    shots = shot_habits(Shelf.of(pages, panels, gutters))
    assert shots is not None
    assert shots.labelled == len(panels)
    assert set(shots.runs) <= {1, 2}
    # After a close-up there is always a long shot in this cycle.
    assert shots.transitions.loc["close-up", "long"] == 1.0


def test_no_labels_no_section():
    shelf = shelf_with_geometry(10)
    assert shot_habits(shelf) is None
    assert 'id="shots"' not in report_html(shelf, study(shelf))


def test_rough_against_final_finds_the_panel_that_grew():
    pages, panels, gutters = made_up(pages=6, books=1, mean_panels=3, seed=1)
    late_pages, late = pages.copy(), panels.copy()
    late_pages["page_id"] += "-inks"
    late["page_id"] += "-inks"
    pages["stage"], late_pages["stage"] = "rough", "inks"
    late_pages["tier_gutter_mm"] += 0.5
    grown = late["reading_order"] == 1
    late.loc[grown, "area_share"] *= 1.2
    import pandas as pd

    both = Shelf.of(pd.concat([pages, late_pages]), pd.concat([panels, late]), gutters)
    assert both.stages is not None
    change = stage_changes(both.stages)
    assert change is not None
    assert change.pages == change.same_count == 6
    assert change.grew_most_place == 1
    assert change.figure("growth_at_1").value == pytest.approx(20.0)
    assert change.figure("growth_at_2").value == pytest.approx(0.0)
    assert change.figure("tier_gutter_change_mm").value == pytest.approx(0.5)
