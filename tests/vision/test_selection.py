from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from panelscan.vision.selection import SelectionSettings, best_sets


def random_case(seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    gains = rng.normal(0.4, 0.6, count)
    clash = rng.random((count, count)) < 0.3
    clash = np.triu(clash, 1)
    return gains, clash | clash.T


@pytest.mark.parametrize("seed", range(6))
def test_best_set_agrees_with_scipy_milp(seed: int) -> None:
    # Outside check: SciPy's HiGHS solver on the same 0/1 programme.
    from scipy.optimize import Bounds, LinearConstraint, milp

    gains, clash = random_case(seed, 18)
    rows = []
    for i, j in zip(*np.nonzero(np.triu(clash)), strict=True):
        row = np.zeros(len(gains))
        row[[i, j]] = 1
        rows.append(row)
    solved = milp(
        -gains,
        constraints=LinearConstraint(np.array(rows), ub=1),
        integrality=np.ones(len(gains)),
        bounds=Bounds(0, 1),
    )
    assert best_sets(gains, clash)[0].gain == pytest.approx(-solved.fun)


def test_the_five_best_sets_are_the_five_best() -> None:
    gains, clash = random_case(11, 9)
    every = []
    for size in range(len(gains) + 1):
        for chosen in combinations(range(len(gains)), size):
            allowed = not clash[np.ix_(chosen, chosen)].any() if chosen else True
            if allowed and all(gains[k] > 0 for k in chosen):
                every.append(float(sum(gains[k] for k in chosen)))
    expected = sorted(every, reverse=True)[:5]
    assert [s.gain for s in best_sets(gains, clash)] == pytest.approx(expected)


def test_a_search_cut_short_still_gives_a_consistent_set() -> None:
    gains, clash = random_case(3, 30)
    chosen = best_sets(gains, clash, SelectionSettings(most_steps=3))[0].chosen
    assert not clash[np.ix_(chosen, chosen)].any()


def test_nothing_to_gain_gives_the_empty_set() -> None:
    sets = best_sets(np.array([-1.0, -0.5]), np.zeros((2, 2), dtype=bool))
    assert [s.chosen for s in sets] == [()]
