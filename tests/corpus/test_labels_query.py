from __future__ import annotations

import numpy as np
import pytest

from panelscan.corpus.labels import Label, add_labels, all_labels, labels_from_rows, labels_now
from panelscan.corpus.query import load_grids, load_gutters, load_pages, load_panels
from panelscan.corpus.select import select_pages
from panelscan.corpus.store import Library, PagePlace
from panelscan.errors import NotationError, NothingFound, UsageError
from tests.corpus.made_up import make_book, make_record

AT = "2026-03-01T10:00:00.000Z"


@pytest.fixture
def library(tmp_path):
    library = Library.create(tmp_path / "library")
    library.commit_book("Salt", make_book("Salt", 5))
    library.commit_book("Tin", make_book("Tin", 3))
    return library


def page_id(library, book, number):
    rows = library.pages(["page_id", "book", "page_number"]).to_pylist()
    return next(r["page_id"] for r in rows if (r["book"], r["page_number"]) == (book, number))


def say(library, *labels):
    add_labels(library.place, labels, "Ada", AT)


def test_labels_of_books_and_pages_filter_and_join(library):
    first = page_id(library, "Salt", 1)
    say(library, Label("stage", "inks", book="Salt"), Label("stage", "rough", page_id=first))
    say(library, Label("rating", "5", page_id=first), Label("my mood", "calm", page_id=first))
    pages = load_pages(library)
    assert list(pages["stage"].fillna("")) == ["rough", *["inks"] * 4, "", "", ""]
    assert pages["rating"].iloc[0] == 5.0
    assert list(load_pages(library, "stage = inks")["page_number"]) == [2, 3, 4, 5]
    assert list(load_pages(library, "rating >= 4 and [my mood] = calm")["page_id"]) == [first]
    assert len(load_panels(library, "stage = rough")) == 6
    assert set(load_gutters(library, "stage = rough")["page_id"]) == {first}


def test_the_last_word_counts_and_a_label_can_be_taken_away(library):
    first = page_id(library, "Salt", 1)
    say(library, Label("scene", "3", page_id=first))
    say(library, Label("scene", "4", page_id=first))
    assert labels_now(library.place).by_page["scene"] == {first: "4"}
    say(library, Label("scene", None, page_id=first))
    assert labels_now(library.place).names == []
    assert all_labels(library.place).num_rows == 3


def test_a_label_book_stands_for_the_books_own_name(library):
    say(library, Label("book", "Salt and Tin", book="Tin"))
    pages = load_pages(library, columns=["page_number"])
    assert set(pages["book"]) == {"Salt", "Salt and Tin"}
    assert len(load_pages(library, 'book = "Salt and Tin"')) == 3
    assert len(load_pages(library, "book = Salt")) == 5


def test_a_panels_label_follows_the_panel_through_a_rescan(library):
    first = page_id(library, "Salt", 1)
    panels = load_panels(library, "book = Salt and page = 1")
    third = panels[panels["reading_order"] == 3].iloc[0]
    box = tuple(float(third[f"{n}_share"]) for n in ("x_min", "y_min", "x_max", "y_max"))
    say(library, Label("shot", "close-up", page_id=first, panel_box=box))
    library.commit_book("Salt", [make_record("Salt", 1, [3, 3], seed=99)])
    again = load_panels(library, "book = Salt and page = 1")
    told = again[again["shot"].notna()]
    assert list(told["reading_order"]) == [3]


