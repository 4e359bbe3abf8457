from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelscan.errors import NothingFound
from panelscan.finder.beats import Beat, Scene, Shape, Weight
from panelscan.finder.neighbours import (
    LIVE_WITHIN,
    PROPORTION_WITHIN,
    SAME_WITHIN,
    families,
    live_span,
    side_distances,
    tier_lines,
)
from panelscan.finder.plan import OVER_WORD, plan_scene
from panelscan.finder.plan_candidates import thinned
from panelscan.finder.plan_types import PlanOptions, follows_turn, page_side
from panelscan.finder.shelf import Shelf
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from tests.finder.drawn import draw_grids
from tests.finder.plan_milp import optimum
from tests.finder.test_beat_match import some_beats


def regular(rows, columns, aspect=0.7, top=0.05):
    gap = 0.02
    w, h = (0.9 - gap * (columns - 1)) / columns, (0.95 - top - gap * (rows - 1)) / rows
    return Grid(
        tuple(
            GridPanel(
                Outline.box(
                    0.05 + c * (w + gap),
                    top + r * (h + gap),
                    0.05 + c * (w + gap) + w,
                    top + r * (h + gap) + h,
                )
            )
            for r in range(rows)
            for c in range(columns)
        ),
        aspect,
    )


def check_hard_rules(plan, scene, shelf, options):
    """Every hard rule, tested on the finished plan without the planner's own code."""
    beats = scene.beats
    assert [b for p in plan.pages for b in p.beats] == list(range(len(beats)))
    if options.pages is not None:
        assert len(plan.pages) == options.pages
    assert [p.number for p in plan.pages] == [
        options.first_page + k for k in range(len(plan.pages))
    ]
    for page in plan.pages:
        assert len(page.placements) == shelf.panel_count[page.grid]
        for placed in page.placements:
            for b in placed.beats:
                if beats[b].reveal:
                    assert page.number % 2 == 0 and placed.panel == 0 and placed.beats[0] == b
    for before, after in zip(plan.pages, plan.pages[1:], strict=False):
        if beats[before.beats[-1]].keep_with_next:
            assert after.number % 2 == 1, "a page turn parts beats that are kept together"
        if after.number % 2 == 1:
            a, b = before.grid, after.grid
            assert abs(np.log(shelf.aspect[a] / shelf.aspect[b])) <= PROPORTION_WITHIN
            for k, place in enumerate((1, 3)):
                bounds = []
                for g in (a, b):
                    own = slice(shelf.starts[g], shelf.starts[g + 1])
                    edge = shelf.boxes[own, place]
                    bled = shelf.bleeds[own, place].any()
                    bounds.append(None if bled else (edge.max() if k else edge.min()))
                if None not in bounds:
                    assert abs(bounds[0] - bounds[1]) <= LIVE_WITHIN + 1e-9
    for i, page in enumerate(plan.pages):
        for other in plan.pages[i + 1 : i + 1 + options.apart]:
            if shelf.panel_count[page.grid] == shelf.panel_count[other.grid]:
                a = shelf.boxes[shelf.starts[page.grid] : shelf.starts[page.grid + 1]]
                b = shelf.boxes[shelf.starts[other.grid] : shelf.starts[other.grid + 1]]
                assert np.abs(a - b).max() > SAME_WITHIN - 1e-6


@pytest.mark.parametrize("seed", range(5))
def test_plan_is_within_one_percent_of_the_integer_optimum(seed):
    # SciPy's milp (HiGHS) on the whole problem, page costs matched page by page.
    rng = np.random.default_rng(seed)
    shelf = Shelf.from_grids(draw_grids(12, 100 + seed))
    beats = some_beats(rng, 13, reveals=(6,) if seed % 2 else ())
    if seed % 3 == 0:
        beats[3] = replace(beats[3], keep_with_next=True)
    options = PlanOptions(pages=4, first_page=1 + seed % 2, apart=2)
    weights = replace(options.weights, over_word=OVER_WORD, over_panel=0.0)
    best = optimum(beats, shelf, options, weights)
    scene = Scene(tuple(beats))
    if not np.isfinite(best):
        with pytest.raises(NothingFound):
            plan_scene(scene, shelf, options)
        return
    plan = plan_scene(scene, shelf, options)[0]
    assert best - 1e-6 <= plan.cost <= best * 1.01 + 1e-6
    assert plan.bound <= best + 1e-3
    check_hard_rules(plan, scene, shelf, options)


