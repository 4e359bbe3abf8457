"""Statistics against certified values and general-purpose libraries."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
import scipy.stats

from panelscan.study.drift import book_means, change_points
from panelscan.study.estimate import page_mean, row_median
from panelscan.study.rhythm import autocorrelation, count_tie, rhythm_figures
from panelscan.study.shelf import Shelf
from panelscan.study.uncertainty import entropy_of, quantile_of
from tests.study.support import made_up

# NIST Statistical Reference Datasets (StRD), univariate summary statistics: certified mean,
# standard deviation and lag-1 autocorrelation. NumAcc1-4 are given by rule; Michelso are
# Michelson's 100 measurements of the speed of light (1879, thousands of km/s). Data and
# certified values are written here from memory of the data sheets; that they agree to all
# digits is a check on both.
MICHELSON = 299 + np.array(
    [
        850, 740, 900, 1070, 930, 850, 950, 980, 980, 880, 1000, 980, 930, 650, 760, 810, 1000,
        1000, 960, 960, 960, 940, 960, 940, 880, 800, 850, 880, 900, 840, 830, 790, 810, 880,
        880, 830, 800, 790, 760, 800, 880, 880, 880, 860, 720, 720, 620, 860, 970, 950, 880,
        910, 850, 870, 840, 840, 850, 840, 840, 840, 890, 810, 810, 820, 800, 770, 760, 740,
        750, 760, 910, 920, 890, 860, 880, 720, 840, 850, 850, 780, 890, 840, 780, 810, 760,
        810, 790, 810, 820, 850, 870, 870, 810, 740, 810, 940, 950, 800, 810, 870,
    ]
) / 1000  # fmt: skip


STRD = {
    "NumAcc1": (np.array([10000001.0, 10000003.0, 10000002.0]), 10000002.0, 1.0, -0.5),
    "NumAcc2": (np.concatenate([[1.2], np.tile([1.1, 1.3], 500)]), 1.2, 0.1, -0.999),
    "NumAcc3": (
        np.concatenate([[1000000.2], np.tile([1000000.1, 1000000.3], 500)]),
        1000000.2,
        0.1,
        -0.999,
    ),
    "NumAcc4": (
        np.concatenate([[10000000.2], np.tile([10000000.1, 10000000.3], 500)]),
        10000000.2,
        0.1,
        -0.999,
    ),
    "Michelso": (MICHELSON, 299.8524, 0.0790105478190518, 0.535199668621283),
}


def shelf_of_values(values: np.ndarray) -> Shelf:
    pages, panels, gutters = made_up(pages=len(values), books=1, mean_panels=1.2)
    return Shelf.of(pages, panels, gutters)


@pytest.mark.parametrize("name", STRD)
def test_mean_deviation_and_autocorrelation_match_nist_certified_values(name):
    values, mean, deviation, tie = STRD[name]
    shelf = shelf_of_values(values)
    assert page_mean(shelf, "x", "x", values).value == pytest.approx(mean, rel=1e-12)
    # The summed squares of NumAcc3 and 4 cancel seven digits in double precision.
    digits = 1e-6 if name.startswith("NumAcc") else 1e-11
    shelf.pages["measure"] = values
    told = book_means(shelf, "measure")
    assert told.means[0] == pytest.approx(mean, rel=1e-12)
    assert told.errors[0] * np.sqrt(len(values)) == pytest.approx(deviation, rel=digits)
    assert autocorrelation(values) == pytest.approx(tie, rel=max(digits, 1e-9))


def test_spread_of_counts_is_the_standard_deviation_about_each_book():
    # Reference: pandas, pooled sample variance within groups.
    pages, panels, gutters = made_up(pages=90, books=3)
    figure = rhythm_figures(Shelf.of(pages, panels, gutters))[0]
    groups = pages.groupby("book")["panel_count"]
    pooled = (groups.var() * (groups.size() - 1)).sum() / (groups.size() - 1).sum()
    assert figure.value == pytest.approx(np.sqrt(pooled))
    assert figure.low < figure.value < figure.high


def test_autocorrelation_against_scipy_correlate():
    # Reference: scipy.signal.correlate of the deviations, r_k = c_k / c_0.
    values = np.random.default_rng(8).poisson(5, size=60).astype(float)
    whole = scipy.signal.correlate(values - values.mean(), values - values.mean())
    middle = len(values) - 1
    for lag in (1, 2, 5):
        expected = whole[middle + lag] / whole[middle]
        assert autocorrelation(values, lag) == pytest.approx(expected)


@pytest.mark.parametrize("tie", [0.0, 0.5])
def test_interval_of_the_tie_holds_the_true_autocorrelation(tie):
    # Counts of a first-order autoregression, whose lag-1 autocorrelation is known (Box and
    # Jenkins 1976, chapter 3).
    rng = np.random.default_rng(11)
    inside, runs = 0, 80
    for _ in range(runs):
        counts = np.zeros(300)
        for k in range(1, 300):
            counts[k] = tie * counts[k - 1] + rng.normal()
        pages, panels, gutters = made_up(pages=300, books=1, mean_panels=1.0)
        pages["panel_count"] = counts + 20
        figure = count_tie(Shelf.of(pages, panels.iloc[:0], gutters.iloc[:0]))
        inside += figure.low <= tie <= figure.high
    # 80 runs leave about +-7 points at two standard errors.
    assert 0.82 <= inside / runs <= 0.99


def test_shannons_own_examples():
    # Shannon, C. E. (1948), "A mathematical theory of communication", Bell System Technical
    # Journal 27, sections 6 and 9 (from memory): probabilities 1/2, 1/4, 1/8, 1/8 give 7/4 bits;
    # H(1/2, 1/3, 1/6) = H(1/2, 1/2) + 1/2 H(2/3, 1/3).
    bits = entropy_of(np.array([[4.0, 2.0, 1.0, 1.0]]))[0] / np.log(2)
    assert bits == pytest.approx(7 / 4)
    parts = entropy_of(np.array([[3.0, 2.0, 1.0], [1.0, 1.0, 0.0], [2.0, 1.0, 0.0]]))
    assert parts[0] == pytest.approx(parts[1] + 0.5 * parts[2])


def test_interval_of_a_mean_against_scipy_bootstrap():
    rng = np.random.default_rng(1)
    values = rng.gamma(3.0, 2.0, size=150)
    figure = page_mean(shelf_of_values(values), "x", "x", values)
    other = scipy.stats.bootstrap(
        (values,), np.mean, confidence_level=0.90, method="percentile", rng=rng
    ).confidence_interval
    width = other.high - other.low
    assert figure.low == pytest.approx(other.low, abs=0.12 * width)
    assert figure.high == pytest.approx(other.high, abs=0.12 * width)


def test_median_against_numpy():
    rng = np.random.default_rng(2)
    shelf = shelf_of_values(np.ones(80))
    page = rng.integers(0, 80, size=900)
    values = rng.normal(4.0, 0.7, size=900)
    figure = row_median(shelf, "x", "x", page, values)
    assert figure.value == pytest.approx(np.median(values), abs=0.01)


def test_quantile_of_histogram_against_numpy_on_fine_bins():
    rng = np.random.default_rng(3)
    values = rng.normal(size=5000)
    edges = np.linspace(-5, 5, 2001)
    counts = np.histogram(values, edges)[0][None].astype(float)
    for share in (0.1, 0.5, 0.9):
        assert quantile_of(counts, edges, share)[0] == pytest.approx(
            np.quantile(values, share), abs=0.01
        )


def test_change_points_against_exhaustive_search():
    # Reference: every partition into at most three pieces, same cost, by brute force.
    rng = np.random.default_rng(4)
    for _ in range(20):
        levels = rng.normal(5, 2, size=3)
        y = np.concatenate([rng.normal(level, 0.2, 5) for level in levels])
        assert change_points(y) == _exhaustive(y)


def _exhaustive(y: np.ndarray) -> list[int]:
    from itertools import combinations

    from panelscan.study.drift import PENALTY, _noise

    price = PENALTY * np.log(len(y)) * _noise(y, None)
    best: tuple[float, list[int]] = (np.inf, [])
    for pieces in range(5):
        for cuts in combinations(range(1, len(y)), pieces):
            parts = np.split(y, cuts)
            cost = sum(((p - p.mean()) ** 2).sum() for p in parts) + pieces * price
            best = min(best, (float(cost), list(cuts)))
    return best[1]


def test_a_share_never_seen_has_the_exact_interval():
    # Reference: scipy.stats.binomtest, Clopper-Pearson ("exact") interval of 0 of 80.
    shelf = shelf_of_values(np.ones(80))
    figure = page_mean(shelf, "x", "x", np.zeros(80), "%")
    exact = scipy.stats.binomtest(0, 80).proportion_ci(confidence_level=0.90, method="exact")
    assert (figure.low, figure.high) == pytest.approx((100 * exact.low, 100 * exact.high))
    always = page_mean(shelf, "x", "x", np.full(80, 100.0), "%")
    assert (always.low, always.high) == pytest.approx((100 - 100 * exact.high, 100.0))


def test_one_value_has_no_interval():
    shelf = shelf_of_values(np.ones(30))
    values = np.full(30, np.nan)
    values[4] = 6.0
    figure = page_mean(shelf, "x", "x", values)
    assert figure.value == 6.0
    assert np.isnan(figure.low) and figure.text() == "6.00"
