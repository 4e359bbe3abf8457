from __future__ import annotations

import cv2
import numpy as np

from panelscan.corpus.labels import labels_now
from panelscan.corpus.query import load_grid_objects
from panelscan.corpus.store import Library
from panelscan.layout.distance import grid_distance
from panelscan.model.sheet_record import SheetEntry
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.run import scan
from panelscan.pipeline.sheets import link_sheets, unpack_sheets
from panelscan.templates.options import TemplateOptions
from panelscan.templates.sheet import write_sheet
from tests.templates.samples import NAMED
from tests.vision.test_sheet import photographed

NAMES = ("six", "nine", "mixed", "blockage")


def test_photographed_sheet_becomes_roughs_linked_to_their_grids(tmp_path):
    library, printed = tmp_path / "shelf", tmp_path / "sheet.png"
    entries = [SheetEntry(NAMED[n], n, f"family {n}") for n in NAMES]
    report = write_sheet(entries, printed, "a4", library, TemplateOptions(ppi=300))
    sheet = cv2.imread(str(printed))[..., ::-1]
    quad = [(2050, 160), (2000, 2400), (150, 2450), (130, 120)]
    photo = photographed(np.ascontiguousarray(sheet), quad, size=(2200, 2600), noise=3.0)
    picture = tmp_path / "photo.jpg"
    cv2.imwrite(str(picture), photo[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    plain = tmp_path / "plain.png"
    cv2.imwrite(str(plain), np.full((400, 300), 255, np.uint8))

    paths, sheets = unpack_sheets([picture, plain], library)
    assert paths[1] == str(plain)
    (unpacked,) = sheets
    assert unpacked.name == report.plan.name
    assert [e.link for e in unpacked.entries] == [f"family {n}" for n in NAMES]
    assert len(unpacked.cells) == 4
    assert unpack_sheets([picture], library)[1] == sheets, "the same photograph, the same files"

    scan(paths[:1], library, ScanOptions(workers=0))
    assert link_sheets(library, sheets) == 4
    shelf = Library.open(library)
    rows = shelf.pages(columns=["page_id", "source_path"]).to_pylist()
    rows.sort(key=lambda r: r["source_path"])
    labels = labels_now(shelf.place)
    grids = load_grid_objects(shelf, [r["page_id"] for r in rows])
    assert len(rows) == 4
    for row, grid, name in zip(rows, grids, NAMES, strict=True):
        said = {k: labels.by_page[k][row["page_id"]] for k in ("stage", "grid of")}
        assert said == {"stage": "rough", "grid of": f"family {name}"}
        assert grid_distance(grid, NAMED[name]).value < 0.05, name


def test_folders_and_missing_files_are_left_alone(tmp_path):
    paths, sheets = unpack_sheets([tmp_path, tmp_path / "none.png"], tmp_path / "shelf")
    assert paths == (str(tmp_path), str(tmp_path / "none.png"))
    assert sheets == ()
    assert link_sheets(tmp_path / "shelf", sheets) == 0
