from __future__ import annotations

import contextlib
import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import geopandas
import pandas as pd
import pyarrow.parquet as pq
import pytest
import shapely
from lxml import etree
from pycocotools.coco import COCO

from panelscan.corpus import geoparquet
from panelscan.corpus.export import FORMS, export
from panelscan.corpus.export_pages import PAGE_NAMESPACE, page_xml
from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.store import Library
from panelscan.errors import NothingFound, OutputExistsError, UsageError
from panelscan.model.page import PagePart
from tests.corpus.made_up import HEIGHT, WIDTH, make_book, make_record


@pytest.fixture
def library(tmp_path):
    library = Library.create(tmp_path / "library")
    library.commit_book("Salt", make_book("Salt", 3))
    odd = make_record('=1+1 "Tin", <no>', 1, [1, 2], ppi=None)
    library.commit_book(odd.book, [replace(odd, notes=("=2+2",))])
    add_labels(library.place, [Label("stage", "inks", book="Salt")], "Ada", "2026-01-01")
    return library


def test_one_geoparquet_file_opens_in_geopandas(library, tmp_path):
    (path,) = export(library, "geoparquet", tmp_path / "panels.parquet")
    frame = geopandas.read_parquet(path)
    assert frame.crs is None
    assert len(frame) == 13 + 3
    assert frame.geometry.is_valid.all()
    assert frame.area.iloc[0] == pytest.approx(frame["area_share"].iloc[0] * WIDTH * HEIGHT)
    assert set(frame["label_stage"].dropna()) == {"inks"}
    assert set(frame["page_direction"]) == {"ltr"}
    tree = geoparquet.decode(pq.read_metadata(path).metadata)
    assert geoparquet.faults(tree, pq.read_table(path)) == []


def test_csv_opens_anywhere_and_hides_no_formula(library, tmp_path):
    paths = export(library, "csv", tmp_path / "csv")
    assert [p.name for p in paths] == ["pages.csv", "panels.csv", "gutters.csv"]
    with paths[0].open(encoding="utf-8", newline="") as file:
        pages = list(csv.DictReader(file))
    assert [p["page_number"] for p in pages] == ["1", "1", "2", "3"]
    assert pages[0]["book"] == '\'=1+1 "Tin", <no>'
    assert pages[1]["label_stage"] == "inks"
    panels = pd.read_csv(paths[1])
    shape = shapely.from_wkt(panels["geometry_wkt"].iloc[0])
    assert shape.area > 1000
    assert not {"vector", "look", "bbox"} & set(pages[0])


@pytest.mark.filterwarnings("ignore:__array__ implementation:DeprecationWarning")
def test_coco_is_read_by_pycocotools(library, tmp_path):
    """Independent reader: pycocotools builds its index, masks and boxes from the file."""
    (path,) = export(library, "coco", tmp_path / "panels.json")
    with contextlib.redirect_stdout(io.StringIO()):
        coco = COCO(str(path))
        found = coco.loadRes(json.loads(path.read_text())["annotations"])
    assert len(coco.getImgIds()) == 4
    assert [c["name"] for c in coco.loadCats(coco.getCatIds())] == ["panel"]
    annotations = coco.loadAnns(coco.getAnnIds())
    assert len(annotations) == 16
    for told in annotations[:6]:
        mask = coco.annToMask(told)
        assert mask.shape == (HEIGHT, WIDTH)
        assert mask.sum() == pytest.approx(told["area"], rel=0.01)
        ys, xs = mask.nonzero()
        x, y, width, height = told["bbox"]
        assert xs.min() == pytest.approx(x, abs=2)
        assert ys.max() == pytest.approx(y + height, abs=2)
        assert width > 0
    assert len(found.getAnnIds()) == 16


def test_halves_of_one_scan_share_an_image(tmp_path):
    library = Library.create(tmp_path / "library")
    halves = [
        make_record("Salt", n, [1], content="spread", part=part)
        for n, part in ((1, PagePart.LEFT), (2, PagePart.RIGHT))
    ]
    same = replace(halves[1].ref, source_path=halves[0].ref.source_path)
    library.commit_book("Salt", [halves[0], replace(halves[1], ref=same)])
    (path,) = export(library, "coco", tmp_path / "panels.json")
    told = json.loads(path.read_text())
    assert len(told["images"]) == 1
    assert [a["image_id"] for a in told["annotations"]] == [1, 1]


@pytest.fixture(scope="module")
def page_schema():
    """The published PAGE content schema 2019-07-15; see tests/data/README.md."""
    data = Path(__file__).resolve().parents[1] / "data"
    return etree.XMLSchema(etree.parse(data / "page-xml" / "pagecontent-2019-07-15.xsd"))


