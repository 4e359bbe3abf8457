"""Large libraries, in small: what takes longer the more pages there are, and what must not.

``scripts/bench_library.py`` measures up to a million pages.
"""

from __future__ import annotations

import importlib.util
import time
from collections import Counter
from pathlib import Path

import pytest

from panelscan.corpus.query import load_grids, load_panels
from panelscan.corpus.select import select_pages
from panelscan.corpus.storage import FolderPlace
from panelscan.corpus.store import Library
from panelscan.corpus.summary import summarise
from panelscan.corpus.verify import verify
from panelscan.model.panel import Panel
from tests.corpus.made_up import make_record

SCRIPT = Path(__file__).parents[2] / "scripts" / "bench_library.py"


def bench_script():
    spec = importlib.util.spec_from_file_location("bench_library", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module", params=[False, True], ids=["packed", "loose"])
def many(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("many") / "library"
    bench_script().make_library(folder, 5000, request.param)
    return folder


class Counting(FolderPlace):
    """A folder that counts what is done to it, and the bytes written."""

    def __init__(self, root):
        super().__init__(root)
        self.done = Counter()

    def names(self, folder):
        self.done["names"] += 1
        return super().names(folder)

    def read(self, path):
        self.done["read"] += 1
        return super().read(path)

    def write_new(self, path, data):
        self.done["write_new"] += 1
        self.done["bytes"] += len(data)
        super().write_new(path, data)

    def replace(self, source, target):
        self.done["replace"] += 1
        super().replace(source, target)


def test_saving_a_book_does_the_same_in_a_small_and_a_large_library(many, tmp_path):
    Library.create(tmp_path / "small")
    counts = []
    for folder in (tmp_path / "small", many):
        place = Counting(folder)
        Library(place).commit_book("New", [make_record("New", 1, [2])])
        counts.append(place.done)
    small, large = counts
    assert abs(small.pop("bytes") - large.pop("bytes")) < 200
    assert small == large
    Library.open(many).forget_book("New")


def test_the_made_up_library_is_sound(many):
    told = verify(Library.open(many))
    assert told.faults == ()
    assert told.pages == 5000


def test_looking_and_filtering_make_no_object_for_every_panel(many, monkeypatch):
    """On the way to a summary, a filter or the finder's arrays no Panel is ever made."""

    def refuse(self):
        raise AssertionError("a Panel was made")

    monkeypatch.setattr(Panel, "__post_init__", refuse)
    library = Library.open(many)
    start = time.process_time()
    told = summarise(library)
    found = select_pages(library, "panels >= 6 and confidence < 0.6", ["page_id"])
    grids = load_grids(library)
    panels = load_panels(library, 'book = "Book 00003"', columns=["area_share"])
    assert told.pages == len(grids) == 5000
    assert told.panels == len(grids.boxes)
    assert 0 < found.pages.num_rows < 200
    assert set(panels["page_id"]) <= set(grids.page_ids.to_pylist())
    assert grids.vectors.shape[0] == 5000
    assert time.process_time() - start < 10
