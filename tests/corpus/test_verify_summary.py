from __future__ import annotations

import json

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from panelscan.corpus import geoparquet
from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.packs import compact
from panelscan.corpus.query import load_pages
from panelscan.corpus.store import Library
from panelscan.corpus.summary import summarise
from panelscan.corpus.verify import FROM_A_COPY, SCAN_AGAIN, damaged_books, set_aside, verify
from panelscan.errors import LibraryError, PanelscanError
from panelscan.model.correction import DeletePanel, PageIsFine
from tests.corpus.made_up import make_book, make_record


@pytest.fixture
def library(tmp_path):
    library = Library.create(tmp_path / "library")
    library.commit_book("Salt", make_book("Salt", 3))
    library.commit_book("Tin", [make_record("Tin", 1, confidence=0.4, ppi=None)])
    return library


def test_a_sound_library_has_no_faults(library):
    page = library.pages(["page_id"])["page_id"][0].as_py()
    library.correct(page, DeletePanel("d0"), 0, who="Ada")
    add_labels(library.place, [Label("stage", "inks", book="Salt")], "Ada", "2026-01-01")
    for _ in range(2):
        told = verify(library)
        assert told.faults == ()
        assert (told.pages, told.panels) == (4, 18)
        compact(library)


def test_a_summary_counts_what_is_there(library):
    page = library.pages(["page_id"])["page_id"][0].as_py()
    library.correct(page, PageIsFine(), 0, who="Ada")
    told = summarise(library)
    assert (told.books, told.pages, told.panels) == (2, 4, 19)
    assert told.gutters == library.gutters().num_rows
    assert (told.doubtful_count, told.reviewed, told.corrected) == (1, 1, 1)
    assert told.doubtful[0].book == "Tin"
    assert told.without_resolution == 1
    assert told.detectors == {"made-up 1": 4}
    assert told.directions == {"ltr": 4}
    assert told.bytes == sum(told.bytes_by_folder.values()) > 10_000
    assert len(told.advice) == 2


def change(library, table, book, edit):
    """Write a table's file anew with other rows, metadata kept."""
    file = next((library.place.root / table).glob(f"{book}-*.parquet"))
    rows = pq.read_table(file)
    pq.write_table(edit(rows).replace_schema_metadata(rows.schema.metadata), file)


def replaced(rows, column, values):
    k = rows.column_names.index(column)
    return rows.set_column(k, rows.field(k), pa.array(values, rows.field(k).type))


BOW_TIE = shapely.to_wkb(shapely.Polygon([(0, 0), (9, 9), (9, 0), (0, 9)]))

EDITS = {
    "reading order": (
        "panels",
        lambda r: replaced(r, "reading_order", [1] * r.num_rows),
        "is not 1 to",
    ),
    "panel missing": ("panels", lambda r: r.slice(1), "is not 1 to"),
    "stray rows": (
        "gutters",
        lambda r: replaced(r, "page_id", ["elsewhere"] * r.num_rows),
        "belong to no page",
    ),
    "geometry": ("panels", lambda r: replaced(r, "geometry", [BOW_TIE] * r.num_rows), "cross"),
    "no wkb": ("panels", lambda r: replaced(r, "geometry", [b"xx"] * r.num_rows), "not WKB"),
    "no outline": ("pages", lambda r: replaced(r, "geometry", [None] * r.num_rows), "missing"),
    "box": (
        "panels",
        lambda r: replaced(r, "bbox", [{"xmin": 0, "ymin": 0, "xmax": 1, "ymax": 1}] * r.num_rows),
        "do not fit",
    ),
    "confidence": ("panels", lambda r: replaced(r, "confidence", [7.0] * r.num_rows), "0 to 1"),
    "hash": ("pages", lambda r: replaced(r, "content_sha256", ["0"] * r.num_rows), "hash"),
    "json": ("pages", lambda r: replaced(r, "doubts", ["{"] * r.num_rows), "not JSON"),
    "mm": ("pages", lambda r: replaced(r, "width_mm", [None] * r.num_rows), "lengths in mm"),
    "twice": ("pages", lambda r: pa.concat_tables([r, r]), "stands twice"),
    "book": ("pages", lambda r: replaced(r, "book", ["Kelp"] * r.num_rows), "does not name"),
    "columns": ("panels", lambda r: r.drop_columns(["depth"]), "other columns"),
}


@pytest.mark.parametrize("name", EDITS)
def test_every_broken_rule_is_found(library, name):
    table, edit, told = EDITS[name]
    change(library, table, "salt", edit)
    faults = verify(library).faults
    assert any(told in fault.text for fault in faults), faults
    assert all("salt-" in fault.file for fault in faults)
    assert damaged_books(library.place, faults) == ["Salt"]


