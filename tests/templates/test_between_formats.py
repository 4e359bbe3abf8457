from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.templates.layers import TITLES, LayerKey
from panelscan.templates.options import InkMode, TemplateOptions
from panelscan.templates.template import write_template
from tests.templates.readers import differing, ora_files, pdf_rgb, picture, rgb, svg_rgb
from tests.templates.samples import NAMED, POCKET


@pytest.mark.parametrize("name", ["mixed", "slanted", "bleeding", "inset"])
def test_all_formats_show_the_same_page(tmp_path, name):
    size = POCKET.pixel_size(300)
    outs = {kind: tmp_path / f"page.{kind}" for kind in ("svg", "pdf", "ora", "tif", "png")}
    for out in outs.values():
        write_template(NAMED[name], POCKET, out, TemplateOptions(ppi=300))
    png = rgb(outs["png"])
    assert png.shape[1::-1] == size
    assert np.array_equal(png, rgb(ora_files(outs["ora"])["mergedimage.png"]))
    assert np.array_equal(png, rgb(outs["tif"]))
    assert differing(svg_rgb(outs["svg"], size), png) < 1e-4
    assert differing(pdf_rgb(outs["pdf"], 300), png, 96) < 1e-3


@pytest.mark.parametrize("ppi", [300, 400, 600, 1200])
def test_resolution_is_written(tmp_path, ppi):
    for kind in ("png", "tif"):
        out = tmp_path / f"page.{kind}"
        report = write_template(
            NAMED["splash"], POCKET, out, TemplateOptions(ppi=ppi, ink=InkMode.BLACK_AND_WHITE)
        )
        image = picture(out)
        assert image.mode == "1"
        assert image.size == report.size_px == POCKET.pixel_size(ppi)
        assert [round(float(v)) for v in image.info["dpi"]] == [ppi, ppi]


def test_tiff_pages_are_named_layers(tmp_path):
    out = tmp_path / "page.tif"
    report = write_template(NAMED["six"], POCKET, out, TemplateOptions(ppi=300))
    image = picture(out)
    names = []
    for n in range(image.n_frames):
        image.seek(n)
        names.append(image.tag_v2[285])
        assert image.mode == ("RGB" if n == 0 else "RGBA")
    assert names == [POCKET.title, *report.layers]
    image.seek(names.index(TITLES[LayerKey.BORDERS]))
    borders = np.asarray(image)
    files = tmp_path / "page.ora"
    write_template(NAMED["six"], POCKET, files, TemplateOptions(ppi=300))
    assert np.array_equal(borders, np.asarray(picture(ora_files(files)["data/borders.png"])))
    done, pages = cv2.imreadmulti(str(out), flags=cv2.IMREAD_UNCHANGED)
    assert done
    assert len(pages) == len(names)
    assert np.array_equal(pages[names.index("Panel borders")][..., 3], borders[..., 3])


@pytest.mark.parametrize("kind", ["png", "tif"])
def test_gray_and_black_and_white(tmp_path, kind):
    out = tmp_path / f"page.{kind}"
    colour = TemplateOptions(ppi=300, overwrite=True)
    write_template(NAMED["slanted"], POCKET, out, colour)
    reference = cv2.cvtColor(rgb(out), cv2.COLOR_RGB2GRAY)
    gray = TemplateOptions(ppi=300, ink=InkMode.GRAY, overwrite=True)
    write_template(NAMED["slanted"], POCKET, out, gray)
    image = picture(out)
    assert image.mode == "L"
    assert np.abs(np.asarray(image).astype(int) - reference).max() <= 1
    hard = TemplateOptions(ppi=300, ink=InkMode.BLACK_AND_WHITE, overwrite=True)
    write_template(NAMED["slanted"], POCKET, out, hard)
    image = picture(out)
    assert image.mode == "1"
    seen = np.asarray(image.convert("L"))
    assert np.mean((seen < 128) != (reference < 128)) < 1e-4
    theirs = cv2.imread(str(out), cv2.IMREAD_GRAYSCALE)
    assert np.array_equal(theirs, seen)
