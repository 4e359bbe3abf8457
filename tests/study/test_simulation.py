from __future__ import annotations

from scripts.simulate_habits import simulate


def test_intervals_hold_the_truth_and_estimates_are_not_off():
    # 90 % intervals; 30 runs leave about +-11 points at two standard errors, so the band is
    # wider here than the 85-95 % that the full run of the script is held to.
    for outcome in simulate(runs=30, pages=80, true_pages=3000):
        assert 0.75 <= outcome.covered <= 0.99, outcome
        limit = {"panels": 0.07, "mm": 0.05, "points": 2.0}[outcome.unit]
        assert abs(outcome.bias) <= limit, outcome
