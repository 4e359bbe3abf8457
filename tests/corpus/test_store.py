from __future__ import annotations

import contextlib
import os
import tempfile
import threading
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest
import shapely

from panelscan.corpus import view as views
from panelscan.corpus.schema import TABLES, arrow_schema
from panelscan.corpus.store import MARK, Library, PagePlace
from panelscan.errors import LibraryError, NewerLibraryError, NothingFound
from tests.corpus.made_up import HEIGHT, WIDTH, make_book, make_record


@pytest.fixture
def library(tmp_path):
    return Library.create(tmp_path / "library")


def test_a_committed_book_is_read_back_by_pandas_alone(library, tmp_path):
    told = library.commit_book("Salt", make_book("Salt", 5))
    assert (told.added, told.replaced, told.kept) == (5, 0, 0)
    pages = pd.read_parquet(tmp_path / "library" / "pages")
    panels = pd.read_parquet(tmp_path / "library" / "panels")
    assert list(pages["page_number"]) == [1, 2, 3, 4, 5]
    assert len(panels) == pages["panel_count"].sum() == 6 + 1 + 6 + 3 + 6
    first = panels[panels["page_number"] == 1]
    assert sorted(first["reading_order"]) == list(range(1, len(first) + 1))
    shape = shapely.from_wkb(first["geometry"].iloc[0])
    assert shape.area == pytest.approx(first["area_share"].iloc[0] * WIDTH * HEIGHT)
    # 300 pixels per inch: FACTS 3a, 1 in = 25.4 mm
    assert pages["width_mm"].iloc[0] == pytest.approx(WIDTH / 300 * 25.4)


def test_every_table_has_the_declared_columns_and_types(library):
    library.commit_book("Salt", make_book("Salt", 3))
    for table in TABLES:
        read = library.table(table)
        assert read.schema.remove_metadata() == arrow_schema(table)
        assert read.num_rows > 0


def test_lengths_in_mm_are_null_where_the_resolution_is_unknown(library):
    library.commit_book("Salt", [make_record(ppi=None)])
    for table in TABLES:
        read = library.table(table)
        lengths = [n for n in read.column_names if n.endswith(("_mm", "_mm2", "_ppi"))]
        assert lengths
        for name in lengths:
            assert read[name].null_count == read.num_rows, name


def test_a_table_without_rows_keeps_its_types(library, tmp_path):
    library.commit_book("Blank", [make_record("Blank", 1, [])])
    library.commit_book("Salt", make_book("Salt", 2))
    panels = pd.read_parquet(tmp_path / "library" / "panels")
    assert set(panels["book"]) == {"Salt"}


def test_a_second_commit_keeps_other_pages_and_replaces_the_same(library):
    library.commit_book("Salt", make_book("Salt", 4))
    told = library.commit_book(
        "Salt", [make_record("Salt", 2, [1], detector="made-up 2"), make_record("Salt", 9, [1])]
    )
    assert (told.added, told.replaced, told.kept, told.dropped) == (1, 1, 3, 0)
    pages = library.pages(columns=["page_number", "detector", "panel_count"]).to_pylist()
    assert [p["page_number"] for p in pages] == [1, 2, 3, 4, 9]
    assert pages[1] == {"page_number": 2, "detector": "made-up 2", "panel_count": 1}
    counted = library.panels(columns=["page_number"], where=pc.field("page_number") == 2)
    assert counted.num_rows == 1


def test_the_same_content_twice_is_one_page(library):
    twins = [make_record("Salt", 1, content="same"), make_record("Salt", 2, content="same")]
    library.commit_book("Salt", twins)
    library.commit_book("Salt", twins)
    assert library.pages().num_rows == 1


