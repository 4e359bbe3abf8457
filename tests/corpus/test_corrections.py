from __future__ import annotations

import dataclasses
import itertools
import json
import time
from dataclasses import replace
from typing import get_args

import pandas as pd
import pytest

from panelscan.corpus.accuracy import accuracy
from panelscan.corpus.amend import corrected_pages, disagreements
from panelscan.corpus.corrections import log_path
from panelscan.corpus.edit import Draft, apply
from panelscan.corpus.query import load_pages, load_panels
from panelscan.corpus.store import Library, PagePlace
from panelscan.errors import ConflictError, LibraryError, NothingFound, UsageError
from panelscan.layout.pages import grid_of, lay_out
from panelscan.model.correction import (
    AddPanel,
    Correction,
    DeletePanel,
    MergePanels,
    MoveCorner,
    PageIsFine,
    Reorder,
    SetDirection,
    SetFold,
    SetOutline,
    SetPageFormat,
    SetPageFrame,
    SetSideState,
    SplitPanel,
    Undo,
)
from panelscan.model.correction_kinds import (
    REGISTRY,
    correction_from_json,
    correction_to_json,
)
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import Reading, SideState
from tests.corpus.made_up import HEIGHT, WIDTH, make_book, make_record


def laid(record):
    """The made-up page with the layout that the layout folder gives it."""
    layout = lay_out(record.finding.panels, record.finding.frame, record.direction)
    grid = grid_of(record.finding.panels, record.finding.frame, layout, record.direction)
    return replace(record, layout=layout, grid=grid)


@pytest.fixture
def library(tmp_path):
    library = Library.create(tmp_path / "library")
    library.commit_book("Salt", [laid(make_record("Salt", n, [2, 1, 3])) for n in (1, 2)])
    return library


@pytest.fixture
def page(library):
    return library.pages(["page_id"])["page_id"][0].as_py()


def put(library, page, *corrections):
    state = library.page(page)
    revision = state.revision
    for correction in corrections:
        revision = library.correct(page, correction, revision, who="Ada")
    return library.page(page)


def outlines(library, page):
    state = library.page(page)
    return [state.record.finding.panels[k].outline for k in state.record.layout.order]


def test_moving_a_corner_moves_it_in_the_tables_and_nothing_else(library, page):
    before = load_panels(library)
    state = library.page(page)
    x, y = state.record.finding.panels[0].outline.points[2]
    put(library, page, MoveCorner("d0", 2, (x - 30, y - 20)))
    assert outlines(library, page)[0].points[2] == (x - 30, y - 20)
    after = load_panels(library)
    changed = after[after["geometry"] != before["geometry"]]
    assert list(changed["reading_order"]) == [1]
    assert set(changed["page_id"]) == {page}
    assert changed["confidence"].iloc[0] == 1.0
    rows = load_pages(library)
    assert list(rows["revision"]) == [1, 0]
    assert list(rows["reviewed"]) == [False, False]


def test_panels_are_added_deleted_split_and_merged(library, page):
    state = put(library, page, DeletePanel("d2"))
    assert len(state.keys) == 5
    hole = Outline.box(100, 1100, WIDTH - 100, 1900)
    state = put(library, page, AddPanel(hole))
    assert state.keys == ("d0", "d1", "n2", "d3", "d4", "d5")
    state = put(library, page, SplitPanel("n2", (900, 1000), (900, 2000), 20.0))
    assert state.keys == ("d0", "d1", "n3a", "n3b", "d3", "d4", "d5")
    left, right = outlines(library, page)[2:4]
    assert left.bounds == pytest.approx((100, 1100, 890, 1900))
    assert right.bounds == pytest.approx((910, 1100, WIDTH - 100, 1900))
    state = put(library, page, MergePanels(("n3a", "n3b")))
    assert state.keys == ("d0", "d1", "n4", "d3", "d4", "d5")
    assert outlines(library, page)[2].iou(hole) == pytest.approx(1.0)
    assert load_pages(library)["panel_count"].iloc[0] == 6
    assert len(load_panels(library, "page = 1")) == 6


