from __future__ import annotations

import os
import pickle
import sys
from pathlib import Path

import pytest

from panelscan.intake.sources import SourceKind, list_pages, probe_file
from tests.intake import makers
from tests.intake.test_tiff import pages as tiff_pages


def names(listing) -> list[str]:
    return [Path(page.source_path).name for page in listing.pages]


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    """A shelf of two books as folders, a PDF, an archive and a multi-page TIFF."""
    monkeypatch.chdir(tmp_path)
    for name in ("p10", "p2", "p1"):
        makers.write(Path(f"shelf/tide/{name}.png"), makers.png())
    makers.write(Path("shelf/tide/extra/e1.jpg"), makers.encoded(makers.picture(), "JPEG"))
    makers.write(Path("shelf/tide/.hidden.png"), makers.png())
    makers.write(Path("shelf/tide/Thumbs.db"), b"x")
    makers.write(Path("shelf/tide/notes.txt"), b"x")
    makers.write(Path("shelf/ferry.pdf"), makers.pdf_of_drawing(b"", (72, 72), pages=2))
    makers.write(
        Path("shelf/lamp.cbz"), makers.archive({"10.png": makers.png(), "9.png": makers.png()})
    )
    makers.write(Path("shelf/rain.tif"), tiff_pages(60, 50))
    return tmp_path


def test_folders_are_searched_in_natural_order(shelf):
    listing = list_pages(["shelf"])
    assert listing.failures == ()
    assert listing.passed_over == ((".txt", 1),)
    assert [page.label for page in listing.pages] == [
        "shelf/ferry.pdf: page 1",
        "shelf/ferry.pdf: page 2",
        "shelf/lamp.cbz: 9.png",
        "shelf/lamp.cbz: 10.png",
        "shelf/rain.tif: page 1",
        "shelf/rain.tif: page 2",
        "shelf/tide/p1.png",
        "shelf/tide/p2.png",
        "shelf/tide/p10.png",
        "shelf/tide/extra/e1.jpg",
    ]


def test_books_are_named_after_folder_or_file(shelf):
    books = {page.label: page.book for page in list_pages(["shelf"]).pages}
    assert books["shelf/ferry.pdf: page 1"] == "ferry"
    assert books["shelf/lamp.cbz: 9.png"] == "lamp"
    assert books["shelf/rain.tif: page 2"] == "rain"
    assert books["shelf/tide/p1.png"] == "tide"
    assert books["shelf/tide/extra/e1.jpg"] == "extra"


def test_paths_stay_as_given_and_each_file_counts_once(shelf):
    listing = list_pages(["shelf/tide/p2.png", "shelf/tide", shelf / "shelf/tide/p1.png"])
    assert [page.source_path for page in listing.pages] == [
        "shelf/tide/p2.png",
        "shelf/tide/p1.png",
        "shelf/tide/p10.png",
        "shelf/tide/extra/e1.jpg",
    ]


