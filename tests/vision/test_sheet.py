from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.errors import InputError, NothingFound, OutputExistsError, UsageError
from panelscan.model.sheet_record import SheetEntry, read_record, record_of, record_path
from panelscan.model.thumbnail_sheet import ID_BITS, PAPERS, plan_of_bits, plan_sheet
from panelscan.templates.options import TemplateOptions
from panelscan.templates.raster import merged_bands, stack_bands
from panelscan.templates.sheet import sheet_page, write_sheet
from panelscan.vision.sheet import looks_like_sheet, read_sheet
from tests.templates.samples import NAMED

ENTRIES = [SheetEntry(grid, name, f"family {name}") for name, grid in NAMED.items()]


def printed(paper="a4", entries=ENTRIES, ppi=150):
    record = record_of(entries)
    plan = plan_sheet(len(entries), entries[0].grid.aspect, paper, record.sheet_id)
    size = tuple(round(v / 25.4 * ppi) for v in plan.size_mm)
    return plan, stack_bands(merged_bands(sheet_page(plan, record), size, ppi))


def photographed(sheet, quad, size=(1600, 2000), light=True, noise=6.0, seed=0):
    """The sheet on a table, seen in perspective, lit from one side, a little noisy."""
    h, w = sheet.shape[:2]
    matrix = cv2.getPerspectiveTransform(
        np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float32) - 0.5,
        np.array(quad, np.float32) - 0.5,
    )
    table = np.full((size[1], size[0], 3), (96, 78, 60), np.uint8)
    seen = cv2.warpPerspective(
        sheet, matrix, size, table, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_TRANSPARENT
    ).astype(float)
    if light:
        y, x = np.mgrid[0 : size[1], 0 : size[0]]
        seen *= (0.35 + 0.65 * (0.6 * x / size[0] + 0.4 * y / size[1]))[..., None]
    seen = cv2.GaussianBlur(seen, (0, 0), 0.8)
    seen += np.random.default_rng(seed).normal(0, noise, seen.shape)
    return np.clip(seen, 0, 255).astype(np.uint8)


def borders_agree(cell, grid, least=0.9):
    """Share of the printed borders' length that shows dark where the grid says."""
    gray = cv2.cvtColor(cell.image.pixels, cv2.COLOR_RGB2GRAY).astype(float)
    local = gray - cv2.GaussianBlur(gray, (0, 0), 8)
    h, w = gray.shape
    hits = []
    for panel in grid.panels:
        for (x0, y0), (x1, y1) in panel.outline.edges():
            for t in np.linspace(0.05, 0.95, 25):
                x, y = (x0 + t * (x1 - x0)) * w, (y0 + t * (y1 - y0)) * h
                if not (3 < x < w - 3 and 3 < y < h - 3):
                    continue
                i, j = int(y), int(x)
                hits.append(local[i - 2 : i + 3, j - 2 : j + 3].min() < -6)
    return not hits or np.mean(hits) >= least


@pytest.mark.parametrize("paper", PAPERS)
def test_flat_scan_reads_back(paper):
    plan, sheet = printed(paper)
    reading = read_sheet(sheet)
    assert reading.plan == plan
    assert len(reading.cells) == len(ENTRIES)
    assert reading.turn_deg == pytest.approx(0, abs=0.05)
    assert reading.misfit_mm < 0.05
    assert reading.doubts == ()
    for cell, box in zip(reading.cells, plan.cells(), strict=True):
        wanted = np.array([(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])])
        assert np.abs(cell.frame.array() / 150 * 25.4 - wanted).max() < 0.1
    for cell, entry in zip(reading.cells, ENTRIES, strict=True):
        assert borders_agree(cell, entry.grid)


TURNED = {
    "askew": [(150, 120), (1420, 200), (1380, 1900), (90, 1800)],
    "right": [(1500, 200), (1450, 1450), (120, 1500), (150, 150)],
    "half": [(1450, 1850), (180, 1800), (140, 150), (1400, 120)],
    "left": [(130, 1500), (160, 260), (1480, 240), (1510, 1530)],
}