def test_a_small_panel_within_another_becomes_its_inset(library, page):
    x0, y0, x1, y1 = outlines(library, page)[2].bounds
    inset = Outline.box(x0 + 50, y0 + 50, (x0 + x1) / 2, (y0 + y1) / 2)
    put(library, page, AddPanel(inset))
    row = load_panels(library, "page = 1 and panel.is_inset").iloc[0]
    host = load_panels(library, "page = 1").set_index("reading_order").loc[row["host_order"]]
    assert host["area_share"] > 0.2
    put(library, page, DeletePanel("d2"))
    assert not load_panels(library, "page = 1")["is_inset"].any()


def test_a_given_order_stays_through_later_changes(library, page):
    put(library, page, Reorder(("d1", "d0", "d2", "d5", "d4", "d3")))
    state = put(library, page, SplitPanel("d4", (0, 2450), (WIDTH, 2450)))
    assert state.keys == ("d1", "d0", "d2", "d5", "n2a", "n2b", "d3")
    state = put(library, page, Reorder(("d3", "d5")))
    assert set(state.keys) == {"d1", "d0", "d2", "d5", "n2a", "n2b", "d3"}
    assert state.keys.index("d3") < state.keys.index("d5")


def test_page_matters_are_put_right(library, page):
    put(library, page, SetDirection(ReadingDirection.RTL), SetPageFormat("B5", 182, 257))
    row = load_pages(library).iloc[0]
    assert (row["direction"], row["direction_confidence"]) == ("rtl", 1.0)
    assert "reading direction: as you said" in list(row["notes"])
    # JIS P 0138 B5: 182 x 257 mm (FACTS 3a)
    assert (row["width_mm"], row["height_mm"]) == pytest.approx((182, 257))
    assert row["resolution_source"] == "page-format"
    first = load_panels(library, "page = 1").sort_values("reading_order").iloc[0]
    assert first["x_min_share"] > 0.4
    put(library, page, SetPageFrame(Outline.box(100, 0, WIDTH - 100, HEIGHT)))
    panels = load_panels(library, "page = 1")
    assert panels["x_min_share"].min() == pytest.approx(0.0)
    assert panels["bleed_left"].any()
    put(library, page, SetSideState("d0", 1, SideState.INFERRED))
    state = library.page(page)
    assert state.record.finding.panels[0].sides[1].state is SideState.INFERRED


def test_a_page_called_fine_is_certain(library, page):
    put(library, page, PageIsFine())
    row = load_pages(library).iloc[0]
    assert row["reviewed"]
    assert row["confidence"] == 1.0
    assert (row["doubts"], row["readings"]) == ("[]", "[]")
    assert load_panels(library, "page = 1")["confidence"].eq(1.0).all()


def test_every_correction_can_be_undone_and_the_undoing_too(library, page):
    before = outlines(library, page)
    put(library, page, DeletePanel("d2"), MoveCorner("d0", 0, (90.0, 130.0)))
    put(library, page, Undo(1))
    assert len(outlines(library, page)) == 6
    assert outlines(library, page)[0].points[0] == (90.0, 130.0)
    put(library, page, Undo(2))
    assert outlines(library, page) == before
    state = put(library, page, Undo(3))
    assert len(state.keys) == 5
    assert [e.revision for e in state.entries] == [1, 2, 3, 4, 5]


def test_what_builds_on_an_undone_correction_rests(library, page):
    put(library, page, AddPanel(Outline.box(120, 2900, 400, 3000)), DeletePanel("d2"))
    put(library, page, SetOutline("n1", Outline.box(120, 2900, 500, 3000)))
    state = put(library, page, Undo(1))
    assert len(state.keys) == 5
    state = put(library, page, Undo(4))
    assert len(state.keys) == 6


def test_two_people_cannot_overwrite_each_other(library, page):
    put(library, page, DeletePanel("d2"))
    before = (library.place.root / log_path(page)).read_bytes()
    with pytest.raises(ConflictError, match="corrected meanwhile"):
        library.correct(page, DeletePanel("d3"), 0, who="Ben")
    assert (library.place.root / log_path(page)).read_bytes() == before


