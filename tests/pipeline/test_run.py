from __future__ import annotations

import io
import shutil
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pikepdf
import pytest

from panelscan.corpus.query import load_pages
from panelscan.corpus.store import Library
from panelscan.corpus.summary import summarise
from panelscan.model.correction import DeletePanel
from panelscan.model.direction import DirectionSource, JudgedDirection
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import Panel
from panelscan.pipeline import run, stages
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.progress import PageFate
from panelscan.pipeline.run import scan
from tests.intake import makers
from tests.intake.drawn_spreads import facing_pages
from tests.pipeline import fakes

HERE = ScanOptions(workers=0)


class Heard:
    """Collects what a scan tells."""

    def __init__(self) -> None:
        self.total = -1
        self.fates: list[tuple[str, PageFate]] = []
        self.is_over = False

    def begin(self, total: int) -> None:
        self.total = total

    def advance(self, label: str, fate: PageFate) -> None:
        self.fates.append((label, fate))

    def end(self) -> None:
        self.is_over = True


@pytest.fixture(autouse=True)
def quick(monkeypatch, tmp_path):
    """Panels settled beforehand; everything below a folder of its own."""
    monkeypatch.setattr(stages, "find", fakes.find)
    monkeypatch.chdir(tmp_path)


def page(name: str, seed: int = 0, dark: bool = False) -> str:
    """A page of its own content."""
    rng = np.random.default_rng(seed)
    pixels = rng.integers(0 if dark else 200, 60 if dark else 256, (60, 40), np.uint8)
    return makers.write(Path(name), makers.encoded(pixels, "PNG"))


def book(name: str, count: int, start: int = 0) -> None:
    for k in range(1, count + 1):
        page(f"{name}/p{k}.png", start + k)


def rows(columns: list[str]) -> list[tuple]:
    table = Library.open("lib").pages(columns=columns).to_pylist()
    return [tuple(row[c] for c in columns) for row in table]


def test_pages_are_saved_once():
    book("tide", 3)
    book("ferry", 2, 50)
    heard = Heard()
    first = scan(["tide", "ferry"], "lib", HERE, heard)
    assert (first.pages, first.panels, first.books) == (5, 10, ("tide", "ferry"))
    assert (first.exit_code, first.failures, first.unchanged) == (0, (), 0)
    assert heard.total == 5
    assert heard.is_over
    assert [fate for _, fate in heard.fates] == [PageFate.READ] * 5
    assert rows(["book", "source_path", "page_number"]) == [
        ("ferry", "ferry/p1.png", 1),
        ("ferry", "ferry/p2.png", 2),
        ("tide", "tide/p1.png", 1),
        ("tide", "tide/p2.png", 2),
        ("tide", "tide/p3.png", 3),
    ]
    again = scan(["tide", "ferry"], "lib", HERE, heard)
    assert (again.pages, again.unchanged, again.books) == (0, 5, ())
    assert len(rows(["page_id"])) == 5


def test_bad_pages_never_stop_the_rest():
    book("tide", 2)
    makers.write(Path("tide/p3.png"), makers.png_bomb())
    makers.write(Path("tide/p4.jpg"), b"\xff\xd8\xff\xe0 no picture")
    makers.write(Path("tide/p5.pdf"), b"%PDF-1.4 no pdf")
    page("tide/p6.png", 9)
    heard = Heard()
    summary = scan(["tide", "missing.png"], "lib", HERE, heard)
    assert summary.pages == 3
    assert summary.exit_code == 7
    assert {f.label for f in summary.failures} == {
        "tide/p3.png",
        "tide/p4.jpg",
        "tide/p5.pdf",
        "missing.png",
    }
    assert all(f.reason and f.remedy and f.label not in f.reason for f in summary.failures)
    # A page that failed keeps its place, so that numbers do not move once it is mended.
    assert rows(["source_path", "page_number"])[-1] == ("tide/p6.png", 5)
    assert (("tide/p3.png", PageFate.FAILED)) in heard.fates


def test_exit_code_where_nothing_could_be_read():
    makers.write(Path("tide/p1.png"), b"")
    assert scan(["tide"], "lib", HERE).exit_code == 3


def test_a_page_drawn_over_replaces_the_old_one():
    book("tide", 3)
    scan(["tide"], "lib", HERE)
    page("tide/p2.png", 77)
    summary = scan(["tide"], "lib", HERE)
    assert (summary.pages, summary.unchanged) == (1, 2)
    assert [path for (path,) in rows(["source_path"])] == [
        "tide/p1.png",
        "tide/p2.png",
        "tide/p3.png",
    ]


def test_a_page_put_in_between_moves_the_numbers_of_those_behind():
    book("tide", 3)
    scan(["tide"], "lib", HERE)
    page("tide/p1b.png", 78)
    summary = scan(["tide"], "lib", HERE)
    assert (summary.pages, summary.unchanged) == (1, 3)
    assert rows(["source_path", "page_number"]) == [
        ("tide/p1.png", 1),
        ("tide/p1b.png", 2),
        ("tide/p2.png", 3),
        ("tide/p3.png", 4),
    ]


