from __future__ import annotations

import zipfile

import numpy as np
import pytest
from lxml import etree

from panelscan.model.formats import US_PRINT, format_named
from panelscan.templates.options import Rough, TemplateOptions
from panelscan.templates.ora import thumbnail_size
from panelscan.templates.template import write_template
from tests.templates.readers import ora_files, over, picture, rgb
from tests.templates.samples import NAMED, POCKET

# OpenRaster 0.0.6 (openraster.org), File Layout and Layer Stack: the rules checked here.


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    out = tmp_path_factory.mktemp("ora") / "page.ora"
    options = TemplateOptions(ppi=300, masks=True)
    return out, write_template(NAMED["bleeding"], US_PRINT, out, options)


def test_container(saved):
    with zipfile.ZipFile(saved[0]) as archive:
        infos = archive.infolist()
        assert archive.testzip() is None
    first = infos[0]
    assert (first.filename, first.compress_type, first.file_size) == ("mimetype", 0, 16)
    files = ora_files(saved[0])
    assert files["mimetype"] == b"image/openraster"
    raw = saved[0].read_bytes()
    assert raw[30:38] == b"mimetype", "no extra field before the magic word"
    assert raw[38:54] == b"image/openraster"
    assert {i.compress_type for i in infos} <= {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}


def test_stack(saved):
    files = ora_files(saved[0])
    root = etree.fromstring(files["stack.xml"])
    assert root.tag == "image"
    assert dict(root.attrib) == {
        "version": "0.0.6",
        "w": "2063",
        "h": "3150",
        "xres": "300",
        "yres": "300",
    }
    (stack,) = root
    assert stack.tag == "stack"
    assert dict(stack.attrib) == {}
    layers = list(stack)
    assert [layer.get("name") for layer in layers] == list(reversed(saved[1].layers))
    assert layers[0].get("name") == "Reading order", "the first layer is the top one"
    sources = [layer.get("src") for layer in layers]
    assert set(sources) == {n for n in files if n.startswith("data/")}
    assert all(s == s.lower() for s in sources)
    hidden = [layer.get("name") for layer in layers if layer.get("visibility") == "hidden"]
    assert hidden == ["Panel masks"]


def test_thumbnail(saved):
    image = picture(ora_files(saved[0])["Thumbnails/thumbnail.png"])
    assert image.size == (168, 256)
    assert image.mode == "RGB"
    assert image.info.get("interlace", 0) == 0
    assert thumbnail_size((4050, 3150)) == (256, 199)


def test_merged_image_equals_own_compositing(tmp_path):
    out = tmp_path / "page.ora"
    rough = np.random.default_rng(1).integers(0, 256, (310, 206, 3), dtype=np.uint8)
    options = TemplateOptions(ppi=300, masks=True, rough=Rough(rough))
    write_template(NAMED["slanted"], POCKET, out, options)
    files = ora_files(out)
    stack = etree.fromstring(files["stack.xml"])[0]
    shown = [layer for layer in reversed(list(stack)) if layer.get("visibility") == "visible"]
    layers = [np.asarray(picture(files[layer.get("src")])) for layer in shown]
    assert {layer.shape for layer in layers} == {(1410, 960, 4)}
    merged = rgb(files["mergedimage.png"])
    assert np.abs(over(layers) - merged).max() <= len(layers) / 2, "rounding only"


def test_empty_layers_are_clear_and_full_size(saved):
    files = ora_files(saved[0])
    for name in ("roughs", "pencils", "inks"):
        image = picture(files[f"data/{name}.png"])
        assert image.size == (2063, 3150)
        assert np.asarray(image).max() == 0


def test_the_same_every_time(tmp_path):
    a, b = tmp_path / "a.ora", tmp_path / "b.ora"
    for out in (a, b):
        write_template(NAMED["six"], POCKET, out, TemplateOptions(ppi=600))
    assert a.read_bytes() == b.read_bytes()


def test_a_page_with_empty_layers_is_small(tmp_path):
    out = tmp_path / "page.ora"
    write_template(NAMED["six"], US_PRINT, out, TemplateOptions(ppi=600))
    assert out.stat().st_size < 5e6
    assert picture(ora_files(out)["mergedimage.png"]).size == (4125, 6300)


def test_spread_thumbnail(tmp_path):
    out = tmp_path / "spread.ora"
    write_template(NAMED["mixed"], format_named("us-print-spread"), out, TemplateOptions(ppi=300))
    assert picture(ora_files(out)["Thumbnails/thumbnail.png"]).size == (256, 199)
