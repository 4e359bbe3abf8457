from __future__ import annotations

import zipfile

import cv2
import numpy as np
import pytest

from panelscan.corpus.labels import labels_now
from panelscan.corpus.query import load_grid_objects
from panelscan.corpus.store import Library
from panelscan.errors import InputError, UsageError
from panelscan.intake.sources import list_pages
from panelscan.layout.distance import grid_distance
from panelscan.model.page import PageImage
from panelscan.model.sheet_record import SheetEntry
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.run import scan
from panelscan.pipeline.sheets import is_sheet, unpack_sheet
from panelscan.templates.options import TemplateOptions
from panelscan.templates.sheet import write_sheet
from tests.templates.samples import NAMED
from tests.vision.test_sheet import photographed

NAMES = ("six", "nine", "mixed", "blockage")
HERE = ScanOptions(workers=0)


def photo_of(tmp_path, library):
    """A sheet of four grids, printed, and photographed lying turned; its report."""
    printed = tmp_path / "sheet.png"
    entries = [SheetEntry(NAMED[n], n, f"family {n}") for n in NAMES]
    report = write_sheet(entries, printed, "a4", library, TemplateOptions(ppi=300))
    sheet = cv2.imread(str(printed))[..., ::-1]
    quad = [(2050, 160), (2000, 2400), (150, 2450), (130, 120)]
    photo = photographed(np.ascontiguousarray(sheet), quad, size=(2200, 2600), noise=3.0)
    return report, photo


def saved(picture, path):
    cv2.imwrite(str(path), picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    return path


def drawn_page():
    page = np.full((1200, 800, 3), 255, np.uint8)
    for top in (50, 620):
        cv2.rectangle(page, (50, top), (750, top + 520), (0, 0, 0), 5)
        cv2.circle(page, (400, top + 260), 120, (90, 140, 90), -1)
    return page


def assert_linked(library, names=NAMES):
    """The roughs are in the library, and each knows the grid that it was printed with."""
    shelf = Library.open(library)
    rows = shelf.pages(columns=["page_id", "source_path"]).to_pylist()
    rows = [r for r in rows if "thumbnails-" in r["source_path"]]
    rows.sort(key=lambda r: r["source_path"])
    labels = labels_now(shelf.place)
    grids = load_grid_objects(shelf, [r["page_id"] for r in rows])
    assert len(rows) == len(names)
    for row, grid, name in zip(rows, grids, names, strict=True):
        said = {k: labels.by_page[k][row["page_id"]] for k in ("stage", "grid of")}
        assert said == {"stage": "rough", "grid of": f"family {name}"}
        assert grid_distance(grid, NAMED[name]).value < 0.05, name


def test_a_sheet_in_a_folder_among_pages_becomes_roughs_linked_to_their_grids(tmp_path):
    library, folder = tmp_path / "shelf", tmp_path / "ferry"
    report, photo = photo_of(tmp_path, library)
    folder.mkdir()
    saved(photo, folder / "p2-photo.jpg")
    for name in ("p1", "p3"):
        saved(drawn_page() // (1 if name == "p1" else 2), folder / f"{name}.png")
    summary = scan([folder], library, HERE)
    (sheet,) = summary.sheets
    assert (sheet.name, sheet.roughs, sheet.linked) == (report.plan.name, 4, True)
    assert sheet.label.endswith("p2-photo.jpg") and summary.pages == 6 and not summary.failures
    assert_linked(library)
    rows = Library.open(library).pages(columns=["book", "page_number"]).to_pylist()
    assert sorted(r["page_number"] for r in rows if r["book"] == "ferry") == [1, 2]
    # Again: the photograph is met again, and adds nothing.
    again = scan([folder], library, HERE)
    assert (again.pages, again.unchanged, len(again.sheets)) == (0, 6, 1)


def test_a_sheet_alone_in_an_archive(tmp_path):
    library = tmp_path / "shelf"
    _, photo = photo_of(tmp_path, library)
    with zipfile.ZipFile(tmp_path / "book.cbz", "w") as archive:
        archive.write(saved(photo, tmp_path / "photo.jpg"), "one.jpg")
    summary = scan([tmp_path / "book.cbz"], library, HERE)
    assert summary.pages == 4 and summary.sheets[0].linked
    assert_linked(library)


def test_cells_are_the_same_files_each_time_and_need_a_folder(tmp_path):
    library = tmp_path / "shelf"
    _, photo = photo_of(tmp_path, library)
    (page,) = list_pages([saved(photo, tmp_path / "photo.jpg")]).pages
    assert unpack_sheet(page, library) == unpack_sheet(page, library)
    unknown = unpack_sheet(page, tmp_path / "other")
    assert len(unknown.cells) == 4 and not unknown.entries and "record" in unknown.notes[-1]
    with pytest.raises(UsageError, match="in a folder"):
        unpack_sheet(page, "memory://shelf")
    (plain,) = list_pages([saved(drawn_page(), tmp_path / "plain.png")]).pages
    with pytest.raises(InputError, match="no thumbnail sheet"):
        unpack_sheet(plain, library)
    assert not is_sheet(PageImage(drawn_page(), 800, 1200))