def test_a_renamed_book_follows_its_content():
    book("tide", 2)
    scan(["tide"], "lib", HERE)
    shutil.move("tide", "tide-2nd")
    summary = scan(["tide-2nd"], "lib", HERE)
    assert (summary.pages, summary.unchanged) == (0, 2)
    assert rows(["book", "source_path"]) == [
        ("tide-2nd", "tide-2nd/p1.png"),
        ("tide-2nd", "tide-2nd/p2.png"),
    ]


def test_a_copy_in_another_folder_is_told_not_doubled():
    book("tide", 2)
    scan(["tide"], "lib", HERE)
    page("best/p1.png", 1)
    page("best/p2.png", 99)
    summary = scan(["best"], "lib", HERE)
    assert summary.pages == 1
    assert summary.duplicates == (("best/p1.png", "tide, page 1"),)
    assert len(rows(["page_id"])) == 3


def test_of_equal_pages_in_one_scan_the_first_listed_stands():
    page("tide/p1.png", 1)
    page("tide/p2.png", 1)
    page("zinc/p1.png", 1)
    summary = scan(["tide", "zinc"], "lib", HERE)
    assert summary.pages == 1
    assert summary.duplicates == (
        ("tide/p2.png", "tide/p1.png"),
        ("zinc/p1.png", "tide/p1.png"),
    )
    assert rows(["source_path"]) == [("tide/p1.png",)]


def test_what_a_person_put_right_stays_and_a_better_scan_says_what_differs(monkeypatch):
    book("tide", 2)
    scan(["tide"], "lib", HERE)
    library = Library.open("lib")
    page_id = library.pages(["page_id"])["page_id"][0].as_py()
    library.correct(page_id, DeletePanel("d1"), 0, who="Ada")
    assert scan(["tide"], "lib", HERE).unchanged == 2
    again = ScanOptions(workers=0, again=True)
    assert scan(["tide"], "lib", again).disagreements == ()

    def better(loaded, prior=None, trace=None):
        found = fakes.find(loaded, prior, trace)
        whole = Outline.box(0, 0, 40, 60)
        return replace(found, panels=(Panel(whole),), detector="better 2")

    monkeypatch.setattr(stages, "find", better)
    told = scan(["tide"], "lib", again)
    assert told.pages == 2
    assert len(told.disagreements) == 1
    assert "corrections stand" in told.disagreements[0]
    assert rows(["page_number", "panel_count", "revision"]) == [(1, 1, 1), (2, 1, 0)]
    kept = library.page(page_id).record.finding.panels[0].outline
    assert kept.bounds != (0, 0, 40, 60)


def test_the_same_page_in_another_scan_is_linked():
    book("tide", 3)
    pixels = cv2.imread("tide/p2.png", cv2.IMREAD_GRAYSCALE)
    # Whole blocks of tone, so that a worn scan still looks like the page.
    blocks = cv2.resize(pixels, (8, 12), interpolation=cv2.INTER_NEAREST)
    art = cv2.resize(blocks, (40, 60), interpolation=cv2.INTER_NEAREST)
    worn = np.clip(art.astype(int) - 3, 0, 255).astype(np.uint8)
    makers.write(Path("tide/p2.png"), makers.encoded(art, "PNG"))
    makers.write(Path("again/p2.png"), makers.encoded(worn, "PNG"))
    assert scan(["tide", "again"], "lib", HERE).same_pages == 1
    assert len(load_pages(Library.open("lib"))) == 3


def test_other_settings_read_again():
    book("tide", 2)
    scan(["tide"], "lib", HERE)
    assert scan(["tide"], "lib", ScanOptions(workers=0, dpi=300)).pages == 2
    assert scan(["tide"], "lib", ScanOptions(workers=0, dpi=300)).unchanged == 2
    assert scan(["tide"], "lib", ScanOptions(workers=0, dpi=300, again=True)).pages == 2
    assert len(rows(["page_id"])) == 2


@pytest.mark.parametrize(("direction", "parts"), [("ltr", "left right"), ("rtl", "right left")])
def test_halves_of_facing_pages_are_numbered_as_they_are_read(direction, parts):
    drawn = facing_pages(np.random.default_rng(3), "none")
    makers.write(Path("tide/p1.png"), makers.encoded(drawn.pixels.astype(np.uint8), "PNG"))
    page("tide/p2.png", 4)
    options = ScanOptions(workers=0, direction=ReadingDirection(direction))
    assert scan(["tide"], "lib", options).pages == 3
    first, second = parts.split()
    found = sorted(rows(["page_number", "part", "direction"]))
    assert found == [(1, first, direction), (2, second, direction), (3, "whole", direction)]
    assert scan(["tide"], "lib", options).unchanged == 3


def test_order_follows_the_direction():
    page("tide/p1.png", 1)
    for direction, first in ((ReadingDirection.LTR, 0.05), (ReadingDirection.RTL, 0.55)):
        scan(["tide"], "lib", ScanOptions(workers=0, direction=direction))
        panels = Library.open("lib").panels(columns=["reading_order", "x_min_share"]).to_pylist()
        (start,) = (p["x_min_share"] for p in panels if p["reading_order"] == 1)
        assert start == pytest.approx(first, abs=0.01)


