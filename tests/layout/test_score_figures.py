"""Average precision, calibration, intervals and deskew errors with known answers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest
from sklearn.metrics import average_precision_score

from panelscan.layout.score_figures import (
    average_precision,
    bootstrap_interval,
    calibration_error,
    deskew_errors,
    right_at_coverage,
    risk_coverage,
    wilson_interval,
)

# Source: worked example of R. Padilla's object detection metrics, 15 truths, 24 detections
# at IoU 0.3; in falling confidence, 1 = true positive.


def worked_list() -> list[bool]:
    spelled = "R1 Y0 J1 A0 U0 C0 M0 F0 D0 B1 H0 P1 E1 X1 N0 T0 K0 Q0 V0 I0 L0 S0 G1 O0"
    return [word[1] == "1" for word in spelled.split()]


def test_average_precision_worked_example() -> None:
    right = worked_list()
    ap = average_precision(np.linspace(0.95, 0.1, 24).tolist(), right, 15)
    assert ap.eleven_point == pytest.approx(0.268398, abs=5e-7)
    assert ap.all_point == pytest.approx(0.245687, abs=5e-7)
    assert ap.coco_101 == pytest.approx(0.248160, abs=5e-7)


def test_tied_scores_keep_their_order() -> None:
    right = worked_list()
    scores = [0.95, 0.95, *np.linspace(0.9, 0.1, 22)]
    assert average_precision(scores, right, 15).all_point == pytest.approx(0.245687, abs=5e-7)
    swapped = [right[1], right[0], *right[2:]]
    assert average_precision(scores, swapped, 15).all_point == pytest.approx(0.22346, abs=5e-6)


def test_average_precision_bounds_scikit_learn() -> None:
    # Source: scikit-learn's average_precision_score sums precision without making it monotone.
    rng = np.random.default_rng(5)
    scores, right = rng.random(200), rng.random(200) < 0.4
    ours = average_precision(scores.tolist(), right.tolist(), int(right.sum())).all_point
    theirs = average_precision_score(right, scores)
    assert theirs <= ours <= theirs + 0.05


def test_calibration_of_a_perfect_and_a_boasting_judge() -> None:
    assert calibration_error([1.0] * 30, [True] * 30) == 0.0
    assert calibration_error([0.9] * 30, [True] * 15 + [False] * 15) == pytest.approx(0.4)
    # Source: arithmetic, two bins of equal mass, |0.2 - 0| and |0.8 - 1|.
    assert calibration_error([0.2, 0.2, 0.8, 0.8], [0, 0, 1, 1], bins=2) == pytest.approx(0.2)


def test_risk_and_coverage() -> None:
    curve = risk_coverage([0.9, 0.5, 0.7, 0.1], [True, False, True, True])
    assert curve == [(0.25, 0.0), (0.5, 0.0), (0.75, pytest.approx(1 / 3)), (1.0, 0.25)]
    assert right_at_coverage([0.9, 0.5, 0.7, 0.1], [True, False, True, True], 0.5) == 1.0


@pytest.mark.parametrize(("hits", "trials"), [(291, 300), (0, 20), (990, 1000), (7, 9)])
def test_wilson_against_scipy(hits: int, trials: int) -> None:
    theirs = binomtest(hits, trials).proportion_ci(method="wilson")  # Source: SciPy
    assert wilson_interval(hits, trials) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


def test_bootstrap_draws_books_not_pages() -> None:
    one_bad_book = [[0.0, 1.0]] * 50 + [[1.0, 1.0]] * 50
    books = ["bad"] * 50 + ["good"] * 50
    low, high = bootstrap_interval(books, one_bad_book, lambda s: float(s[0] / s[1]))
    assert (low, high) == (0.0, 1.0)
    apart = bootstrap_interval(range(100), one_bad_book, lambda s: float(s[0] / s[1]))
    # Source: normal approximation of a share of 100: 0.5 +- 1.96 * 0.05.
    assert apart == pytest.approx((0.402, 0.598), abs=0.02)


def test_deskew_measures_by_hand() -> None:
    # Source: definitions of DISEC 2013.
    errors = deskew_errors([1, 2, 3, 4, 5], [1.0, 2.1, 3.05, 3.8, 6.0])
    assert errors.aed == pytest.approx((0 + 0.1 + 0.05 + 0.2 + 1) / 5)
    assert errors.top80 == pytest.approx((0 + 0.05 + 0.1 + 0.2) / 4)
    assert errors.ce == pytest.approx(0.6)
    assert errors.worst == pytest.approx(1.0)
