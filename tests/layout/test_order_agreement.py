"""Order measures against published and computed figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kendalltau
from sklearn.metrics import adjusted_rand_score, rand_score

from panelscan.layout.order_agreement import (
    adjusted_rand_index,
    compare_orders,
    kendall_tau_b,
    rand_index,
)


@pytest.mark.parametrize(("rows", "columns", "tau"), [(2, 3, 0.6), (3, 3, 0.5)])
def test_row_order_against_column_order(rows: int, columns: int, tau: float) -> None:
    # Source: arithmetic, Q = C(r, 2) C(c, 2) discordant pairs.
    by_row = [(r, c) for r in range(rows) for c in range(columns)]
    by_column = [(r, c) for c in range(columns) for r in range(rows)]
    assert compare_orders(by_row, by_column).tau_b == pytest.approx(tau)


def test_blockage_read_row_first() -> None:
    # Source: arithmetic: A C B against A B C has one discordant pair of three.
    assert compare_orders("ABC", "ACB").tau_b == pytest.approx(1 / 3)


@pytest.mark.parametrize(("n", "tau"), [(4, 0.6667), (5, 0.8), (6, 0.8667)])
def test_one_neighbour_swap(n: int, tau: float) -> None:
    swapped = [1, 0, *range(2, n)]
    assert compare_orders(range(n), swapped).tau_b == pytest.approx(tau, abs=5e-5)


def test_reversal() -> None:
    result = compare_orders(range(5), range(4, -1, -1))
    assert (result.tau_b, result.pair_accuracy, result.succession_f1) == (-1.0, 0.0, 0.0)


def test_tau_b_with_ties() -> None:
    # Source: SciPy's reference page of kendalltau.
    assert kendall_tau_b([12, 2, 1, 12, 2], [1, 4, 7, 1, 0]) == pytest.approx(-0.47140452)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=2, max_size=12))
def test_tau_b_against_scipy(pairs: list[tuple[int, int]]) -> None:
    x, y = zip(*pairs, strict=True)
    ours, theirs = kendall_tau_b(x, y), kendalltau(x, y).statistic  # Source: SciPy
    assert ours == pytest.approx(theirs) or (math.isnan(ours) and math.isnan(theirs))


@pytest.mark.parametrize(
    ("a", "b", "ri", "ari"),
    [
        # Source: Hubert and Arabie 1985; values run with scikit-learn.
        ([0, 0, 0, 1, 1, 1], [0, 0, 1, 1, 2, 2], 0.6667, 0.2424),
        ([0, 0, 1, 1], [0, 0, 1, 2], 0.8333, 0.5714),
        ([0, 0, 1, 1], [0, 1, 0, 1], 0.3333, -0.5),
        ([0, 0, 0, 0], [0, 1, 2, 3], 0.0, 0.0),
    ],
)
def test_tier_groupings(a: list[int], b: list[int], ri: float, ari: float) -> None:
    assert rand_index(a, b) == pytest.approx(ri, abs=5e-5)
    assert adjusted_rand_index(a, b) == pytest.approx(ari, abs=5e-5)
    assert rand_index(a, b) == pytest.approx(rand_score(a, b))  # Source: scikit-learn
    assert adjusted_rand_index(a, b) == pytest.approx(adjusted_rand_score(a, b))


def test_textbook_rand_index() -> None:
    # Source (from memory): Manning, Raghavan and Schuetze 2008, section 16.3; RI 0.68.
    clusters = [0] * 6 + [1] * 6 + [2] * 5
    classes = list("xxxxxo") + list("xoooo") + ["d"] + list("xxddd")
    assert rand_index(clusters, classes) == pytest.approx(0.6765, abs=5e-5)
    assert adjusted_rand_index(clusters, classes) == pytest.approx(0.2429, abs=5e-5)


def test_unmatched_panels_are_left_out_and_doubles_refused() -> None:
    assert compare_orders("ABC", "AC").exact
    with pytest.raises(ValueError, match="once"):
        compare_orders("AAB", "AB")


def test_mean_displacement_and_single_panel() -> None:
    assert compare_orders("ABCD", "BACD").mean_displacement == 0.5
    assert compare_orders("A", "A").tau_b == 1.0