def test_direction_of_a_book_is_found_out_after_all_its_pages(monkeypatch):
    book("tide", 3)
    seen = []

    def judge(pages, lettering, said):
        seen.append([len(panels) for panels in pages])
        assert len(lettering) == len(pages) and said is None
        return JudgedDirection(ReadingDirection.RTL, 0.8, DirectionSource.LETTERING)

    monkeypatch.setattr("panelscan.pipeline.books.judge_direction", judge)
    scan(["tide"], "lib", HERE)
    assert seen == [[2, 2, 2]]
    assert rows(["direction", "direction_confidence"]) == [("rtl", 0.8)] * 3
    # A page that comes later follows the book.
    page("tide/p4.png", 44)
    scan(["tide"], "lib", HERE)
    assert [direction for (direction,) in rows(["direction"])] == ["rtl"] * 4
    assert len(seen) == 1
    told = summarise(Library.open("lib")).directions_known
    assert told == {DirectionSource.LETTERING.words: 3, DirectionSource.BOOK.words: 1}


def test_a_pdf_that_says_it_is_read_from_the_right_is(tmp_path):
    # ISO 32000-1:2008, 12.2, Table 150: Direction R2L (clause and table from memory).
    pdf = pikepdf.open(io.BytesIO(makers.pdf_of_drawing(b"0 g 9 9 20 20 re f", (100, 150))))
    pdf.Root.ViewerPreferences = pikepdf.Dictionary(Direction=pikepdf.Name.R2L)
    pdf.save("tide.pdf")
    summary = scan(["tide.pdf"], "lib", HERE)
    (told,) = summary.directions
    assert (told.book, told.direction, told.source) == ("tide", "rtl", "file")
    assert told.needs_a_look and "the file itself says so (0.99)" in told.text
    assert rows(["direction", "direction_confidence"]) == [("rtl", 0.99)]
    assert scan(["tide.pdf"], "lib", HERE).directions == ()
    given = scan(["tide.pdf"], "lib", ScanOptions(workers=0, direction=ReadingDirection.LTR))
    assert [(d.direction, d.source, d.needs_a_look) for d in given.directions] == [
        ("ltr", "given", False)
    ]


def test_doubtful_pages_get_a_second_look_and_are_told():
    book("tide", 4)
    page("tide/p5.png", 50, dark=True)
    summary = scan(["tide"], "lib", HERE)
    assert summary.doubtful == ()
    page("tide/p6.png", 51, dark=True)
    summary = scan(["tide"], "lib", ScanOptions(workers=0, second_look=False))
    assert [(d.label, d.page_number) for d in summary.doubtful] == [("tide/p6.png", 6)]
    assert summary.doubtful[0].confidence == 0.4
    assert "dark" in summary.doubtful[0].reason


def test_a_book_is_saved_whole_or_not_at_all(monkeypatch):
    book("tide", 2)
    book("zinc", 3, 50)
    real = run.answer_page

    def interrupted(listed, options, prior=None):
        if listed.source_path == "zinc/p3.png":
            raise KeyboardInterrupt
        return real(listed, options, prior)

    monkeypatch.setattr(run, "answer_page", interrupted)
    heard = Heard()
    with pytest.raises(KeyboardInterrupt):
        scan(["tide", "zinc"], "lib", HERE, heard)
    assert heard.is_over
    assert {b for (b,) in rows(["book"])} == {"tide"}
    monkeypatch.setattr(run, "answer_page", real)
    assert scan(["tide", "zinc"], "lib", HERE).pages == 3


def test_a_dying_or_hanging_worker_costs_only_its_page(monkeypatch):
    for k, name in enumerate(("p1", "p2-crash", "p3", "p4-hang", "p5-leave", "p6")):
        page(f"tide/{name}.png", 10 + k)
    monkeypatch.setattr(run, "answer_page", fakes.deadly_answer)
    summary = scan(["tide"], "lib", ScanOptions(workers=2, page_time_s=8.0))
    assert summary.pages == 3
    assert summary.exit_code == 7
    reasons = {f.label: f.reason for f in summary.failures}
    assert list(reasons) == ["tide/p2-crash.png", "tide/p4-hang.png", "tide/p5-leave.png"]
    assert "crashed" in reasons["tide/p2-crash.png"]
    assert "longer than 8 s" in reasons["tide/p4-hang.png"]
    assert "code 3" in reasons["tide/p5-leave.png"]


def test_wide_images_among_upright_pages_are_spreads(monkeypatch):
    book("tide", 4)
    wide = np.random.default_rng(8).integers(0, 255, (60, 80), np.uint8)
    makers.write(Path("tide/p5.png"), makers.encoded(wide, "PNG"))
    scan(["tide"], "lib", HERE)
    assert [part for (part,) in rows(["part"])] == ["whole"] * 4 + ["spread"]


def test_the_library_inside_the_scanned_folder_is_no_trouble():
    book("tide", 2)
    scan(["tide"], "tide/lib", HERE)
    assert scan(["tide"], "tide/lib", HERE).unchanged == 2