def test_page_xml_is_valid_by_the_published_schema(library, tmp_path, page_schema):
    library.commit_book("Blank", [make_record("Blank", 1, [])])
    paths = export(library, "page-xml", tmp_path / "page")
    assert len(paths) == 5
    for path in paths:
        page_schema.assertValid(etree.parse(path))
    wrong = paths[0].read_text("utf-8").replace('type="frame"', 'type="panel"')
    assert not page_schema.validate(etree.fromstring(wrong.encode()))


# Order of elements and values allowed, after the same schema, and what it cannot say.
_PAGE_CHILDREN = ["Border", "ReadingOrder", "GraphicRegion"]


def test_page_xml_keeps_to_the_schemas_structure(library, tmp_path):
    paths = export(library, "page-xml", tmp_path / "page")
    assert len(paths) == 4
    for path in paths:
        root = ET.parse(path).getroot()  # noqa: S314 - our own file
        assert root.tag == f"{{{PAGE_NAMESPACE}}}PcGts"
        names = [child.tag.rpartition("}")[2] for child in root]
        assert names == ["Metadata", "Page"]
        assert [c.tag.rpartition("}")[2] for c in root[0]] == ["Creator", "Created", "LastChange"]
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z", root[0][1].text)
        page = root[1]
        assert (page.get("imageWidth"), page.get("imageHeight")) == (str(WIDTH), str(HEIGHT))
        kinds = [c.tag.rpartition("}")[2] for c in page]
        assert sorted(kinds, key=_PAGE_CHILDREN.index) == kinds
        regions = [c for c in page if c.tag.endswith("GraphicRegion")]
        refs = [r.get("regionRef") for r in page.iter(f"{{{PAGE_NAMESPACE}}}RegionRefIndexed")]
        assert refs == [r.get("id") for r in regions]
        assert {r.get("type") for r in regions} == {"frame"}
        for coords in page.iter(f"{{{PAGE_NAMESPACE}}}Coords"):
            assert re.fullmatch(r"(\d+,\d+ )+\d+,\d+", coords.get("points"))


def test_a_blank_page_is_still_page_xml(library):
    library.commit_book("Blank", [make_record("Blank", 1, [])])
    rows = [r for r in library.pages().to_pylist() if r["book"] == "Blank"]
    text = page_xml(rows[0], []).decode()
    assert "GraphicRegion" not in text
    assert "ReadingOrder" not in text


def test_svg_draws_each_panel_at_true_size(library, tmp_path):
    paths = export(library, "svg", tmp_path / "svg", where="book = Salt")
    assert [p.name for p in paths] == [f"salt-{n:04d}.svg" for n in (1, 2, 3)]
    root = ET.parse(paths[0]).getroot()  # noqa: S314
    assert root.get("width") == f"{WIDTH / 300:.4f}in"
    groups = {g.get("id"): g for g in root if g.get("id")}
    assert set(groups) == {"page", "panels", "order"}
    assert len(groups["panels"]) == 6
    assert [t.text for t in groups["order"]] == list("123456")


def test_svg_is_drawn_by_an_independent_renderer(library, tmp_path):
    cairosvg = pytest.importorskip("cairosvg", exc_type=ImportError)
    (path,) = export(library, "svg", tmp_path / "svg", where="book = Salt and page = 1")
    png = cairosvg.svg2png(path.read_bytes(), output_width=400)
    import cv2
    import numpy as np

    pixels = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)
    assert pixels.shape[1] == 400
    assert len(np.unique(pixels.reshape(-1, 3), axis=0)) > 3


def test_nothing_is_overwritten_unasked(library, tmp_path):
    out = tmp_path / "out"
    for form in FORMS:
        target = out / form
        export(library, form, target)
        before = {p: p.read_bytes() for p in out.rglob("*") if p.is_file()}
        with pytest.raises(OutputExistsError):
            export(library, form, target)
        export(library, form, target, overwrite=True)
        assert set(before) == {p for p in out.rglob("*") if p.is_file()}
    assert not [p for p in Path(tmp_path).rglob(".*") if p.is_file() and "library" not in str(p)]


def test_what_cannot_be_exported_is_told(library, tmp_path):
    with pytest.raises(UsageError, match="no form"):
        export(library, "psd", tmp_path / "x")
    with pytest.raises(NothingFound):
        export(library, "csv", tmp_path / "x", where="panels > 99")
    assert not (tmp_path / "x").exists()


def test_names_of_pages_do_not_meet(library, tmp_path):
    library.commit_book("salt!", [make_record("salt!", 1, [1])])
    paths = export(library, "svg", tmp_path / "svg")
    assert len({p.name.lower() for p in paths}) == 5