@pytest.mark.parametrize("turn", TURNED)
@pytest.mark.parametrize("gray", [False, True])
def test_turned_and_unevenly_lit_photograph_reads_back(turn, gray):
    plan, sheet = printed(ppi=250)
    photo = photographed(sheet, TURNED[turn], size=(1600, 2000))
    reading = read_sheet(cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY) if gray else photo)
    assert reading is not None
    assert reading.plan == plan
    if not gray:
        for cell, entry in zip(reading.cells, ENTRIES, strict=True):
            assert borders_agree(cell, entry.grid), entry.caption


def test_one_hidden_mark_is_doubtful_but_read():
    plan, sheet = printed(ppi=150)
    sheet = sheet.copy()
    sheet[:140, :140] = 255
    reading = read_sheet(sheet)
    assert reading.plan == plan
    assert reading.doubts[0].kind == "sheet-mark-hidden"


def test_damaged_code_is_read_from_its_other_copy():
    plan, sheet = printed(ppi=150)
    x0, y0, x1, y1 = (round(v / 25.4 * 150) for v in plan.code_boxes()[0])
    sheet = sheet.copy()
    sheet[y0:y1, x0 : (x0 + x1) // 2] = 0
    assert read_sheet(sheet).plan == plan


def test_other_pictures_are_no_sheets():
    plan, sheet = printed(ppi=100)
    assert looks_like_sheet(sheet)
    blank = np.full((800, 600), 255, np.uint8)
    assert not looks_like_sheet(blank)
    assert read_sheet(blank) is None
    noise = np.random.default_rng(0).integers(0, 256, (500, 400, 3), dtype=np.uint8)
    assert read_sheet(noise) is None
    marred = sheet.copy()
    for box in plan.code_boxes():
        x0, y0, x1, y1 = (round(v / 25.4 * 100) for v in box)
        marred[y0:y1, x0:x1] = 255
    assert read_sheet(marred) is None


@settings(max_examples=60, deadline=None)
@given(
    st.integers(4, 16),
    st.floats(0.3, 2.0),
    st.sampled_from(sorted(PAPERS)),
    st.integers(0, (1 << ID_BITS) - 1),
    st.integers(0, 79),
)
def test_code_says_the_plan_and_notices_a_flipped_bit(count, aspect, paper, sheet_id, flip):
    plan = plan_sheet(count, aspect, paper, sheet_id)
    bits = plan.bits()
    assert plan_of_bits(bits) == plan
    # A CRC finds every single flipped bit.
    assert plan_of_bits(tuple(b ^ (k == flip) for k, b in enumerate(bits))) is None
    w, h = plan.size_mm
    for x0, y0, x1, y1 in plan.cells():
        assert 9 <= x0 < x1 <= w - 9
        assert 26 <= y0 < y1 <= h - 26
        assert (x1 - x0) / (y1 - y0) == pytest.approx(plan.aspect)


def test_written_sheet_and_its_record(tmp_path):
    out = tmp_path / "sheet.png"
    report = write_sheet(ENTRIES, out, "letter", tmp_path / "library", TemplateOptions(ppi=300))
    reading = read_sheet(cv2.cvtColor(cv2.imread(str(out)), cv2.COLOR_BGR2RGB))
    assert reading.plan == report.plan
    record = read_record(record_path(tmp_path / "library", reading.plan.name))
    assert record.sheet_id == reading.plan.sheet_id
    assert list(record.entries) == ENTRIES
    with pytest.raises(OutputExistsError):
        write_sheet(ENTRIES, out)
    for kind in ("pdf", "svg", "tif"):
        write_sheet(ENTRIES, tmp_path / f"sheet.{kind}", options=TemplateOptions(ppi=300))
    assert record_of(ENTRIES[:4]).sheet_id != record_of(ENTRIES[:5]).sheet_id


def test_refusals(tmp_path):
    with pytest.raises(UsageError, match="4 to 16 grids, not 3"):
        write_sheet(ENTRIES[:3], tmp_path / "s.pdf")
    with pytest.raises(UsageError, match="no paper"):
        write_sheet(ENTRIES, tmp_path / "s.pdf", "foolscap")
    with pytest.raises(UsageError, match="not written as"):
        write_sheet(ENTRIES, tmp_path / "s.ora")
    with pytest.raises(NothingFound, match="no record"):
        read_record(tmp_path / "none.json")
    (tmp_path / "bad.json").write_text("{}")
    with pytest.raises(InputError, match="not the record"):
        read_record(tmp_path / "bad.json")
    assert [p.name for p in tmp_path.iterdir()] == ["bad.json"]
