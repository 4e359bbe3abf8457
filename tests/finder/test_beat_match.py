from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

from panelscan.finder.beat_match import match_costs, match_page, page_costs
from panelscan.finder.beats import Beat, Shape, Shot, Weight
from panelscan.finder.fit import FitWeights
from panelscan.finder.shelf import Shelf
from tests.finder.drawn import draw_grids


def exhaustive(single, shared, idle, opens):
    """Every way to hand 0, 1 or 2 beats to each panel in order; the least cost."""
    panels, beats = single.shape
    best = np.inf
    for steps in itertools.product((0, 1, 2), repeat=panels):
        if sum(steps) != beats:
            continue
        cost, b = 0.0, 0
        for n, step in enumerate(steps):
            if step == 0:
                cost += idle
            elif step == 1:
                cost += single[n, b]
            else:
                cost += shared[n, b]
            b += step
        if any(opens):
            if any(opens[1:]) or steps[0] == 0:
                continue
        best = min(best, cost)
    return best


COSTS = st.floats(0, 9, allow_nan=False)


@st.composite
def tables(draw):
    panels, beats = draw(st.integers(1, 6)), draw(st.integers(1, 6))
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    opens = [draw(st.booleans())] + [False] * (beats - 1)
    return rng.uniform(0, 9, (panels, beats)), rng.uniform(0, 9, (panels, beats - 1)), opens


@given(tables(), COSTS)
@settings(max_examples=150, deadline=None)
def test_matching_equals_exhaustive_search(table, idle):
    single, shared, opens = table
    cost, placed = match_costs(single, shared, idle, opens)
    expected = exhaustive(single, shared, idle, opens)
    assert cost == expected or abs(cost - expected) < 1e-9
    if np.isfinite(cost):
        assert [b for beats in placed for b in beats] == list(range(single.shape[1]))
        assert len(placed) == single.shape[0]


def milp_optimum(single, shared, idle, opens):
    """Matching as an integer programme: which panel carries which run of beats, in order."""
    panels, beats = single.shape
    options = [
        (n, s, e)
        for n in range(panels)
        for s in range(beats + 1)
        for e in (0, 1, 2)
        if s + e <= beats and not (opens[0] and n == 0 and e == 0)
    ]
    costs = [
        idle if e == 0 else single[n, s] if e == 1 else shared[n, s] for n, s, e in options
    ]
    rows = np.zeros((panels * (beats + 2), len(options)))
    held = np.zeros(len(rows))
    for column, (n, s, e) in enumerate(options):
        rows[n * (beats + 2) + s, column] += 1  # a panel starts where the one before it ended
        if n + 1 < panels:
            rows[(n + 1) * (beats + 2) + s + e, column] -= 1
        elif s + e == beats:
            rows[beats + 1, column] = 1  # and the last one ends with the last beat
    held[0] = held[beats + 1] = 1
    found = milp(costs, constraints=LinearConstraint(rows, held, held), integrality=1,
                 bounds=Bounds(0, 1))  # fmt: skip
    return found.fun if found.success else np.inf


@pytest.mark.parametrize(("panels", "beats"), [(9, 12), (16, 16), (12, 20), (24, 30)])
def test_larger_matchings_against_scipys_milp(panels, beats):
    # SciPy's milp (HiGHS, Huangfu & Hall 2018) shares nothing with the recurrence.
    rng = np.random.default_rng(panels)
    single, shared = rng.uniform(0, 9, (panels, beats)), rng.uniform(0, 12, (panels, beats - 1))
    for opens in ([False] * beats, [True] + [False] * (beats - 1)):
        cost, _ = match_costs(single, shared, 2.5, opens)
        assert abs(cost - milp_optimum(single, shared, 2.5, opens)) < 1e-6 * cost


@given(st.integers(2, 7), st.integers(0, 2**32 - 1))
@settings(deadline=None)
def test_matching_against_scipys_assignment(count, seed):
    # SciPy's linear_sum_assignment (Hungarian-type, Crouse 2016) is free in its order: it can
    # never cost more than ours, and costs the same where its answer happens to keep the order.
    rng = np.random.default_rng(seed)
    single = rng.uniform(0, 1, (count, count)) + 0.3 * np.abs(
        np.subtract.outer(np.arange(count), np.arange(count))
    )
    cost, _ = match_costs(single, np.full((count, count - 1), np.inf), np.inf)
    rows, columns = linear_sum_assignment(single)
    free = single[rows, columns].sum()
    assert free <= cost + 1e-9
    if (np.diff(columns) > 0).all():
        assert abs(free - cost) < 1e-9


def some_beats(rng, count, reveals=()):
    beats = []
    for k in range(count):
        silent = rng.random() < 0.15
        beats.append(
            Beat(
                f"beat {k + 1}",
                words=0 if silent else int(rng.integers(0, 32)),
                silent=bool(silent),
                weight=list(Weight)[rng.choice(3, p=[0.25, 0.6, 0.15])],
                shot=list(Shot)[rng.integers(len(Shot))],
                shape=list(Shape)[rng.choice(3, p=[0.7, 0.2, 0.1])],
                reveal=k in reveals,
                line=k + 1,
            )
        )
    return beats


def test_many_pages_at_once_cost_what_each_costs_alone():
    rng = np.random.default_rng(5)
    shelf = Shelf.from_grids(draw_grids(60, 8), clarity=list(rng.uniform(0.4, 1, 60)))
    beats = some_beats(rng, 9, reveals=(4,))
    for count in (1, 3, 5):
        grids = shelf.of_count(count)
        table = page_costs(beats, shelf, grids)
        for row, grid in enumerate(grids):
            for s, e in itertools.product(range(9), range(1, table.shape[2])):
                alone = np.inf
                if s + e <= 9:
                    alone, _ = match_page(beats[s : s + e], shelf, int(grid))
                assert np.isclose(table[row, s, e], alone) or table[row, s, e] == alone


def test_a_page_that_suits_every_beat_costs_nothing():
    from panelscan.model.grid import Grid, GridPanel
    from panelscan.model.outline import Outline

    boxes = [(0, 0, 1, 0.3), (0, 0.3, 0.5, 0.6), (0.5, 0.3, 1, 0.6), (0, 0.6, 1, 1)]
    shelf = Shelf.from_grids([Grid(tuple(GridPanel(Outline.box(*b)) for b in boxes), 0.7)])
    beats = [
        Beat("place", shot=Shot.ESTABLISHING, shape=Shape.WIDE),
        Beat("a", words=15),
        Beat("b", words=15),
        Beat("end", weight=Weight.BIG, words=40),
    ]
    cost, placed = match_page(beats, shelf, 0)
    assert cost == 0 and [p.beats for p in placed] == [(0,), (1,), (2,), (3,)]
    # The big beat first would sit in the wrong place: same beats, other order, costs more.
    assert match_page([beats[1], beats[3], beats[0], beats[2]], shelf, 0)[0] > 0.3


def test_shared_and_idle_panels_cost_what_is_said():
    shelf = Shelf.from_grids(draw_grids(1, 4, tidy=True))
    count = int(shelf.panel_count[0])
    beats = [Beat(f"b{k}") for k in range(count - 1)]
    weights = FitWeights(size=0, shot=0, unclear=0)
    cost, placed = match_page(beats, shelf, 0, weights)
    assert cost == weights.idle and sum(not p.beats for p in placed) == 1
    cost, placed = match_page([*beats, Beat("x"), Beat("y")], shelf, 0, weights)
    assert cost == weights.shared and sum(len(p.beats) == 2 for p in placed) == 1
