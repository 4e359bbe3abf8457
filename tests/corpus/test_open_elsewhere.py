"""The library's folders in other programs' hands, without panelscan."""

from __future__ import annotations

import json

import geopandas
import geoparquet_validator
import pandas as pd
import pyarrow.dataset as ds
import pyarrow.parquet as pq
import pytest
import shapely
from jsonschema import Draft7Validator

from panelscan.corpus.export import export
from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.packs import compact
from panelscan.corpus.store import Library
from panelscan.model.correction import DeletePanel
from tests.corpus.made_up import make_book, make_record

PANELS = 6 + 1 + 6 + 5


@pytest.fixture(scope="module", params=["loose", "packed"])
def folder(request, tmp_path_factory):
    library = Library.create(tmp_path_factory.mktemp("elsewhere") / "library")
    library.commit_book("Salt", make_book("Salt", 3))
    library.commit_book("Tin", [make_record("Tin", 1)])
    page = make_record("Tin", 1).ref.page_id
    if request.param == "packed":
        compact(library)
    library.correct(page, DeletePanel("d5"), 0, who="Ada", book="Tin")
    add_labels(library.place, [Label("stage", "inks", book="Salt")], "Ada", "2026-01-01")
    return library.place.root


def test_pandas(folder):
    panels = pd.read_parquet(folder / "panels")
    assert len(panels) == PANELS
    assert len(pd.read_parquet(folder / "labels")) == 1
    joined = panels.merge(pd.read_parquet(folder / "pages"), on="page_id")
    assert len(joined) == PANELS


def test_pyarrow(folder):
    for table, rows in (("pages", 4), ("panels", PANELS)):
        assert ds.dataset(folder / table).count_rows() == rows
        assert pq.read_table(folder / table).num_rows == rows


def test_geopandas(folder):
    frame = geopandas.read_parquet(folder / "panels")
    assert len(frame) == PANELS
    assert frame.crs is None
    assert frame.geometry.geom_type.eq("Polygon").all()
    inside = geopandas.read_parquet(folder / "panels", bbox=(0, 0, 400, 400))
    assert 0 < len(inside) < PANELS


def test_duckdb(folder):
    duckdb = pytest.importorskip("duckdb")
    with duckdb.connect() as base:
        told = base.execute(
            f"select count(*), sum(area_share) from read_parquet('{folder}/panels/*.parquet')"  # noqa: S608
        ).fetchall()
        assert told[0][0] == PANELS
        base.execute("SET enable_geoparquet_conversion=false")
        blobs = base.execute(
            f"select geometry from read_parquet('{folder}/panels/*.parquet')"  # noqa: S608
        ).fetchall()
    assert all(shapely.from_wkb(bytes(b[0])).is_valid for b in blobs)


def test_dask(folder):
    dataframe = pytest.importorskip("dask.dataframe")
    frame = dataframe.read_parquet(str(folder / "panels"), columns=["page_id", "area_share"])
    assert len(frame) == PANELS


# The parts of the GeoParquet 1.1.0 schema (schema.json at tag v1.1.0) that bear on these
# files, written out again from the specification's text.
_KINDS = "^(GeometryCollection|(Multi)?(Point|LineString|Polygon))( Z)?$"
_GEO_SCHEMA = {
    "type": "object",
    "required": ["version", "primary_column", "columns"],
    "properties": {
        "version": {"const": "1.1.0"},
        "primary_column": {"type": "string", "minLength": 1},
        "columns": {
            "type": "object",
            "minProperties": 1,
            "patternProperties": {
                ".+": {
                    "type": "object",
                    "required": ["encoding", "geometry_types", "crs"],
                    "properties": {
                        "encoding": {"const": "WKB"},
                        "geometry_types": {
                            "type": "array",
                            "uniqueItems": True,
                            "items": {"pattern": _KINDS},
                        },
                        "crs": {"type": "null"},
                        "edges": {"enum": ["planar"]},
                        "orientation": {"const": "counterclockwise"},
                        "bbox": {"type": "array", "minItems": 4, "maxItems": 4},
                        "covering": {
                            "type": "object",
                            "required": ["bbox"],
                            "properties": {
                                "bbox": {
                                    "type": "object",
                                    "required": ["xmin", "xmax", "ymin", "ymax"],
                                    "patternProperties": {
                                        "^[xy]m(in|ax)$": {
                                            "type": "array",
                                            "minItems": 2,
                                            "maxItems": 2,
                                        }
                                    },
                                }
                            },
                        },
                    },
                }
            },
        },
    },
}


def test_every_file_keeps_to_the_geoparquet_schema(folder):
    files = [f for t in ("pages", "panels", "gutters") for f in (folder / t).iterdir()]
    assert len(files) >= 6
    for file in files:
        tree = json.loads(pq.read_metadata(file).metadata[b"geo"])
        Draft7Validator(_GEO_SCHEMA).validate(tree)
        columns = pq.read_schema(file).names
        assert set(tree["columns"]) <= set(columns)
        covering = tree["columns"]["geometry"]["covering"]["bbox"]
        assert [path[0] for path in covering.values()] == ["bbox"] * 4


