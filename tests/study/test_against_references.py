"""Statistics against certified values and general-purpose libraries."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from panelscan.study.drift import change_points
from panelscan.study.estimate import page_mean, row_median
from panelscan.study.shelf import Shelf
from panelscan.study.uncertainty import quantile_of
from tests.study.support import made_up

# NIST Statistical Reference Datasets, univariate NumAcc1-4: certified mean and standard
# deviation. The data are given by rule there (written here from memory of the data sheets).
NUMACC = {
    "NumAcc1": (np.array([10000001.0, 10000003.0, 10000002.0]), 10000002.0, 1.0),
    "NumAcc2": (np.concatenate([[1.2], np.tile([1.1, 1.3], 500)]), 1.2, 0.1),
    "NumAcc3": (
        np.concatenate([[1000000.2], np.tile([1000000.1, 1000000.3], 500)]),
        1000000.2,
        0.1,
    ),
    "NumAcc4": (
        np.concatenate([[10000000.2], np.tile([10000000.1, 10000000.3], 500)]),
        10000000.2,
        0.1,
    ),
}


def shelf_of_values(values: np.ndarray) -> Shelf:
    pages, panels, gutters = made_up(pages=len(values), books=1, mean_panels=1.2)
    return Shelf.of(pages, panels, gutters)


@pytest.mark.parametrize("name", NUMACC)
def test_mean_matches_nist_certified_values(name):
    values, mean, deviation = NUMACC[name]
    figure = page_mean(shelf_of_values(values), "x", "x", values)
    assert figure.value == pytest.approx(mean, rel=1e-12)
    assert np.std(values, ddof=1) == pytest.approx(deviation, rel=1e-6)


@pytest.mark.parametrize("name", ["NumAcc1", "NumAcc2"])
def test_book_spread_matches_nist_deviation(name):
    from panelscan.study.drift import book_means

    values, mean, deviation = NUMACC[name]
    shelf = shelf_of_values(values)
    shelf.pages["measure"] = values
    _, means, errors = book_means(shelf, "measure")
    assert means[0] == pytest.approx(mean)
    assert errors[0] * np.sqrt(len(values)) == pytest.approx(deviation, rel=1e-6)


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
