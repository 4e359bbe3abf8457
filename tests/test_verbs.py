from __future__ import annotations

import subprocess
import sys

import pytest

import panelscan
from panelscan.model.grid import Grid


def test_importing_panelscan_is_light():
    code = "import sys, panelscan; print([m for m in ('cv2', 'pandas') if m in sys.modules])"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


def test_every_verb_is_there_and_documented():
    for name in panelscan.VERBS:
        assert callable(getattr(panelscan, name))
        assert getattr(panelscan, name).__doc__
    with pytest.raises(AttributeError, match="frobnicate"):
        _ = panelscan.frobnicate


def test_a_written_grid_becomes_a_template(tmp_path):
    report = panelscan.template("two then one", tmp_path / "page.svg", page_format="a4")
    assert report.path.stat().st_size > 500
    assert len(report.placement.panels) == 3
    assert isinstance(report.path.read_text(encoding="utf-8"), str)


def test_find_and_habits_on_a_scanned_page(tmp_path):
    import cv2
    import numpy as np

    page = np.full((1500, 1000, 3), 255, np.uint8)
    for box in ((60, 60, 940, 480), (60, 510, 480, 1440), (520, 510, 940, 1440)):
        cv2.rectangle(page, box[:2], box[2:], (0, 0, 0), 5)
        cv2.circle(page, ((box[0] + box[2]) // 2, (box[1] + box[3]) // 2), 90, (90, 90, 90), -1)
    (tmp_path / "pages").mkdir()
    cv2.imwrite(str(tmp_path / "pages" / "p1.png"), page)
    summary = panelscan.scan([tmp_path / "pages"], tmp_path / "shelf", workers=0)
    assert (summary.pages, summary.panels) == (1, 3)
    record = panelscan.look_at(tmp_path / "pages" / "p1.png")
    assert isinstance(record.grid, Grid)
    answer = panelscan.find(tmp_path / "shelf", like=record.grid)
    assert answer.hits[0].distance == pytest.approx(0.0, abs=1e-3)
    assert panelscan.habits(tmp_path / "shelf").figure("panels_per_page_mean").value == 3.0
    assert panelscan.check(record).page.endswith("p1.png")
    assert not panelscan.compare(record, record).changes
    hit = answer.hits[0]
    panelscan.template(hit, tmp_path / "next.svg", library=tmp_path / "shelf")
    again = panelscan.find(tmp_path / "shelf", like=record.grid).hits[0]
    assert again.moved < 0 and "you took it 1 time" in again.reasons[-1]
