from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from panelscan.corpus.labels import Label, add_labels
from panelscan.errors import InputError, LibraryError, NotationError, NothingFound
from panelscan.finder.beat_match import match_page
from panelscan.finder.beats import Beat, Scene, Shape, Weight
from panelscan.finder.brief import Brief
from panelscan.finder.by_grid import find_grid, parse_query, pattern_scores
from panelscan.finder.by_scene import find_scene, scene_scores
from panelscan.finder.fit import FitWeights
from panelscan.finder.hits import Likeness
from panelscan.finder.index import GridIndex
from panelscan.finder.ranking import (
    MOST,
    Liking,
    forget_choices,
    likings,
    note_choice,
    remember_choice,
)
from panelscan.finder.search import Query, search
from panelscan.layout.grid_pattern import parse_pattern
from panelscan.layout.notation import parse_grid
from panelscan.model.grid import Grid
from tests.finder.drawn import draw_grids
from tests.finder.made_library import make_library
from tests.finder.test_beat_match import some_beats

WRITTEN = (
    "two then three then one",
    "one then two",
    "three then three then three",
    "two then one wide 2 and one",
    "one over one and one",
    "two then two then one",
)


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    grids = [parse_grid(t) for t in WRITTEN] + draw_grids(80, 13)
    folder = tmp_path_factory.mktemp("search") / "shelf"
    return make_library(folder, {"Salt": grids[:50], "Tide": [*grids[50:], parse_grid(WRITTEN[0])]})


@pytest.fixture(scope="module")
def index(library):
    return GridIndex.open(library)


def names(answer):
    return [h.name for h in answer.hits]


def test_by_example_in_a_library(library, index):
    answer = search(library, Query(like=index.grid(20), count=5), index)
    assert names(answer)[0] == "Salt, page 21" and answer.hits[0].likeness is Likeness.SAME
    skipped = search(library, Query(like=index.grid(20), skip=(index.pages.id(20),)), index)
    assert "Salt, page 21" not in names(skipped)


def test_written_grid_exact_and_near(library, index):
    hits = find_grid(index, "two then three then one", count=6)
    assert {h.name for h in hits[:2]} == {"Salt, page 1", "Tide, page 37"}
    assert all(h.likeness is Likeness.SAME for h in hits[:2])
    exact = find_grid(index, "two then three then one", count=6, near=False)
    assert {"Salt, page 1", "Tide, page 37"} <= {h.name for h in exact}
    assert all(h.likeness is Likeness.SAME and h.distance < 0.02 for h in exact)


def test_pattern_agrees_with_layout_on_every_page(index):
    for text in ("any then any then one", "some then one", "two or three then some"):
        pattern = parse_pattern(text)
        scores = pattern_scores(index, parse_query(text))
        for page in range(len(index)):
            assert (scores[page] >= 0.999) == pattern.matches(index.grid(page)), (text, page)


def test_pattern_search_with_wildcards(library, index):
    answer = search(library, Query(written="any then any then one", near=False), index)
    assert answer.hits and answer.meeting >= 2
    for hit in answer.hits:
        grid = index.grid(hit.page)
        assert parse_pattern("any then any then one").matches(grid)
    near = search(library, Query(written="any then any then one", count=60), index)
    assert any("Nearly as written" in " ".join(h.reasons) for h in near.hits)


def test_sizes_in_a_pattern_count(index):
    wide = find_grid(index, "some then one wide 2 and one", near=False)
    assert "Salt, page 4" in [h.name for h in wide]
    even = pattern_scores(index, parse_query("some then one wide 2 and one"))[0]
    assert even < 1


def test_mistyped_grid_points_at_the_place(library, index):
    with pytest.raises(NotationError) as caught:
        search(library, Query(written="two then thrre"), index)
    assert caught.value.position > 0


def test_everything_combined(library, index):
    scene = Scene(tuple(Beat(f"b{n}", words=8) for n in range(6)))
    query = Query(
        like=parse_grid("two then three then one"),
        written="any then any then one",
        brief=Brief(panels=(5, 7), bleeds=False),
        scene=scene,
        where="book = Salt",
        count=4,
    )
    answer = search(library, query, index)
    assert answer.hits[0].name == "Salt, page 1"
    for hit in answer.hits:
        assert hit.name.startswith("Salt") and 5 <= len(index.grid(hit.page)) <= 7
        assert [b for p in hit.placements for b in p.beats] == list(range(6))
    told = answer.to_json()
    assert told["hits"][0]["panels"][0] == {"panel": 1, "beats": [1]}


def test_scene_scores_equal_matching_page_by_page(index):
    beats = some_beats(np.random.default_rng(3), 5)
    scores = scene_scores(index, beats)
    shelf = index.shelf()
    for page in range(len(index)):
        alone, _ = match_page(beats, shelf, page)
        assert scores[page] == pytest.approx(alone) or scores[page] == alone


