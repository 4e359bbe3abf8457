from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from panelscan.errors import InputError
from panelscan.finder.by_example import find_like
from panelscan.finder.hits import Likeness
from panelscan.finder.index import GridIndex
from panelscan.finder.joins import cut, join_pairs, joined
from panelscan.finder.panel_tables import distances_to, rows_of_pages
from panelscan.layout.distance import ALONE, grid_distance
from panelscan.layout.fields import panel_rows
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from tests.finder.drawn import draw_distinct, draw_grids, jittered, merged, split


def boxes(*corners):
    return Grid(tuple(GridPanel(Outline.box(*b)) for b in corners), 0.7)


STACK_AND_TALL = boxes((0.05, 0.05, 0.5, 0.48), (0.05, 0.52, 0.5, 0.95), (0.54, 0.05, 0.95, 0.95))


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_many_distances_are_grid_distances(seed):
    grids = draw_grids(9, seed)
    index = GridIndex.of_grids(grids, measured=False)
    rows, starts = rows_of_pages(index.arrays, np.arange(9))
    fast = distances_to(panel_rows(grids[0]), rows, starts)
    exact = [grid_distance(grids[0], g).value for g in grids]
    assert np.abs(fast - exact).max() < 1e-3  # the index's step of a hundredth of a millimetre
    few = distances_to(panel_rows(grids[0]), rows, starts, best=3)
    order = np.argsort(fast, kind="stable")[:3]
    assert np.allclose(np.sort(few)[:3], fast[order])


def test_distance_is_the_optimum_of_the_transport_problem():
    # SciPy's linprog (HiGHS) on the assignment as a transport problem, panels without a
    # partner sent to a dummy at the price of one alone.
    rng = np.random.default_rng(11)
    for _ in range(20):
        a, b = draw_grids(2, int(rng.integers(1e9)))
        if len(a) > len(b):
            a, b = b, a
        n, m = len(a), len(b)
        gap = panel_rows(a)[:, None] - panel_rows(b)[None]
        cost = np.minimum(np.sqrt((gap**2).sum(axis=2)), ALONE)
        cost = np.vstack([cost, np.full((m - n, m), ALONE)])
        sums = [np.kron(np.eye(m), np.ones(m)), np.kron(np.ones(m), np.eye(m))]
        found = linprog(cost.ravel(), A_eq=np.vstack(sums), b_eq=np.ones(2 * m))
        index = GridIndex.of_grids([b], measured=False)
        rows, starts = rows_of_pages(index.arrays, np.array([0]))
        ours = distances_to(panel_rows(a), rows, starts)[0]
        assert ours == pytest.approx(found.fun / m, abs=1e-3)


@pytest.fixture(scope="module")
def drawn():
    grids = draw_distinct(1500, 77)
    return grids, GridIndex.of_grids(grids, measured=False)


def test_same_grid_under_jitter_is_first(drawn):
    # Goal over 10,000 pages: 99.5 % (scripts/bench_find.py); here over 1,500 in short.
    grids, index = drawn
    rng = np.random.default_rng(1)
    first = [
        find_like(index, jittered(grids[k], rng), count=1)[0].page == k
        for k in rng.choice(len(grids), 120, replace=False)
    ]
    assert np.mean(first) >= 0.99


@pytest.mark.parametrize("change", [merged, split])
def test_one_panel_merged_or_split_is_within_ten(drawn, change):
    grids, index = drawn
    rng = np.random.default_rng(2)
    found = []
    for k in rng.choice(len(grids), 80, replace=False):
        changed = change(grids[k], rng)
        if changed is not None:
            found.append(any(h.page == k for h in find_like(index, changed, count=10)))
    assert np.mean(found) >= 0.97


def test_mirror_image_is_found_and_said_to_be_one():
    # A mirror image is never the same: a shape distance that allows reflection (SciPy's
    # procrustes) calls the two equal, so the word is tested here.
    index = GridIndex.of_grids([STACK_AND_TALL.mirrored(), *draw_grids(20, 5)], measured=False)
    hit = find_like(index, STACK_AND_TALL)[0]
    assert (hit.page, hit.likeness) == (0, Likeness.MIRROR)
    assert "mirror image" in hit.reasons[0]
    others = find_like(index, STACK_AND_TALL, mirrors=False)
    assert all(h.likeness is not Likeness.MIRROR for h in others)


def test_near_misses_say_what_differs():
    cut_in_two = boxes((0.05, 0.05, 0.5, 0.48), (0.05, 0.52, 0.5, 0.95),
                       (0.54, 0.05, 0.95, 0.48), (0.54, 0.52, 0.95, 0.95))  # fmt: skip
    index = GridIndex.of_grids([STACK_AND_TALL, cut_in_two], measured=False)
    same, more = find_like(index, STACK_AND_TALL)
    assert (same.likeness, same.reasons) == (
        Likeness.SAME, ("All panels stand as in the grid asked for.",)
    )  # fmt: skip
    assert more.likeness is Likeness.ONE_OFF
    assert more.reasons == ("The same but for one panel, here cut in two (panels 3 and 4).",)
    fewer = find_like(index, cut_in_two)[1]
    assert fewer.reasons == ("The same but for panels 3 and 4, here joined in one.",)


def test_pages_left_out_are_never_found(drawn):
    grids, index = drawn
    among = np.arange(len(grids)) % 3 == 0
    hits = find_like(index, grids[1], count=30, among=among)
    assert len(hits) == 30 and all(h.page % 3 == 0 for h in hits)


def test_each_page_once_and_best_first(drawn):
    grids, index = drawn
    hits = find_like(index, grids[9], count=50)
    assert len({h.page for h in hits}) == 50
    assert [h.score for h in hits] == sorted(h.score for h in hits)
    assert hits[0].to_json()["likeness"] == "same grid"


def test_page_without_panels_is_refused_with_a_remedy(drawn):
    with pytest.raises(InputError, match="no panel that could be found"):
        find_like(drawn[1], Grid(()))


def test_cut_and_join_undo_each_other():
    rows = panel_rows(STACK_AND_TALL)
    halves = cut(rows, 2, across=True)
    grid, first, second = join_pairs(halves[None])
    k = next(i for i in range(len(grid)) if (first[i], second[i]) == (2, 3))
    again = joined(halves[None], grid, first, second)[k]
    assert np.abs(again - rows).max() < 1e-9
    assert (0, 1) in set(zip(first.tolist(), second.tolist(), strict=True))
    # The stack's upper panel and the tall one are not flush: no join.
    assert (0, 2) not in set(zip(*(a.tolist() for a in join_pairs(rows[None])[1:]), strict=True))


def test_joined_rows_are_those_of_the_joined_grid():
    rng = np.random.default_rng(6)
    tried = 0
    for grid in draw_grids(60, 15, tidy=True):
        whole = merged(grid, rng)
        if whole is None:
            continue
        rows = panel_rows(grid)
        variants = joined(rows[None], *join_pairs(rows[None]))
        nearest = min(np.abs(v - panel_rows(whole)).max() for v in variants)
        assert nearest < 1e-9
        tried += 1
    assert tried > 30