@pytest.mark.parametrize(
    "correction",
    [
        DeletePanel("d9"),
        MoveCorner("d0", 9, (1, 1)),
        MoveCorner("d0", 0, (5000.0, 5000.0)),
        SplitPanel("d0", (0, 0), (10, 0)),
        SplitPanel("d0", (5, 5), (5, 5)),
        MergePanels(("d0",)),
        Reorder(("d0", "d0")),
        Undo(1),
        SetSideState("d0", 7, SideState.DRAWN),
        SetPageFormat("stamp", 2.0, 3.0),
    ],
)
def test_what_makes_no_sense_is_refused_and_leaves_nothing(library, page, correction):
    with pytest.raises(UsageError):
        library.correct(page, correction, 0, who="Ada")
    assert library.page(page).revision == 0
    assert not (library.place.root / log_path(page)).exists()


def test_a_page_that_is_not_there_is_told(library):
    with pytest.raises(NothingFound):
        library.correct("absent", PageIsFine(), 0, who="Ada")
    with pytest.raises(NothingFound):
        library.page("absent")


def test_a_rescan_keeps_what_a_person_put_right_and_says_what_it_would_change(library, page):
    put(library, page, DeletePanel("d2"), PageIsFine())
    assert disagreements(library) == []
    kept = outlines(library, page)
    better = laid(make_record("Salt", 1, [2, 2], detector="made-up 2"))
    told = library.commit_book("Salt", [better])
    assert told.replaced == 1
    (difference,) = told.disagreements
    assert (difference.standing, difference.found, difference.same) == (5, 4, 0)
    assert "corrections stand" in difference.text
    assert outlines(library, page) == kept
    row = load_pages(library).iloc[0]
    assert (row["detector"], row["reviewed"], row["revision"]) == ("made-up 2", True, 2)
    assert disagreements(library) == list(told.disagreements)
    state = put(library, page, Undo(1), Undo(2))
    assert len(state.keys) == 4


def test_a_correction_of_the_direction_lets_better_panels_in(library, page):
    put(library, page, SetDirection(ReadingDirection.RTL))
    told = library.commit_book("Salt", [laid(make_record("Salt", 1, [2, 2]))])
    assert told.disagreements == ()
    state = library.page(page)
    assert len(state.keys) == 4
    assert state.record.direction is ReadingDirection.RTL


def test_the_same_scan_again_adds_nothing_to_the_record(library, page):
    put(library, page, DeletePanel("d2"))
    before = (library.place.root / log_path(page)).read_bytes()
    for _ in range(2):
        library.commit_book("Salt", [laid(make_record("Salt", 1, [2, 1, 3]))])
    assert (library.place.root / log_path(page)).read_bytes() == before


def test_lines_are_only_ever_added(library, page):
    texts = []
    for correction in (DeletePanel("d2"), Undo(1), PageIsFine(), SetPageFormat("A4", 210, 297)):
        put(library, page, correction)
        texts.append((library.place.root / log_path(page)).read_text())
    for old, new in itertools.pairwise(texts):
        assert new.startswith(old)
    last = json.loads(texts[-1].splitlines()[-1])
    assert last["who"] == "Ada"
    assert last["at"].endswith("Z")
    assert last["detection"] == json.loads(texts[-1].splitlines()[0])["id"]


def test_corrections_follow_a_page_that_moves_and_one_that_comes_back(library, page):
    put(library, page, DeletePanel("d2"))
    moved = PagePlace("Elsewhere/renamed.png", 0, 12)
    library.commit_book("Tin", [], places={page: moved}, moved_from=["Salt"])
    state = put(library, page, DeletePanel("d3"))
    assert (state.record.book, state.record.page_number) == ("Tin", 12)
    assert len(load_panels(library, "book = Tin")) == 4
    library.forget_book("Tin")
    library.commit_book("Salt", [laid(make_record("Salt", 1, [2, 1, 3]))])
    assert len(load_panels(library, "book = Salt and page = 1")) == 4
    assert library.page(page).revision == 2


def test_a_damaged_record_is_named_with_its_line(library, page):
    put(library, page, DeletePanel("d2"))
    file = library.place.root / log_path(page)
    file.write_text(file.read_text()[:-30])
    with pytest.raises(LibraryError, match="line 2"):
        library.page(page)
    with pytest.raises(LibraryError, match="line 2"):
        library.commit_book("Salt", [laid(make_record("Salt", 1, [1]))])


