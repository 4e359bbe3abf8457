from __future__ import annotations

import numpy as np
import pikepdf
import pytest

from panelscan.model.formats import US_PRINT, format_named
from panelscan.templates.options import InkMode, Rough, TemplateOptions
from panelscan.templates.template import write_template
from tests.templates.readers import (
    beyond_a_pixel,
    ora_files,
    pdf_rgb,
    pdf_with_layers,
    picture,
    poppler_rgb,
)
from tests.templates.samples import NAMED, POCKET

# ISO 32000: tables of the catalog's optional content entries and of the page boxes.


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pdf")
    out = folder / "page.pdf"
    options = TemplateOptions(ppi=300, masks=True)
    return out, write_template(NAMED["slanted"], US_PRINT, out, options)


def test_structure(saved):
    with pikepdf.open(saved[0]) as pdf:
        assert pdf.check_pdf_syntax() == []
        listed = pdf.Root.OCProperties
        names = [str(g.Name) for g in listed.OCGs]
        assert names == list(saved[1].layers)
        assert all(g.Type == "/OCG" and g.is_indirect for g in listed.OCGs)
        assert [str(g.Name) for g in listed.D.Order] == names[::-1]
        assert [str(g.Name) for g in listed.D.OFF] == ["Panel masks"]
        assert all("/View" not in g.get("/Usage", {}) for g in listed.OCGs)
        page = pdf.pages[0]
        boxes = {k: [float(v) for v in page.obj[k]] for k in ("/MediaBox", "/BleedBox", "/TrimBox")}
        # US comic page: trim 477 x 738 pt inside a bleed of 495 x 756 pt.
        assert boxes["/TrimBox"] == pytest.approx([9, 9, 486, 747])
        assert boxes["/BleedBox"] == pytest.approx([0, 0, 495, 756])
        assert boxes["/MediaBox"] == pytest.approx([0, 0, 495, 756])
        marked = list(page.Resources.Properties.values())
        assert {str(g.Name) for g in marked} == set(names)


def test_board_has_trim_and_bleed_inside(tmp_path):
    board = format_named("us-board")
    write_template(NAMED["six"], board, tmp_path / "board.pdf")
    with pikepdf.open(tmp_path / "board.pdf") as pdf:
        page = pdf.pages[0].obj
        media, bleed, trim = (
            [float(v) for v in page[k]] for k in ("/MediaBox", "/BleedBox", "/TrimBox")
        )
    assert media == pytest.approx([0, 0, 11 * 72, 17 * 72])
    assert media[0] < bleed[0] < trim[0] < trim[2] < bleed[2] < media[2]
    assert trim[2] - trim[0] == pytest.approx(477 / 0.65, abs=1e-3)


@pytest.mark.parametrize("reader", ["pdfium", "poppler"])
def test_each_layer_switched_alone(tmp_path, reader):
    out, layered = tmp_path / "one.ora", tmp_path / "all.pdf"
    options = TemplateOptions(ppi=300, masks=True)
    report = write_template(NAMED["slanted"], POCKET, layered, options)
    write_template(NAMED["slanted"], POCKET, out, options)
    files = ora_files(out)
    for title in report.layers:
        (tmp_path / "one.pdf").write_bytes(pdf_with_layers(layered, {title}))
        if reader == "pdfium":
            seen = pdf_rgb(tmp_path / "one.pdf", 300)
        else:
            seen = poppler_rgb(tmp_path / "one.pdf", 300, tmp_path)
        key = next(k for k in files if k.startswith("data/") and _is(k, title))
        rgba = np.asarray(picture(files[key])).astype(float)
        alpha = rgba[..., 3:] / 255
        expected = (rgba[..., :3] * alpha + 255 * (1 - alpha)).round().astype(np.uint8)
        assert beyond_a_pixel(seen, expected) == 0, title
        blank = title in ("Paper", "Roughs", "Pencils", "Inks")
        assert (seen.min() == 255) == blank, title


def _is(name, title):
    from panelscan.templates.layers import TITLES

    key = next(k for k, t in TITLES.items() if t == title)
    return name == f"data/{key}.png"


def test_rough_is_an_image_on_its_layer(tmp_path):
    rough = np.full((600, 400), 255, np.uint8)
    rough[200:400, 100:300] = 40
    out = tmp_path / "page.pdf"
    write_template(NAMED["six"], US_PRINT, out, TemplateOptions(rough=Rough(rough, lightness=0.5)))
    seen = pdf_rgb(pdf_with_layers(out, {"Rough underneath"}), 72)
    # The rough fills the trim: its dark part spans 1/4 to 3/4 across and 1/3 to 2/3 down.
    assert abs(int(seen[378, 247, 0]) - 147) < 4
    across = np.flatnonzero(seen[378, :, 0] < 200)
    down = np.flatnonzero(seen[:, 247, 0] < 200)
    assert (across[0], across[-1] + 1) == pytest.approx((9 + 477 / 4, 9 + 477 * 3 / 4), abs=1)
    assert (down[0], down[-1] + 1) == pytest.approx((9 + 738 / 3, 9 + 738 * 2 / 3), abs=1)


def test_same_bytes_every_time(saved, tmp_path):
    again = tmp_path / "again.pdf"
    options = TemplateOptions(ppi=1200, masks=True, ink=InkMode.GRAY)
    write_template(NAMED["slanted"], US_PRINT, again, options)
    assert again.read_bytes() == saved[0].read_bytes()
