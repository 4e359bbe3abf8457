"""The demo book: enough pages, all kinds of layouts, truth that belongs to the pictures."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from panelscan.demo.book import BookDrawn, draw_book
from panelscan.demo.truth import read_truth

DPI = 42


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> BookDrawn:
    return draw_book(tmp_path_factory.mktemp("book"), dpi=DPI)


def test_the_book_has_enough_pages_of_every_kind(book: BookDrawn) -> None:
    truths = [read_truth(p) for p in book.truth_paths]
    assert book.page_count >= 24
    assert book.panel_count == sum(len(t.panels) for t in truths)
    assert {t.facing for t in truths} == {"", "facing", "double"}
    panels = [p for t in truths for p in t.panels]
    assert {p.border for p in panels} >= {"ruled", "hand", "none"}
    assert any(p.inset_in is not None for p in panels)
    assert any(p.open_sides for p in panels)
    assert any(p.burst for p in panels)
    assert any(len(p.bleed) == 4 for p in panels)
    assert any(t.ground_rgb is not None and max(t.ground_rgb) < 40 for t in truths)
    assert all(t.balloons for t in truths if len(t.panels) > 4)


def test_each_picture_has_its_resolution_and_its_truth_fits(book: BookDrawn) -> None:
    for path in book.truth_paths:
        truth = read_truth(path)
        picture = book.folder / truth.image
        assert picture in book.page_paths
        for panel in truth.panels:
            assert truth.pages[panel.page].shape.buffer(2).contains(panel.outline.shape)
        if picture.suffix == ".pdf":
            continue
        with Image.open(picture) as image:
            assert image.size == (truth.width_px, truth.height_px)
            assert np.allclose(image.info["dpi"], DPI, atol=0.5)


def test_the_last_pages_are_one_pdf(book: BookDrawn) -> None:
    import pypdfium2

    in_pdf = [json.loads(p.read_text(encoding="utf-8")) for p in book.truth_paths]
    listed = [t for t in in_pdf if t["image"].endswith(".pdf")]
    document = pypdfium2.PdfDocument(book.folder / "pages" / "part_two.pdf")
    assert len(document) == len(listed) >= 4
    for t in listed:
        width_pt, height_pt = document[t["source_index"]].get_size()
        # Source: PDF's default unit is 1/72 inch (ISO 32000).
        assert (width_pt, height_pt) == pytest.approx(
            (t["width"] / DPI * 72, t["height"] / DPI * 72), abs=1
        )
    document.close()


def test_the_book_is_the_same_every_time(book: BookDrawn, tmp_path: Path) -> None:
    again = draw_book(tmp_path, dpi=DPI)
    for a, b in zip(book.page_paths, again.page_paths, strict=True):
        assert a.name == b.name
        ours, theirs = (hashlib.sha256(p.read_bytes()).hexdigest() for p in (a, b))
        assert ours == theirs, a.name
