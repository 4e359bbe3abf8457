"""Truth files: written and read back, and files made by hand."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from panelscan.demo.maker import draw_page
from panelscan.demo.truth import lenient_outline, read_truth
from panelscan.errors import InputError
from panelscan.model.outline import Outline


def test_truth_survives_its_file(tmp_path: Path) -> None:
    truth = draw_page("inset", 13, height_px=500).truth
    path = tmp_path / "page.json"
    truth.write(path)
    back = read_truth(path)
    assert len(back.panels) == len(truth.panels)
    assert [p.inset_in for p in back.panels] == [p.inset_in for p in truth.panels]
    assert (back.book, back.hand, back.direction) == (truth.book, truth.hand, truth.direction)
    for a, b in zip(back.panels, truth.panels, strict=True):
        assert np.allclose(a.outline.array(), b.outline.array(), atol=0.01)


def test_a_file_made_by_hand_counts_from_one(tmp_path: Path) -> None:
    square = [[0, 0], [40, 0], [40, 40], [0, 40]]
    small = [[5, 5], [15, 5], [15, 15], [5, 15]]
    data = {
        "image": "a/b.png", "width": 50, "height": 50, "category": "real", "direction": "rtl",
        "dpi": None, "pages": [{"quad": [[0, 0], [50, 0], [50, 50], [0, 50]]}],
        "panels": [
            {"order": 2, "page": 0, "polygon": small, "border": "hand", "bleed": [], "inset_in": 1},
            {"order": 1, "page": 0, "polygon": square, "border": "none", "bleed": ["left"],
             "inset_in": None},
        ],
        "orders_also_fine": [[2, 1]], "ambiguous": True, "notes": "by hand",
    }  # fmt: skip
    path = tmp_path / "b.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    truth = read_truth(path)
    assert truth.panels[0].outline == Outline.box(0, 0, 40, 40)
    assert truth.panels[1].inset_in == 0
    assert truth.orders_also_fine == ((1, 0),)
    assert truth.ambiguous


def test_a_file_that_is_no_truth_says_what_is_missing(tmp_path: Path) -> None:
    path = tmp_path / "odd.json"
    path.write_text('{"image": "x.png", "width": 3}', encoding="utf-8")
    with pytest.raises(InputError, match=r"odd\.json"):
        read_truth(path)


def test_a_ring_that_crosses_itself_keeps_its_greatest_part() -> None:
    # Source: geometry; the bow-tie's two triangles meet at (4, 4), areas 16 and 1.
    ring = [(0, 0), (8, 0), (3, 5), (5, 5)]
    assert lenient_outline(ring).area == pytest.approx(16)
