from __future__ import annotations

import json
import shutil
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from panelscan.corpus import mark, migrations, schema, store, tables
from panelscan.corpus.accuracy import accuracy
from panelscan.corpus.columns_doc import BEGIN, column_table_markdown, with_columns
from panelscan.corpus.migrations import migrate
from panelscan.corpus.query import load_grids, load_pages
from panelscan.corpus.schema import TABLES, Column
from panelscan.corpus.store import MARK, Library
from panelscan.corpus.verify import verify
from panelscan.errors import LibraryError

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "tests" / "data").glob("corpus_v*"))


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda p: p.name)
def test_a_library_of_every_version_opens(sample, tmp_path):
    """Made by scripts/sample_library.py, run with the program of that version."""
    folder = tmp_path / "library"
    shutil.copytree(sample, folder)
    library = Library.open(folder)
    assert library.books() == ["Kelp", "Salt", "Tin"]
    pages = load_pages(library)
    assert list(pages["stage"].fillna("")) == ["", "inks", "inks", ""]
    assert list(pages["rating"].fillna(0)) == [4, 0, 0, 0]
    assert list(pages["panel_count"]) == [3, 6, 1, 1]
    assert list(pages["revision"]) == [2, 0, 0, 0]
    assert len(load_grids(library)) == 4
    assert accuracy(library).pages == 1
    assert verify(library).faults == ()


def test_there_is_a_sample_of_this_version():
    assert SAMPLES[-1].name == f"corpus_v{schema.SCHEMA_VERSION}"


@pytest.fixture
def next_version(monkeypatch):
    """A program of the next version: a new column, and one that counts otherwise."""
    wider = (*schema.PANELS, Column("mood", pa.string(), "made up for this test"))
    monkeypatch.setitem(schema.TABLES, "panels", wider)
    for module in (schema, store, tables, migrations, mark):
        monkeypatch.setattr(module, "SCHEMA_VERSION", 2)

    def step(table, rows):
        if table == "panels":
            return rows.append_column("mood", pa.array(["calm"] * rows.num_rows))
        return rows

    return {1: step}


def test_an_older_library_is_brought_up_to_date_and_can_be_killed_meanwhile(
    next_version, tmp_path, monkeypatch
):
    folder = tmp_path / "library"
    shutil.copytree(SAMPLES[0], folder)
    real, left = migrations.commit, [2]

    def dying(place, change):
        left[0] -= 1
        if left[0] == 0:
            raise KeyboardInterrupt
        real(place, change)

    with monkeypatch.context() as patch:
        patch.setattr(migrations, "commit", dying)
        with pytest.raises(KeyboardInterrupt):
            migrate(store.place_of(folder), MARK, next_version, 2)
    assert json.loads((folder / MARK).read_text())["schema_version"] == 1
    done = migrate(store.place_of(folder), MARK, next_version, 2)
    assert done == 5
    assert json.loads((folder / MARK).read_text())["schema_version"] == 2
    library = Library.open(folder)
    assert pc.unique(library.panels()["mood"]).to_pylist() == ["calm"]
    for file in (folder / "panels").iterdir():
        assert json.loads(pq.read_metadata(file).metadata[b"panelscan"])["schema_version"] == 2
    assert migrate(store.place_of(folder), MARK, next_version, 2) == 0


def test_a_version_without_a_step_is_told(next_version, tmp_path):
    folder = tmp_path / "library"
    shutil.copytree(SAMPLES[0], folder)
    with pytest.raises(LibraryError, match="cannot be brought up to date"):
        Library.open(folder)


def test_the_documents_hold_the_table_of_columns():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert BEGIN in text
    assert with_columns(text) == text, "run: python scripts/columns.py"
    for columns in TABLES.values():
        for column in columns:
            assert f"| `{column.name}` |" in column_table_markdown()


def test_a_document_without_markers_is_refused():
    with pytest.raises(ValueError, match="lacks"):
        with_columns("no markers")