@pytest.mark.parametrize("seed", range(4))
def test_plans_keep_every_hard_rule(seed):
    rng = np.random.default_rng(50 + seed)
    shelf = Shelf.from_grids(draw_grids(150, seed))
    beats = some_beats(rng, 30, reveals=(9, 21))
    beats[4] = replace(beats[4], keep_with_next=True)
    beats[14] = replace(beats[14], keep_with_next=True)
    scene = Scene(tuple(beats))
    options = PlanOptions(pages=None if seed % 2 else 6 + seed % 3, first_page=1 + seed % 3)
    plans = plan_scene(scene, shelf, options)
    assert len(plans) == options.plans
    assert [p.cost for p in plans] == sorted(p.cost for p in plans)
    for plan in plans:
        check_hard_rules(plan, scene, shelf, options)
        assert plan.bound <= plan.cost + 1e-3
        assert plan.words_over == 0


def test_words_that_fit_nowhere_are_told_by_beat_and_panel():
    shelf = Shelf.from_grids([regular(3, 2), regular(2, 3)])
    beats = [Beat(f"b{n}", words=10, line=n + 1) for n in range(12)]
    beats[6] = Beat("speech", words=60, line=9)
    plan = plan_scene(Scene(tuple(beats)), shelf, PlanOptions(pages=2, apart=0))[0]
    gives = [g for g in plan.gives if g.kind == "words"]
    assert [g.text for g in gives] == ["Beat 7 wants 60 words; this panel holds about 35."]
    assert (gives[0].beat, gives[0].line, plan.words_over) == (7, 9, 25)


def test_words_fit_where_a_plan_lets_them():
    # The page of six is cheaper by itself, but beat 2 fits only the page of three.
    shelf = Shelf.from_grids([regular(3, 2), regular(3, 1)])
    beats = [Beat(f"b{n}", words=60 if n == 1 else 5) for n in range(9)]
    plan = plan_scene(Scene(tuple(beats)), shelf, PlanOptions(pages=2, apart=0))[0]
    assert plan.words_over == 0
    assert len(plan.pages[0].placements) == 3


def test_big_beat_gets_the_splash_and_it_is_said():
    splash = Grid((GridPanel(Outline.box(0, 0, 1, 1)),), 0.7)
    shelf = Shelf.from_grids([regular(2, 2), splash, regular(3, 2)])
    beats = [Beat(f"b{n}") for n in range(4)] + [Beat("flood", weight=Weight.BIG, reveal=True)]
    plan = plan_scene(Scene(tuple(beats)), shelf, PlanOptions(pages=2, first_page=3))[0]
    assert [len(p.placements) for p in plan.pages] == [4, 1]
    reasons = " ".join(plan.pages[1].reasons)
    assert "the reveal, after the page turn" in reasons
    assert "Beat 5 (big) has the largest panel, 100 % of the page" in reasons


def test_misfits_are_told():
    shelf = Shelf.from_grids([regular(1, 1), regular(2, 2), regular(2, 1)])
    beats = [Beat("a", shape=Shape.TALL), Beat("b"), Beat("c", weight=Weight.BIG)]
    plan = plan_scene(Scene(tuple(beats)), shelf, PlanOptions(pages=1))[0]
    texts = " ".join(g.text for g in plan.gives)
    assert {g.kind for g in plan.gives} & {"pause", "shared", "size", "shape"}
    assert "Beat" in texts or "Panel" in texts
    assert plan.to_json()["pages"][0]["gives"]


@pytest.mark.parametrize(
    ("options", "change", "says"),
    [
        (PlanOptions(pages=9), {}, "cannot fill 9 pages"),
        (PlanOptions(pages=1), {}, "With 2 pages there is a plan"),
        (PlanOptions(pages=2, first_page=1), {0: "reveal"}, "does not follow one"),
        (PlanOptions(pages=3, first_page=2), {2: "reveal", 3: "reveal"}, "contradict"),
        (PlanOptions(pages=4, apart=3), {}, "may not come back within 3 pages"),
    ],
)
def test_no_plan_says_which_rule_stands_in_the_way(options, change, says):
    shelf = Shelf.from_grids([regular(2, 1), regular(2, 1)])
    beats = [
        Beat(f"b{n}", line=n + 1, reveal=change.get(n) == "reveal")
        for n in range(8 if "contradict" not in says else 4)
    ]
    if "contradict" in says:
        options = replace(options, pages=3)
    with pytest.raises(NothingFound, match=says):
        plan_scene(Scene(tuple(beats)), shelf, options)