# Ids of the OGC abstract tests that apply to WKB without a map's reference system; the
# validator runs them by the rules of the GeoParquet 1.1.0 community specification.
_CLAUSES = (
    "core/geo-metadata", "core/file-metadata", "core/column-metadata",
    "core/geometry-column-type", "core/geometry-column-nesting",
    "core/geometry-column-repetition", "core/wkb", "core/geometry-types", "core/edges-value",
    "core/orientation-value", "core/orientation-rings", "core/bbox-array", "core/bbox-extent",
    "covering/keys", "covering/bbox-paths", "covering/bbox-column-structure",
    "covering/bbox-column-type", "covering/bbox-column-repetition",
    "covering/bbox-column-nesting",
)  # fmt: skip


def assert_geoparquet(path):
    """Valid GeoParquet 1.1.0 by a validator that is not ours, every clause looked at."""
    report = geoparquet_validator.check(str(path))
    assert report["version"] == "1.1.0" and not report["sampled"]
    told = {o["id"].removeprefix("/conf/"): o["status"] for o in report["outcomes"]}
    assert {name: told[name] for name in _CLAUSES} == dict.fromkeys(_CLAUSES, "pass")
    assert geoparquet_validator.conformant(report, "core")
    assert geoparquet_validator.conformant(report, "covering")
    # A null reference system is skipped there; it must be said, not left out.
    tree = json.loads(pq.read_metadata(path).metadata[b"geo"])
    assert all(column["crs"] is None for column in tree["columns"].values())


def test_every_file_is_valid_by_an_independent_validator(folder, tmp_path):
    for file in (f for t in ("pages", "panels", "gutters") for f in (folder / t).iterdir()):
        assert_geoparquet(file)
    (single,) = export(Library.open(folder), "geoparquet", tmp_path / "panels.parquet")
    assert_geoparquet(single)


def test_the_validator_refuses_what_is_not_valid(folder, tmp_path):
    file = next((folder / "panels").iterdir())
    table = pq.read_table(file)
    tree = json.loads(table.schema.metadata[b"geo"])
    tree["columns"]["geometry"]["bbox"] = [0.0, 0.0, 1.0, 1.0]
    wrong = table.replace_schema_metadata({b"geo": json.dumps(tree).encode()})
    pq.write_table(wrong, tmp_path / "wrong.parquet")
    with pytest.raises(AssertionError):
        assert_geoparquet(tmp_path / "wrong.parquet")


def test_the_whole_life_of_a_library_in_memory():
    import fsspec

    fsspec.filesystem("memory").store.clear()
    library = Library.open_or_create("memory://studio/shelf")
    library.commit_book("Salt", make_book("Salt", 2))
    library.commit_book("Tin", [make_record("Tin", 1)])
    page = make_record("Tin", 1).ref.page_id
    library.correct(page, DeletePanel("d5"), 0, who="Ada")
    add_labels(library.place, [Label("stage", "inks", book="Salt")], "Ada", "2026-01-01")
    again = Library.open("memory://studio/shelf")
    assert again.panels().num_rows == 6 + 1 + 5
    assert compact(again).packs == 1
    assert again.panels().num_rows == 6 + 1 + 5
    from panelscan.corpus.query import load_pages
    from panelscan.corpus.verify import verify

    assert len(load_pages(again, "stage = inks")) == 2
    assert verify(again).faults == ()


@pytest.mark.filterwarnings("ignore")
def test_the_whole_life_of_a_library_on_an_object_store(monkeypatch):
    """Against moto's S3-compatible server, in this process."""
    import fsspec
    from moto.server import ThreadedMotoServer

    server = ThreadedMotoServer(port=0)
    server.start()
    try:
        port = server.get_host_and_port()[1]
        for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
            monkeypatch.setenv(name, "made-up")
        monkeypatch.setenv("AWS_ENDPOINT_URL", f"http://127.0.0.1:{port}")
        fsspec.filesystem("s3").mkdir("studio")
        library = Library.open_or_create("s3://studio/shelf")
        library.commit_book("Salt", make_book("Salt", 2))
        library.commit_book("Tin", [make_record("Tin", 1)])
        page = make_record("Tin", 1).ref.page_id
        library.correct(page, DeletePanel("d5"), 0, who="Ada")
        again = Library.open("s3://studio/shelf")
        assert again.panels().num_rows == 6 + 1 + 5
        assert compact(again).packs == 1
        assert again.panels().num_rows == 6 + 1 + 5
        again.forget_book("Tin")
        assert again.books() == ["Salt"]
    finally:
        server.stop()