def test_csv_rows_become_labels(library):
    ids = {"page_001.png": page_id(library, "Salt", 1)}
    rows = [
        {"page": "page_001.png", "stage": "inks", "scene": "", "panel": ""},
        {"page": "", "book": "Tin", "artist": "Ada Quill", "panel": ""},
        {"page": "page_001.png", "panel": "2", "shot": "long"},
    ]
    labels = labels_from_rows(rows, ids, lambda page, number: (0.0, 0.0, 1.0, number / 2))
    assert [(label.scope, label.name, label.value) for label in labels] == [
        ("page", "stage", "inks"),
        ("book", "artist", "Ada Quill"),
        ("panel", "shot", "long"),
    ]
    for bad, told in [
        ({"page": "page_9.png", "stage": "inks"}, "row 2: the library has no page"),
        ({"page": "", "stage": "inks"}, "row 2: it names no page"),
        ({"page": "page_001.png", "stage": "sketchy"}, "row 2: stage: sketchy"),
        ({"page": "page_001.png", "panel": "x", "shot": "long"}, "row 2: page page_001.png has no"),
    ]:
        with pytest.raises(UsageError, match=told):
            labels_from_rows([bad], ids, lambda page, number: None)


@pytest.mark.parametrize(
    ("name", "value"),
    [("stage", "sketch"), ("rating", "6"), ("date", "March"), ("", "x"), ("a]b", "x")],
)
def test_labels_that_cannot_be_are_refused(name, value):
    with pytest.raises(UsageError):
        Label(name, value, page_id="ab")


def test_panel_filters_mix_with_page_filters(library):
    wide = load_panels(library, "book = Salt and panel.area_share > 0.5")
    assert set(wide["page_number"]) == {2}
    either = load_panels(library, "panel.reading_order = 1 or panels = 1")
    assert len(either) == 8
    with pytest.raises(NotationError):
        load_pages(library, "panel.area_share > 0.5")


def test_columns_can_be_chosen(library):
    chosen = select_pages(library, "panels = 6", ["page_number"])
    assert chosen.pages.column_names == ["page_number"]
    panels = load_panels(library, columns=["area_share"])
    assert list(panels.columns) == ["page_id", "area_share"]


def test_grids_come_as_arrays_in_step_with_their_pages(library):
    grids = load_grids(library)
    assert len(grids) == 8
    assert grids.boxes.shape == (grids.starts[-1], 4)
    frame = load_panels(library)
    for g in range(len(grids)):
        own = frame[frame["page_id"] == grids.page_ids[g].as_py()].sort_values("reading_order")
        np.testing.assert_allclose(
            grids.boxes[grids.starts[g] : grids.starts[g + 1], 0], own["x_min_share"], atol=1e-6
        )
    whole = grids.grids([3, 0])
    assert [len(g) for g in whole] == [int(grids.panel_count[3]), int(grids.panel_count[0])]
    np.testing.assert_allclose(
        whole[1].panels[0].outline.bounds, grids.boxes[grids.starts[0]], atol=1e-6
    )
    assert grids.name(0) == "Salt, page 1"
    assert grids.index_of(grids.page_ids[5].as_py()) == 5
    with pytest.raises(NothingFound):
        grids.index_of("absent")
    assert len(load_grids(library, "panels = 1")) == 2


def test_an_empty_library_gives_empty_frames(tmp_path):
    library = Library.create(tmp_path / "none")
    assert load_pages(library).empty
    assert load_panels(library, "panels > 3").empty
    assert len(load_grids(library)) == 0


def test_a_renamed_book_keeps_what_was_said_of_it(library):
    say(library, Label("stage", "inks", book="Salt"), Label("artist", "Ada Quill", book="Salt"))
    say(library, Label("stage", "rough", book="Salt 2"))
    held = library.known_pages().of_book("Salt")
    places = {p.page_id: PagePlace(f"Salt 2/{k}.png", 0, k) for k, p in enumerate(held, start=1)}
    some = dict(list(places.items())[:2])
    library.commit_book("Salt 2", [], places=some, moved_from=["Salt"])
    assert len(load_pages(library, 'artist = "Ada Quill"')) == 3
    library.commit_book("Salt 2", [], places=places, moved_from=["Salt"])
    pages = load_pages(library, 'book = "Salt 2"')
    assert len(pages) == 5
    assert set(pages["artist"]) == {"Ada Quill"}
    assert set(pages["stage"]) == {"rough"}