def test_pages_of_other_proportions_never_face_each_other():
    shelf = Shelf.from_grids([regular(2, 1, 0.7), regular(1, 2, 1.4)])
    beats = Scene(tuple(Beat(f"b{n}") for n in range(4)))
    with pytest.raises(NothingFound, match="facing pages"):
        plan_scene(beats, shelf, PlanOptions(pages=2, first_page=2, apart=1))
    plan = plan_scene(beats, shelf, PlanOptions(pages=2, first_page=3, apart=1))[0]
    assert {p.grid for p in plan.pages} == {0, 1}


def test_ratings_move_the_choice_and_it_is_said():
    grids = [regular(2, 2), regular(2, 2, top=0.051)]
    shelf = Shelf.from_grids(grids, page_ids=["a", "b"])
    scene = Scene(tuple(Beat(f"b{n}") for n in range(4)))
    for liked in ("a", "b"):
        plan = plan_scene(scene, shelf, PlanOptions(pages=1, ranking={liked: -0.2}))[0]
        assert plan.pages[0].page_id == liked
        assert "Moved up by your ratings" in plan.pages[0].reasons[-1]


def test_sides_and_turns():
    # Common practice, no source: even pages follow a turn; left-hand in left-to-right books.
    assert [page_side(n, rtl=False) for n in (1, 2, 3)] == ["right", "left", "right"]
    assert [page_side(n, rtl=True) for n in (1, 2, 3)] == ["left", "right", "left"]
    assert [follows_turn(n) for n in (1, 2, 3)] == [False, True, False]


def test_families_hold_near_grids_together():
    shelf = Shelf.from_grids([regular(2, 2), regular(2, 2, top=0.06), regular(3, 2), regular(4, 1)])
    assert families(shelf).tolist() == [0, 0, 1, 2] or families(shelf)[0] == families(shelf)[1]
    largest, mean = side_distances(shelf)
    assert largest[0, 1] == pytest.approx(0.01, abs=1e-6) and np.isinf(largest[0, 2])
    assert mean[0, 0] == 0


def test_tier_lines_and_live_span():
    shelf = Shelf.from_grids([regular(2, 2), Grid((GridPanel(Outline.box(0, 0, 1, 1)),), 0.7)])
    assert tier_lines(shelf)[0, 0] == pytest.approx(0.5)
    assert np.isnan(tier_lines(shelf)[1]).all()
    assert live_span(shelf)[0].tolist() == [0.05, 0.95]


def test_large_shelves_are_thinned_to_different_grids():
    grids = draw_grids(60, 4)
    shelf = Shelf.from_grids(grids * 5)
    liking = np.zeros(300)
    kept = thinned(shelf, liking, 100)
    assert len(kept) <= 60 and set(shelf.panel_count[kept]) == set(shelf.panel_count)
    liking[120:180] = -0.1  # the third copy of each grid is the one that is liked
    assert ((thinned(shelf, liking, 100) // 60) == 2).all()
    few = thinned(shelf, liking, 15)
    assert len(few) == 15 and len(set(shelf.panel_count[few])) == len(set(shelf.panel_count))
    assert len(thinned(shelf, liking, 300)) == 300
    scene = Scene(tuple(some_beats(np.random.default_rng(2), 12)))
    plan = plan_scene(scene, shelf, PlanOptions(pages=3, most_grids=100))[0]
    check_hard_rules(plan, scene, shelf, PlanOptions(pages=3))


def test_plans_are_the_same_every_time():
    rng = np.random.default_rng(9)
    shelf = Shelf.from_grids(draw_grids(80, 3))
    scene = Scene(tuple(some_beats(rng, 14)))
    one, two = (plan_scene(scene, shelf, PlanOptions(pages=3)) for _ in range(2))
    assert one == two


def test_bad_options_are_refused():
    with pytest.raises(ValueError, match="at least one page"):
        PlanOptions(pages=0)
    with pytest.raises(NothingFound, match="no grid or no beat"):
        plan_scene(Scene((Beat("x"),)), Shelf.from_grids([]))
