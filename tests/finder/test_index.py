from __future__ import annotations

import shutil

import numpy as np
import pytest

from panelscan.finder.by_brief import same_grids
from panelscan.finder.coarse import Coarse
from panelscan.finder.index import GridIndex
from panelscan.finder.index_arrays import pack, pack_flags, unpack, unpack_flags
from panelscan.finder.index_files import FOLDER, fingerprint
from panelscan.finder.panel_tables import rows_of_pages
from panelscan.finder.vectors import vectors_of_rows
from panelscan.layout.fields import panel_rows
from panelscan.layout.signature import grid_vector
from tests.finder.drawn import draw_grids
from tests.finder.made_library import make_library, record_of

GRIDS = draw_grids(40, 21)


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    folder = tmp_path_factory.mktemp("library") / "shelf"
    return make_library(folder, {"Salt": GRIDS[:25], "Tide": GRIDS[25:]})


@pytest.fixture
def library(filled, tmp_path):
    from panelscan.corpus.store import Library

    shutil.copytree(filled.place.root, tmp_path / "shelf")
    return Library.open(tmp_path / "shelf")


def test_index_holds_every_page_as_saved(library):
    index = GridIndex.open(library)
    assert index.was_built and len(index) == 40 and index.books == ("Salt", "Tide")
    for k in (0, 7, 24, 25, 39):
        found, drawn = index.grid(k), GRIDS[k]
        assert [p.bleed for p in found.panels] == [p.bleed for p in drawn.panels]
        assert [p.host for p in found.panels] == [p.host for p in drawn.panels]
        for a, b in zip(found.panels, drawn.panels, strict=True):
            assert np.abs(a.outline.array() - b.outline.array()).max() < 1e-4
        assert index.pages.name(k).startswith("Salt" if k < 25 else "Tide")
    assert index.index_of(index.pages.id(31)) == 31 and index.index_of("no such page") is None


def test_index_takes_less_than_a_kilobyte_a_page(library):
    assert GridIndex.open(library).bytes_per_page <= 1024


def test_index_is_mapped_again_and_rebuilt_when_the_library_changes(library):
    first = GridIndex.open(library)
    again = GridIndex.open(library)
    assert first.was_built and not again.was_built
    assert np.array_equal(first.arrays.vectors, again.arrays.vectors)
    name = fingerprint(library)
    library.commit_book("Fog", [record_of(GRIDS[3], "Fog", 1)])
    assert fingerprint(library) != name
    fresh = GridIndex.open(library)
    assert fresh.was_built and len(fresh) == 41 and "Fog" in fresh.books
    kept = [p.name for p in (library.place.root / FOLDER).iterdir()]
    assert kept == [fingerprint(library)]
    library.forget_book("Fog")
    assert len(GridIndex.open(library)) == 40


def test_index_follows_compaction(library):
    from panelscan.corpus.packs import compact

    before = GridIndex.open(library)
    compact(library)
    after = GridIndex.open(library)
    assert np.array_equal(before.arrays.ids, after.arrays.ids)
    assert not GridIndex.open(library).was_built


@pytest.mark.parametrize("damage", ["cut", "missing", "nonsense"])
def test_damaged_index_is_built_anew(library, damage):
    GridIndex.open(library)
    folder = library.place.root / FOLDER / fingerprint(library)
    file = folder / "corners.npy"
    if damage == "cut":
        file.write_bytes(file.read_bytes()[:-40])
    elif damage == "missing":
        file.unlink()
    else:
        (folder / "meta.json").write_text("[]")
    index = GridIndex.open(library)
    assert index.was_built and len(index) == 40


def test_library_that_cannot_be_written_is_searched_all_the_same(library, monkeypatch):
    from pathlib import Path

    def refuse(self, *args, **kwargs):
        raise PermissionError(13, "not allowed")

    monkeypatch.setattr(Path, "mkdir", refuse)
    assert len(GridIndex.open(library)) == 40
    assert not (library.place.root / FOLDER).exists()


def test_empty_library_gives_an_empty_index(tmp_path):
    index = GridIndex.open(make_library(tmp_path / "empty", {}))
    assert len(index) == 0 and len(index.shelf()) == 0


def test_rows_and_vectors_are_those_of_layout(library):
    index = GridIndex.open(library)
    rows, starts = rows_of_pages(index.arrays, np.arange(40))
    vectors = vectors_of_rows(rows, starts)
    for k, grid in enumerate(GRIDS):
        assert np.abs(rows[starts[k] : starts[k + 1]] - panel_rows(grid)).max() < 1e-4
        assert np.abs(vectors[k] - grid_vector(grid)).max() < 2e-3
        assert np.abs(index.arrays.vectors[k].astype(float) - grid_vector(grid)).max() < 2e-3


def test_packing_keeps_a_hundredth_of_a_percent():
    shares = np.random.default_rng(1).uniform(-0.4, 1.4, 1000)
    assert np.abs(unpack(pack(shares)) - shares).max() < 1e-4
    flags = np.random.default_rng(2).random((50, 4)) < 0.5
    assert np.array_equal(unpack_flags(pack_flags(flags)), flags)


def test_first_look_agrees_with_a_plain_scan():
    rng = np.random.default_rng(4)
    vectors = rng.normal(size=(500, 20)).astype(np.float32)
    counts = rng.integers(1, 8, 500)
    coarse = Coarse.of(vectors, counts)  # 20 directions are all there are: nothing is lost
    query = vectors[17] + 0.01
    plain = np.argsort(((vectors - query) ** 2).sum(axis=1), kind="stable")[:15]
    assert coarse.nearest(vectors, query, 15).tolist() == plain.tolist()
    among = counts == 3
    found = coarse.nearest(vectors, query, 15, among)
    assert among[found].all()
    pages, _ = coarse.scan(query[None], 10, coarse.rows_of_count(3))
    assert set(pages) == set(found[:10])
    assert coarse.rows_of_count(99) == slice(0, 0)


def test_same_grids_are_found_by_their_sides():
    index = GridIndex.of_grids([GRIDS[0], GRIDS[1], GRIDS[0]], measured=False)
    assert same_grids(index, 0).tolist() == [0, 2]