def test_pages_can_be_dropped_moved_and_renumbered(library):
    records = make_book("Salt", 3)
    library.commit_book("Salt", records)
    ids = [r.ref.page_id for r in records]
    moved = PagePlace("new/renamed.png", 4, 7, "inside.png")
    told = library.commit_book("Salt", [], places={ids[0]: moved}, drop=[ids[1]])
    assert (told.kept, told.dropped) == (2, 1)
    known = library.known_pages()
    assert set(known) == {ids[0], ids[2]}
    assert {page.page_id for page in known.of_book("Salt")} == {ids[0], ids[2]}
    assert known.of_book("Tin") == []
    assert ids[1] not in known
    assert (known[ids[0]].source_path, known[ids[0]].page_number) == ("new/renamed.png", 7)
    panels = library.panels(where=pc.field("page_id") == ids[0]).to_pylist()
    assert {(p["source_path"], p["source_index"], p["page_number"]) for p in panels} == {
        ("new/renamed.png", 4, 7)
    }


def test_a_page_can_move_to_another_book_in_one_step(library):
    library.commit_book("Salt", make_book("Salt", 2))
    page = make_record("Tin", 1, content="Salt/1")
    library.commit_book("Tin", [page], moved_from=["Salt"])
    known = library.known_pages()
    assert len(known) == 2
    assert known[page.ref.page_id].book == "Tin"
    library.commit_book("Tin", [make_record("Tin", 2, content="Salt/2")], moved_from=["Salt"])
    assert library.books() == ["Tin"]


def test_books_whose_names_differ_only_in_case_stay_apart(library, tmp_path):
    for book in ("Salt", "salt", "SALT", "con", "../up", "a" * 300, "", "Ⅳ 海"):
        library.commit_book(book, [make_record(book, 1)])
    assert len(library.books()) == 8
    names = [p.name for p in (tmp_path / "library" / "panels").iterdir()]
    assert len({n.lower() for n in names}) == 8
    assert all(len(n) < 80 and n.isascii() for n in names)
    assert not (tmp_path / "up").exists()


def test_forgetting_a_book_leaves_the_others(library):
    library.commit_book("Salt", make_book("Salt", 3))
    library.commit_book("Tin", make_book("Tin", 2))
    assert library.forget_book("Salt") == 3
    with pytest.raises(NothingFound, match="no book 'Salt'"):
        library.forget_book("Salt")
    assert library.books() == ["Tin"]
    assert set(library.gutters(columns=["book"])["book"].to_pylist()) == {"Tin"}


def test_opening_what_is_no_library_says_so(tmp_path):
    with pytest.raises(LibraryError, match="is no library"):
        Library.open(tmp_path)
    with pytest.raises(LibraryError, match="is no library"):
        Library.open(tmp_path / "absent")


