"""A shelf read from a library on disk."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.query import load_gutters, load_pages, load_panels
from panelscan.corpus.sameness import link_same_pages
from panelscan.errors import NothingFound
from panelscan.layout.notation import parse_grid
from panelscan.study import library as reading
from panelscan.study.habits import study
from panelscan.study.library import shelf_of
from panelscan.study.pages_shown import PagesShown
from tests.finder.made_library import make_library

GRIDS = ("one then two", "two then three", "three then one then two", "one then one then two")


@pytest.fixture
def shelves(tmp_path):
    """Inks of two books, and roughs of the first one in a book of their own."""
    books = {
        "zander": [parse_grid(text) for text in GRIDS],
        "alder": [parse_grid(text) for text in GRIDS[::-1]],
        "zander roughs": [parse_grid(text) for text in GRIDS],
    }
    library = make_library(tmp_path / "library", books)
    stages = {"zander": "inks", "alder": "inks", "zander roughs": "rough"}
    labels = [Label("stage", stage, book=book) for book, stage in stages.items()]
    panel = load_panels(library, 'book = "alder"').iloc[0]
    box = tuple(panel[["x_min_share", "y_min_share", "x_max_share", "y_max_share"]].astype(float))
    labels.append(Label("shot", "long", page_id=panel["page_id"], panel_box=box))
    add_labels(library.place, labels, "test", "2026-01-01T00:00:00.000Z")
    return library


def test_the_shelf_holds_what_the_frames_of_the_library_hold(shelves):
    shelf = shelf_of(shelves, every_stage=True)
    pages, panels = load_pages(shelves, duplicates=True), load_panels(shelves, duplicates=True)
    assert shelf.pages["page_id"].tolist() == pages["page_id"].tolist()
    place = pd.Index(pages["page_id"]).get_indexer(panels["page_id"])
    panels = panels.assign(page=place).sort_values(["page", "reading_order"], ignore_index=True)
    assert shelf.panels["page"].tolist() == panels["page"].tolist()
    for name in ("area_share", "aspect", "free_top_share", "confidence", "x_max_share"):
        expected = panels[name].to_numpy(dtype=float)
        assert shelf.panel_rows.numbers(name) == pytest.approx(expected, rel=1e-6, nan_ok=True)
    for name in ("shape",):
        assert (
            shelf.panel_rows.equals(name, "rectangle").sum() == (panels[name] == "rectangle").sum()
        )
    gutters = load_gutters(shelves, duplicates=True)
    assert np.sort(shelf.gutter_rows.numbers("width_px")) == pytest.approx(
        np.sort(gutters["width_px"].to_numpy(dtype=float)), rel=1e-5
    )
    assert shelf.gutter_rows.equals("kind", "tier").sum() == (gutters["kind"] == "tier").sum()


def test_a_filter_picks_pages_their_panels_and_gutters(shelves, monkeypatch):
    picked = shelf_of(shelves, 'book = "alder"')
    monkeypatch.setattr(reading, "FEW", 0)
    streamed = shelf_of(shelves, 'book = "alder"')
    assert len(picked) == len(GRIDS)
    assert set(picked.pages["book"]) == {"alder"}
    for one, other in ((picked.panels, streamed.panels), (picked.gutters, streamed.gutters)):
        pd.testing.assert_frame_equal(one, other)
    with pytest.raises(NothingFound):
        shelf_of(shelves, 'book = "nowhere"')


def test_labels_of_panels_come_along(shelves):
    shelf = shelf_of(shelves)
    assert (shelf.panels["shot"] == "long").sum() == 1
    assert study(shelf).shots is not None


def test_outlines_are_fetched_for_the_pages_that_are_shown(shelves):
    shelf = shelf_of(shelves)
    assert "geometry_page" not in shelf.panels
    page_id = shelf.pages["page_id"].iloc[0]
    rings = shelf.source.outlines([page_id])[page_id]
    assert len(rings) == shelf.pages["panel_count"].iloc[0]
    boxes = shelf.panels.loc[shelf.panels["page"] == 0, "x_min_share"].to_numpy()
    assert [ring[:, 0].min() for ring in rings] == pytest.approx(boxes, abs=1e-6)
    assert shelf.source.frames([page_id])[page_id].frame.area > 0
    shown = PagesShown(shelf, [page_id])
    assert "alder, page 1" in shown.gallery()


def test_stages_are_told_though_each_page_is_counted_once(shelves):
    link_same_pages(shelves)
    shelf = shelf_of(shelves)
    assert "zander roughs" not in set(shelf.pages["book"])
    habits = study(shelf)
    assert habits.stages is not None
    assert habits.stages.pages == len(GRIDS)
    assert habits.stages.figure("growth").value == pytest.approx(0.0, abs=0.1)
    assert "Rough against final" in habits.sections