def exhaustive_cost(index, page, beats):
    """Every assignment of beats to panels, with the cost of each pair taken one by one."""
    from panelscan.finder.fit import fit_cost

    shelf = index.shelf(np.array([page]))
    weights, count = FitWeights(), len(index.grid(page))
    best = np.inf
    for steps in itertools.product((0, 1, 2), repeat=count):
        if sum(steps) != len(beats):
            continue
        cost, b = weights.unclear * (1 - float(shelf.clarity[0])), 0
        for panel, step in enumerate(steps):
            if step == 0:
                cost += weights.idle
            elif step == 1:
                cost += float(fit_cost(beats[b], shelf, np.array([panel]))[0])
            else:
                both = beats[b].joined(beats[b + 1])
                cost += weights.shared + float(fit_cost(both, shelf, np.array([panel]))[0])
            b += step
        best = min(best, cost)
    return best


def test_best_page_for_a_scene_is_the_best_of_all(index):
    beats = some_beats(np.random.default_rng(8), 4)
    hits = find_scene(index, beats, count=3)
    small = [p for p in range(len(index)) if len(index.grid(p)) <= 7]
    costs = {p: exhaustive_cost(index, p, beats) for p in small}
    assert hits[0].score == pytest.approx(min(costs.values()))
    assert hits[0].score == pytest.approx(costs[hits[0].page])


def test_scene_that_needs_a_page_turn_is_told_to_be_planned(library, index):
    scene = Scene((Beat("a"), Beat("b", reveal=True, line=2)))
    with pytest.raises(NothingFound, match=r"Beat 2 \(line 2\) .* page turn"):
        search(library, Query(scene=scene), index)


def test_misfits_are_said(library, index):
    scene = Scene(
        (Beat("speech", words=60, weight=Weight.SMALL, shape=Shape.TALL), *[Beat("x")] * 8)
    )
    hit = search(library, Query(scene=scene, count=1), index).hits[0]
    assert any("wants" in g.text for g in hit.gives)


def test_empty_answer_says_what_excludes_most(library, index):
    query = Query(brief=Brief(panels=(20, None), bleeds=False))
    answer = search(library, query, index)
    assert not answer.hits and answer.looked_at == 87
    assert "at least 20 panels" in answer.why_empty and "without it" in answer.why_empty
    nobody = search(library, Query(brief=Brief(panels=(20, None), tiers=(9, 9))), index)
    assert "no single requirement is to blame alone" in nobody.why_empty
    filtered = search(library, Query(where="book = Fog"), index)
    assert "where book = Fog" in filtered.why_empty


def test_grids_are_shown_once_with_their_other_pages(library, index):
    answer = search(library, Query(written="any then any then one", near=False, count=50), index)
    grid = next(h for h in answer.hits if h.name in ("Salt, page 1", "Tide, page 37"))
    assert any(r.startswith("The same grid:") for r in grid.reasons)
    assert not {"Salt, page 1", "Tide, page 37"} <= set(names(answer))


def test_ratings_and_choices_move_the_order_openly_and_reversibly(library, index):
    query = Query(written="two then three then one", count=2, each_grid_once=False)
    before = search(library, query, index)
    second = before.hits[1]
    remember_choice(library, second.page_id, "tester")
    assert remember_choice(library, second.page_id, "tester") == 2
    add_labels(library.place, [Label("rating", "5", page_id=second.page_id)], "tester",
               "2026-03-01T10:00:00Z")  # fmt: skip
    moved = search(library, query, index)
    assert moved.hits[0].page_id == second.page_id
    assert moved.hits[0].reasons[-1] == (
        "Moved up a little: you rated it 5 of 5 and you took it 2 times."
    )
    unmoved = search(library, replace(query, use_liking=False), index)
    assert unmoved.hits == before.hits
    assert forget_choices(library, [second.page_id, "other"], "tester") == 1
    add_labels(library.place, [Label("rating", None, page_id=second.page_id)], "tester",
               "2026-03-02T10:00:00Z")  # fmt: skip
    assert search(library, query, index) == before


def test_a_choice_is_noted_in_words_and_never_stands_in_the_way(library, index, monkeypatch):
    page = index.pages.id(7)
    assert "taken, once by now" in note_choice(library, page, "tester")
    assert "2 times" in note_choice(library, page)
    assert forget_choices(library, [page]) == 1

    def refuse(*_):
        raise LibraryError("read-only")

    monkeypatch.setattr("panelscan.finder.ranking.add_labels", refuse)
    assert "cannot be written" in note_choice(library, page)


def test_liking_is_small_and_bounded():
    assert abs(Liking(5, 10**9).move) <= MOST and abs(Liking(1).move) <= MOST
    assert Liking().words() == [] and Liking(3).move == 0
    from panelscan.corpus.labels import SCHEMA, PageLabels

    labels = PageLabels({"rating": {"a": "4"}, "chosen": {"b": "x"}}, {}, SCHEMA.empty_table())
    assert likings(labels) == {"a": Liking(4, 0), "b": Liking(None, 0)}


def test_example_without_panels_is_refused(library, index):
    with pytest.raises(InputError, match="no panel"):
        search(library, Query(like=Grid(())), index)


def test_labels_and_ratings_as_requirements(library, index):
    page = index.pages.id(5)
    add_labels(library.place, [Label("mood", "calm", page_id=page)], "t", "2026-03-03T10:00:00Z")
    answer = search(library, Query(brief=Brief(labels={"mood": "Calm"})), index)
    assert [h.page_id for h in answer.hits] == [page]