def test_books_of_one_name_get_more_of_their_path(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for folder in ("a/pages", "b/pages"):
        makers.write(Path(folder) / "p1.png", makers.png())
    makers.write(Path("pages.pdf"), makers.pdf_of_drawing(b"", (72, 72)))
    books = {page.book for page in list_pages(["a", "b", "pages.pdf"]).pages}
    assert books == {"a/pages", "b/pages", "pages.pdf"}


def test_a_given_book_names_all(shelf):
    assert {page.book for page in list_pages(["shelf"], book="Tide").pages} == {"Tide"}


def test_patterns_are_expanded_where_the_shell_did_not(shelf):
    assert names(list_pages(["shelf/tide/*.png"])) == ["p1.png", "p2.png", "p10.png"]


def test_pages_can_be_sent_to_another_process(shelf):
    listing = list_pages(["shelf"])
    assert pickle.loads(pickle.dumps(listing)) == listing


def test_what_cannot_be_opened_is_told_and_stops_nothing(tmp_path):
    makers.write(tmp_path / "p1.png", makers.png())
    makers.write(tmp_path / "empty.png", b"")
    makers.write(tmp_path / "text.jpg", b"hello there")
    makers.write(tmp_path / "broken.pdf", b"%PDF-1.4\nnothing")
    makers.write(tmp_path / "broken.cbz", b"PK\x03\x04 nothing")
    makers.write(tmp_path / "other.cbr", b"Rar!\x1a\x07\x00")
    makers.write(tmp_path / "broken.tif", b"II*\0")
    makers.write(tmp_path / "hollow.tif", b"II*\0\0\0\0\0")
    makers.write(tmp_path / "hollow.zip", makers.archive({"a.txt": b"x"}))
    listing = list_pages([tmp_path, tmp_path / "missing.png"])
    assert names(listing) == ["p1.png"]
    reasons = {Path(failure.label).name: failure.reason for failure in listing.failures}
    assert set(reasons) == {
        "empty.png",
        "text.jpg",
        "broken.pdf",
        "broken.cbz",
        "other.cbr",
        "broken.tif",
        "hollow.tif",
        "hollow.zip",
        "missing.png",
    }
    assert "empty" in reasons["empty.png"]
    assert "no such file" in reasons["missing.png"]
    assert all(failure.remedy for failure in listing.failures)


def test_a_folder_without_pages_is_told(tmp_path):
    makers.write(tmp_path / "notes.txt", b"x")
    listing = list_pages([tmp_path])
    assert listing.pages == ()
    assert "no pages" in listing.failures[0].reason


def test_kind_is_judged_from_bytes_not_from_the_name(tmp_path):
    path = makers.write(tmp_path / "p.jpg", makers.pdf_of_drawing(b"", (72, 72), pages=2))
    assert [page.kind for page in probe_file(path).pages] == [SourceKind.PDF] * 2
    path = makers.write(tmp_path / "q.cbz", makers.png())
    assert [page.kind for page in probe_file(path).pages] == [SourceKind.IMAGE]


def test_reduced_copy_in_a_tiff_is_no_page(tmp_path):
    import io

    import tifffile

    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        writer.write(makers.picture(20, 20), photometric="minisblack", subfiletype=1)
        writer.write(makers.picture(), photometric="minisblack")
    (page,) = probe_file(makers.write(tmp_path / "p.tif", out.getvalue())).pages
    assert (page.kind, page.index) == (SourceKind.IMAGE, 1)


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right there")
def test_a_ring_of_links_ends(tmp_path):
    makers.write(tmp_path / "a/p1.png", makers.png())
    (tmp_path / "a/again").symlink_to(tmp_path / "a", target_is_directory=True)
    assert names(list_pages([tmp_path])) == ["p1.png"]


@pytest.mark.skipif(sys.platform != "linux", reason="other systems refuse such names")
def test_a_name_that_is_no_text_is_told(tmp_path):
    raw = os.fsencode(tmp_path) + b"/p\xff.png"
    Path(os.fsdecode(raw)).write_bytes(makers.png())
    listing = list_pages([tmp_path])
    assert listing.pages == ()
    assert "cannot be written as text" in listing.failures[0].reason
    listing.failures[0].label.encode("utf-8")


def test_files_at_an_address_are_listed_like_local_ones():
    import fsspec

    memory = fsspec.filesystem("memory")
    for name in ("/shelf/tide/p10.png", "/shelf/tide/p9.png"):
        memory.pipe(name, makers.png())
    memory.pipe("/shelf/lamp.cbz", makers.archive({"1.png": makers.png()}))
    try:
        listing = list_pages(["memory://shelf"])
        assert [page.label for page in listing.pages] == [
            "memory://shelf/lamp.cbz: 1.png",
            "memory://shelf/tide/p9.png",
            "memory://shelf/tide/p10.png",
        ]
        assert [page.book for page in listing.pages] == ["lamp", "tide", "tide"]
    finally:
        memory.rm("/shelf", recursive=True)


def test_nothing_is_written_while_listing(shelf):
    before = sorted(path for path in shelf.rglob("*"))
    list_pages(["shelf"])
    assert sorted(path for path in shelf.rglob("*")) == before