def test_a_folder_of_pages_is_not_taken_for_a_library(tmp_path):
    (tmp_path / "pages").mkdir()
    (tmp_path / "pages" / "page_01.png").write_bytes(b"art")
    with pytest.raises(LibraryError, match="'pages'"):
        Library.open_or_create(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["pages"]


def test_a_library_is_not_made_twice(library, tmp_path):
    with pytest.raises(LibraryError, match="already"):
        Library.create(tmp_path / "library")
    library.commit_book("Salt", make_book("Salt", 1))
    assert Library.open_or_create(tmp_path / "library").pages().num_rows == 1


def test_a_newer_library_is_refused(library, tmp_path):
    (tmp_path / "library" / MARK).write_text('{"schema_version": 99}')
    with pytest.raises(NewerLibraryError, match="library version 99"):
        Library.open(tmp_path / "library")


@pytest.mark.parametrize("text", ["", "{", "[]", '{"schema_version": "x"}'])
def test_a_damaged_mark_is_named(library, tmp_path, text):
    (tmp_path / "library" / MARK).write_text(text)
    with pytest.raises(LibraryError, match="damaged"):
        Library.open(tmp_path / "library")


def test_a_damaged_file_is_named_and_the_rest_is_left_alone(library, tmp_path):
    library.commit_book("Salt", make_book("Salt", 2))
    library.commit_book("Tin", make_book("Tin", 2))
    broken = next((tmp_path / "library" / "panels").glob("tin-*"))
    broken.write_bytes(broken.read_bytes()[:500])
    with pytest.raises(LibraryError, match=broken.name):
        library.panels()
    with pytest.raises(LibraryError, match=broken.name):
        library.commit_book("Tin", make_book("Tin", 1))
    assert library.pages().num_rows == 4


NOBODY = 65534


@contextlib.contextmanager
def no_longer_root():
    """Root may write everywhere, so root is nobody for a while; others stay who they are."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(os.name == "nt", reason="the folder's mode says nothing there")
def test_a_read_only_folder_refuses_to_write_but_reads():
    with tempfile.TemporaryDirectory() as open_to_all:
        root = Path(open_to_all)
        root.chmod(0o755)
        Library.create(root / "library").commit_book("Salt", make_book("Salt", 2))
        things = [root / "library", *(root / "library").rglob("*")]
        for thing in things:
            thing.chmod(0o555 if thing.is_dir() else 0o444)
        with no_longer_root():
            library = Library.open(root / "library")
            with pytest.raises(LibraryError, match="may not be written"):
                library.commit_book("Tin", make_book("Tin", 1))
            assert library.pages().num_rows == 2
        for thing in things:
            thing.chmod(0o755)


def test_threads_may_commit_and_read_together(library):
    seen: list[int] = []

    def scan(book: str) -> None:
        for n in range(3):
            library.commit_book(book, make_book(book, n + 1))

    def watch() -> None:
        for _ in range(20):
            both = library.tables({"pages": ["page_id", "panel_count"], "panels": ["page_id"]})
            assert pc.sum(both["pages"]["panel_count"]).as_py() in (
                both["panels"].num_rows,
                None,
            )
            seen.append(both["pages"].num_rows)

    threads = [threading.Thread(target=scan, args=(b,)) for b in ("Salt", "Tin")]
    threads.append(threading.Thread(target=watch))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(seen) == 20
    assert library.pages().num_rows == 6


def test_files_say_what_they_are(library, tmp_path):
    library.commit_book("Salt", make_book("Salt", 1))
    file = next((tmp_path / "library" / "pages").glob("*.parquet"))
    metadata = pq.read_metadata(file).metadata
    assert {b"geo", b"panelscan"} <= set(metadata)


def test_a_library_in_memory_holds_the_same(tmp_path):
    import fsspec

    fsspec.filesystem("memory").store.clear()
    library = Library.create("memory://shelf/one")
    library.commit_book("Salt", make_book("Salt", 3))
    library.commit_book("Salt", make_book("Salt", 4))
    again = Library.open("memory://shelf/one")
    assert isinstance(again.panels(), pa.Table)
    assert again.pages().num_rows == 4
    again.forget_book("Salt")
    assert again.pages().num_rows == 0


def test_known_pages_move_with_their_rows_when_a_folder_is_renamed(library):
    records = make_book("Salt", 3)
    library.commit_book("Salt", records)
    before = library.panels().num_rows
    ids = [r.ref.page_id for r in records]
    places = {i: PagePlace(f"Salt 2/{k}.png", 0, k + 1) for k, i in enumerate(ids)}
    told = library.commit_book("Salt 2", [], places=places, moved_from=["Salt"])
    assert told.added == 3
    assert library.books() == ["Salt 2"]
    assert library.panels().num_rows == before
    assert set(library.gutters()["book"].to_pylist()) == {"Salt 2"}


def test_a_reader_whom_writers_leave_no_quiet_moment_gets_one(library):
    library.commit_book("Salt", make_book("Salt", 1))
    other = Library.open(library.place.root)
    versions: list[int] = []

    def read(view):
        if len(versions) < 6:
            other.commit_book("Salt", [make_record("Salt", 1, [1 + len(versions)])])
        versions.append(views.read_table(library.place, view, "panels", ["page_id"]).num_rows)
        return versions[-1]

    assert library.reading(("panels",), read) == 6
    assert len(versions) == 7


def test_a_library_cannot_be_made_where_a_file_is(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(LibraryError):
        Library.open_or_create(tmp_path / "notes.txt")
    with pytest.raises(LibraryError, match="no library"):
        Library.open(tmp_path / "notes.txt")
    assert (tmp_path / "notes.txt").read_text() == "mine"
