from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from panelscan.errors import NothingFound
from panelscan.study.drift import change_points
from panelscan.study.figures import differs
from panelscan.study.habits import page_figures, study
from panelscan.study.rhythm import autocorrelation
from panelscan.study.shelf import Shelf
from panelscan.study.spacing import gutter_figures
from panelscan.study.uncertainty import entropy_of
from tests.study.support import made_up


def test_mean_and_shares_equal_plain_pandas():
    pages, panels, gutters = made_up()
    habits = study(Shelf.of(pages, panels, gutters))
    figure = habits.figure("panels_per_page_mean")
    assert figure.value == pytest.approx(pages["panel_count"].mean())
    assert figure.low < figure.value < figure.high
    assert habits.figure("bleed_share").value == pytest.approx(100 * pages["bleed_left"].mean())
    median = habits.figure("tier_gutter_mm").value
    assert median == pytest.approx(gutters["width_mm"].median(), abs=0.02)


def test_numacc1_mean_and_deviation_survive_a_large_offset():
    # NIST StRD NumAcc1 (10000001, 10000003, 10000002): mean 10000002, deviation 1; from memory.
    values = np.array([10000001.0, 10000003.0, 10000002.0])
    pages, panels, gutters = made_up(pages=3, books=1, mean_panels=2)
    pages["tier_count"] = values
    figure = page_figures(Shelf.of(pages, panels, gutters))[1]
    assert figure.value == 10000002.0
    assert np.std(values, ddof=1) == 1.0


def test_entropy_against_scipy():
    # Reference: scipy.stats.entropy, natural logarithm.
    counts = np.array([[5.0, 3.0, 2.0, 0.0], [1.0, 1.0, 1.0, 1.0]])
    wanted = [scipy.stats.entropy(row) for row in counts]
    assert entropy_of(counts) == pytest.approx(wanted)


def test_autocorrelation_of_alternating_series():
    # r_1 of +1, -1 repeated is -(N - 1)/N (arithmetic).
    series = np.tile([1.0, -1.0], 10)
    assert autocorrelation(series) == pytest.approx(-19 / 20)


@pytest.mark.parametrize("true_mean", [3.0, 6.0])
def test_intervals_hold_the_true_mean(true_mean):
    inside = 0
    runs = 80
    for seed in range(runs):
        pages, panels, gutters = made_up(pages=80, seed=seed, mean_panels=true_mean)
        figure = page_figures(Shelf.of(pages, panels, gutters, seed=seed))[0]
        inside += figure.low <= true_mean <= figure.high
    # 90 % intervals; 80 runs leave about +-7 points at two standard errors.
    assert 0.82 <= inside / runs <= 0.98


def test_change_point_is_found_where_the_level_steps():
    rng = np.random.default_rng(3)
    series = np.concatenate([rng.normal(5, 0.3, 12), rng.normal(7, 0.3, 9)])
    assert change_points(series) == [12]
    assert change_points(rng.normal(5, 0.3, 20)) == []


def test_readings_widen_the_interval_and_move_the_mean():
    pages, panels, gutters = made_up(pages=40, seed=2)
    plain = page_figures(Shelf.of(pages, panels, gutters))[0]
    doubt = '[{"probability": 0.5, "panels": [[[0,0],[900,0],[900,1400],[0,1400]]]}]'
    pages.loc[:19, "readings"] = doubt
    doubtful = page_figures(Shelf.of(pages, panels, gutters))[0]
    first = pages.loc[:19, "panel_count"]
    expected = (0.5 * first.sum() + 0.5 * 20 + pages.loc[20:, "panel_count"].sum()) / 40
    assert doubtful.value == pytest.approx(expected, abs=0.05)
    assert doubtful.value < plain.value
    pages["reviewed"] = True
    assert page_figures(Shelf.of(pages, panels, gutters))[0].value == plain.value


def test_two_artists_with_different_gutters_stand_apart():
    narrow = gutter_figures(Shelf.of(*made_up(seed=1, gutter_mm=3.0)))[0]
    wide = gutter_figures(Shelf.of(*made_up(seed=2, gutter_mm=5.0)))[0]
    again = gutter_figures(Shelf.of(*made_up(seed=5, gutter_mm=3.0)))[0]
    assert differs(narrow, wide)
    assert not differs(narrow, again)


def test_an_empty_shelf_says_so():
    pages, panels, gutters = made_up(pages=2)
    with pytest.raises(NothingFound, match="no page"):
        Shelf.of(pages.iloc[:0], panels, gutters)