def test_accuracy_counts_reviewed_pages(library, page):
    assert accuracy(library) is None
    put(library, page, PageIsFine())
    second = library.pages(["page_id"])["page_id"][1].as_py()
    put(library, second, DeletePanel("d2"), PageIsFine())
    told = accuracy(library)
    # page 1: 6 of 6; page 2: 5 hits and one extra: F1 = 2*11 / (2*11 + 1)
    assert (told.pages, told.panels) == (2, 11)
    assert told.f1[0.9].value == pytest.approx(22 / 23)
    assert told.page_exact.value == 0.5
    assert told.page_exact.low < 0.5 < told.page_exact.high
    assert told.f1[0.9].low <= 22 / 23 <= told.f1[0.9].high


def test_sides_keep_their_states_where_the_ring_begins_elsewhere(library, page):
    x0, y0, x1, y1 = outlines(library, page)[0].bounds
    put(library, page, SetSideState("d0", 0, SideState.INFERRED))  # the top
    # the bottom left corner is now the one nearest to the page's top left
    ring = Outline.of([(x1 - 40, y0), (x1, y0), (x1, y1), (x0 - 60, y0 + 200)])
    state = put(library, page, SetOutline("d0", ring))
    panel = state.record.finding.panels[state.record.layout.order[0]]
    marked = [k for k, side in enumerate(panel.sides) if side.state is SideState.INFERRED]
    assert [panel.outline.edges()[k] for k in marked] == [((x1 - 40, y0), (x1, y0))]


def test_a_fold_is_set_and_taken_away(library, page):
    put(library, page, SetFold(WIDTH / 2))
    assert load_pages(library)["fold_x_px"].iloc[0] == WIDTH / 2
    with pytest.raises(UsageError, match="beside the page"):
        put(library, page, SetFold(-5.0))
    put(library, page, SetFold(None))
    assert pd.isna(load_pages(library)["fold_x_px"].iloc[0])


def test_other_readings_are_known_after_a_correction(library):
    record = laid(make_record("Salt", 3, [2, 2]))
    other = Reading(record.finding.panels[:3], 0.3)
    finding = replace(record.finding, alternatives=(other,))
    library.commit_book("Salt", [replace(record, finding=finding)])
    page = record.ref.page_id
    for state in (library.page(page), put(library, page, DeletePanel("d0"))):
        told = state.newest.finding.alternatives
        assert [r.probability for r in told] == [0.3]
        assert [
            p.outline.iou(q.outline) for p, q in zip(told[0].panels, other.panels, strict=True)
        ] == pytest.approx([1.0] * 3, abs=1e-4)


def test_corrections_pass_through_json(library, page):
    everything = [
        MoveCorner("d0", 1, (2.0, 3.0)),
        SetOutline("d0", Outline.box(0, 0, 2, 2)),
        AddPanel(Outline.box(0, 0, 2, 2)),
        DeletePanel("d0"),
        SplitPanel("d0", (0.0, 1.0), (2.0, 1.0), 0.5),
        MergePanels(("d0", "d1")),
        Reorder(("d1", "d0")),
        SetDirection(ReadingDirection.RTL),
        SetPageFrame(Outline.box(0, 0, 2, 2)),
        SetPageFormat("B5", 182.0, 257.0),
        SetFold(120.5),
        SetFold(None),
        SetSideState("d0", 2, SideState.SHARED),
        PageIsFine(),
        Undo(4),
    ]
    for correction in everything:
        told = json.loads(json.dumps(correction_to_json(correction)))
        assert correction_from_json(told) == correction
    made = [kind.made for kind in REGISTRY]
    assert {type(c) for c in everything} == set(made) == set(get_args(Correction))
    assert len({kind.name for kind in REGISTRY}) == len({k.words for k in REGISTRY}) == len(made)
    for kind in REGISTRY:
        assert set(kind.readers) == {f.name for f in dataclasses.fields(kind.made)}