def test_missing_truncated_and_flipped_files_are_found(library):
    root = library.place.root
    gutters = next((root / "gutters").glob("tin-*"))
    gutters.unlink()
    pages = next((root / "pages").glob("salt-*"))
    data = bytearray(pages.read_bytes())
    data[len(data) // 3] ^= 0x40
    pages.write_bytes(data)
    (root / "panels" / "notes.txt").write_text("mine")
    told = {fault.file: fault for fault in verify(library).faults}
    assert "is missing" in told[f"gutters/{gutters.name}"].text
    assert told[f"pages/{pages.name}"].remedy == SCAN_AGAIN
    assert "does not belong" in told["panels/notes.txt"].text


def test_damaged_corrections_and_labels_come_from_a_copy(library):
    page = library.pages(["page_id"])["page_id"][0].as_py()
    library.correct(page, DeletePanel("d0"), 0, who="Ada")
    add_labels(library.place, [Label("stage", "inks", book="Salt")], "Ada", "2026-01-01")
    for folder in ("corrections", "labels"):
        file = next((library.place.root / folder).iterdir())
        file.write_bytes(file.read_bytes()[:-20])
    faults = verify(library).faults
    assert {f.file.partition("/")[0] for f in faults} == {"corrections", "labels"}
    assert all(f.remedy == FROM_A_COPY for f in faults)


def test_a_book_scanned_again_puts_right_what_was_broken(library):
    change(library, "panels", "salt", lambda r: r.slice(1))
    assert verify(library).faults
    library.commit_book("Salt", make_book("Salt", 3))
    assert verify(library).faults == ()


@pytest.mark.parametrize("packed", [False, True])
def test_damaged_books_are_set_aside_and_scanned_again(library, packed):
    if packed:
        library.commit_book("Kelp", [make_record("Kelp", 1, [1])])
        compact(library, most_pages=4)
    file = next((library.place.root / "panels").glob("pack-*" if packed else "salt-*"))
    file.write_bytes(file.read_bytes()[:100])
    with pytest.raises(LibraryError, match="damaged"):
        library.panels()
    books = set_aside(library, verify(library).faults)
    assert books
    assert verify(library).faults == ()
    gone = sum(3 if b == "Salt" else 1 for b in books)
    assert library.pages().num_rows == (5 if packed else 4) - gone
    assert len(list((library.place.root / "damaged").iterdir())) == 3
    for book in books:
        pages = make_book("Salt", 3) if book == "Salt" else [make_record(book, 1, [1])]
        library.commit_book(book, pages)
    assert library.pages().num_rows == (5 if packed else 4)
    assert verify(library).faults == ()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"moves": {".work/ab.part": "../../outside"}, "deletes": []}',
        '{"moves": {"pages/x.parquet": "panels/y.parquet"}, "deletes": []}',
        '{"moves": {}, "deletes": ["/etc/hosts"]}',
        '{"moves": {}, "deletes": ["pages/../../outside"]}',
        '{"moves": {}, "deletes": ["C:outside"]}',
    ],
)
def test_a_journal_that_leads_out_of_the_library_is_left_alone(library, text):
    """A library may come from a stranger's disk."""
    root = library.place.root
    (root.parent / "outside").write_text("mine")
    (root / ".work" / "ab.journal").write_text(text)
    (root / ".work" / "ab.part").write_text("theirs")
    library = Library.open(root)
    assert library.pages().num_rows == 4
    told = [f for f in verify(library).faults if f.file.endswith(".journal")]
    assert "cannot be used" in told[0].text
    library.commit_book("Kelp", [make_record("Kelp", 1, [1])])
    assert (root.parent / "outside").read_text() == "mine"
    assert library.pages().num_rows == 5


@given(data=st.data())
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_broken_parquet_is_told_and_harms_nothing(library, data):
    """Any bytes in the place of a table's file: an error of ours that names it, or rows."""
    table = data.draw(st.sampled_from(["pages", "panels", "gutters"]))
    file = next((library.place.root / table).glob("salt-*"))
    whole = file.read_bytes()
    other = {p: p.read_bytes() for p in library.place.root.rglob("*.parquet") if p != file}
    broken = bytearray(whole)
    match data.draw(st.sampled_from(["flip", "cut", "noise", "repeat"])):
        case "flip":
            for _ in range(data.draw(st.integers(1, 8))):
                broken[data.draw(st.integers(0, len(broken) - 1))] ^= data.draw(st.integers(1, 255))
        case "cut":
            broken = broken[: data.draw(st.integers(0, len(broken) - 1))]
        case "noise":
            broken = bytearray(data.draw(st.binary(max_size=200)))
        case "repeat":
            broken = broken + broken[: data.draw(st.integers(0, 300))]
    file.write_bytes(broken)
    try:
        for deed in (
            lambda: library.table(table),
            lambda: load_pages(library, "panels > 1"),
            lambda: summarise(library),
        ):
            try:
                deed()
            except PanelscanError as error:
                assert isinstance(error, LibraryError)
                assert file.name in str(error)
        verify(library)
        assert {p: p.read_bytes() for p in other} == other
    finally:
        file.write_bytes(whole)


def test_written_files_are_geoparquet(library):
    """FACTS check 23; GeoParquet 1.1.0: crs present and null, types as stored, bbox, turn."""
    for table, columns in geoparquet.GEOMETRY_COLUMNS.items():
        for file in (library.place.root / table).glob("*.parquet"):
            rows = pq.read_table(file)
            tree = json.loads(pq.read_metadata(file).metadata[b"geo"])
            assert tree["version"] == "1.1.0"
            assert set(tree["columns"]) == set(columns)
            for name, told in tree["columns"].items():
                assert "crs" in told
                assert told["crs"] is None
                shapes = [s for s in shapely.from_wkb(rows[name].to_pylist()) if s is not None]
                assert told["geometry_types"] == sorted({s.geom_type for s in shapes})
                assert told["bbox"] == pytest.approx(shapely.total_bounds(shapes))
                assert all(s.exterior.is_ccw for s in shapes)
            assert geoparquet.faults(tree, rows) == []


def test_gutters_without_a_strip_have_no_geometry(library, tmp_path):
    touching = make_record("Tight", 1, [2])
    layout = touching.layout
    gutter = layout.gutters[0]
    from dataclasses import replace

    bare = replace(layout, gutters=(replace(gutter, strip=None, width=0.0),))
    library.commit_book("Tight", [replace(touching, layout=bare)])
    rows = library.gutters(where=pc.field("book") == "Tight").to_pylist()
    assert [(r["geometry"], r["bbox"]) for r in rows] == [(None, None)]
    assert verify(library).faults == ()