def test_every_kind_is_applied_to_a_page(library, page):
    """A kind that is in the registry and not in `edit` would change nothing, or raise."""
    record = library.page(page).record
    outline = Outline.box(*[v * 0.9 for v in record.finding.frame.bounds])
    made = {
        MoveCorner: MoveCorner("d0", 0, (5.0, 5.0)), SetOutline: SetOutline("d0", outline),
        AddPanel: AddPanel(outline), DeletePanel: DeletePanel("d0"),
        MergePanels: MergePanels(("d0", "d1")), Reorder: Reorder(("d1", "d0")),
        SetDirection: SetDirection(ReadingDirection.RTL), SetPageFrame: SetPageFrame(outline),
        SetPageFormat: SetPageFormat("B5", 182.0, 257.0),
        SetFold: SetFold(sum(outline.bounds[::2]) / 2),
        SetSideState: SetSideState("d0", 0, SideState.SHARED), PageIsFine: PageIsFine(),
    }  # fmt: skip
    x0, y0, x1, y1 = record.finding.panels[0].outline.bounds
    made[SplitPanel] = SplitPanel("d0", (x0, (y0 + y1) / 2), (x1, (y0 + y1) / 2))
    before = Draft.of(record)
    assert set(made) == {kind.made for kind in REGISTRY} - {Undo}
    for correction in made.values():
        assert apply(before, correction, 1) != before


def test_a_correction_is_saved_fast(tmp_path):
    """Aim: under 50 ms. Processor time, since this machine's disk and cores are shared."""
    library = Library.create(tmp_path / "library")
    library.commit_book("Salt", make_book("Salt", 30))
    page = library.pages(["page_id"])["page_id"][20].as_py()
    x, y = library.page(page, "Salt").record.finding.panels[0].outline.points[0]
    times = []
    for revision in range(8):
        start = time.process_time()
        move = MoveCorner("d0", 0, (x + revision, y))
        library.correct(page, move, revision, who="Ada", book="Salt", settled=False)
        times.append(time.process_time() - start)
    assert sorted(times)[len(times) // 2] < 0.05
    assert len(corrected_pages(library)[page].entries) == 8


def test_tables_follow_a_correction_when_they_are_next_read(library, page):
    library.correct(page, DeletePanel("d2"), 0, who="Ada", book="Salt", settled=False)
    folder = library.place.root
    assert len(pd.read_parquet(folder / "panels")) == 12
    assert len(library.page(page, "Salt").keys) == 5
    assert len(library.page(page).keys) == 5
    assert len(pd.read_parquet(folder / "panels")) == 12, "looking at a page waits for nothing"
    assert library.panels().num_rows == 11
    assert len(pd.read_parquet(folder / "panels")) == 11
    assert library.settle() == 0


def test_a_page_that_moved_before_it_was_settled_is_settled_where_it_is(library, page):
    library.correct(page, DeletePanel("d2"), 0, who="Ada", book="Salt", settled=False)
    place = PagePlace("Elsewhere/renamed.png", 0, 12)
    library.commit_book("Tin", [], places={page: place}, moved_from=["Salt"])
    assert Library.open(library.place.root).panels(["page_id"]).num_rows == 11
    library.correct(page, DeletePanel("d3"), 1, who="Ada", book="Tin", settled=False)
    library.forget_book("Tin")
    assert library.settle() == 0
    assert library.pages().num_rows == 1


def test_what_was_done_at_once_stands_or_falls_together(library, page):
    def actions():
        # Read from the files anew: nothing is remembered elsewhere.
        return [e.action for e in Library.open(library.place.root).page(page).entries]

    together = [DeletePanel("d0"), DeletePanel("d99")]
    with pytest.raises(UsageError):
        library.correct_together(page, together, 0, who="Ada")
    assert actions() == []
    together = [DeletePanel("d0"), DeletePanel("d1")]
    assert library.correct_together(page, together, 0, who="Ada") == 2
    library.correct(page, DeletePanel("d2"), 2, who="Ada")
    library.correct_together(page, [PageIsFine()], 3, who="Ada", action=3)
    assert actions() == [1, 1, 3, 3]
    for nowhere in (0, 6):
        with pytest.raises(UsageError, match="no action"):
            library.correct_together(page, [PageIsFine()], 4, who="Ada", action=nowhere)
    told = [json.loads(line) for line in library.place.read(log_path(page)).splitlines()]
    assert [line.get("action") for line in told] == [None, None, 1, None, 3]


def test_an_action_that_names_a_later_correction_is_damage(library, page):
    library.correct(page, DeletePanel("d0"), 0, who="Ada")
    path = library.place.root / log_path(page)
    path.write_text(path.read_text().replace('"revision": 1,', '"revision": 1, "action": 2,'))
    with pytest.raises(LibraryError, match="line 2"):
        library.page(page)
