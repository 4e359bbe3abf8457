"""Pages are called by the book they are labelled with, and no name means two pages."""

from __future__ import annotations

import pyarrow as pa
import pytest

from panelscan.corpus.labels import SCHEMA, Label, PageLabels, add_labels
from panelscan.corpus.naming import named_pages, shown_books
from panelscan.finder.index import GridIndex
from panelscan.finder.query import Query
from panelscan.finder.search import search
from panelscan.layout.notation import parse_grid
from tests.finder.made_library import make_library

AT = "2026-03-01T10:00:00Z"
PAGES = pa.table(
    {"page_id": ["a", "b", "c", "d"], "book": ["x", "x", "y", "y"], "page_number": [1, 2, 1, 2]}
)


@pytest.mark.parametrize(
    ("by_page", "by_book", "shown"),
    [
        ({}, {}, ["x", "x", "y", "y"]),
        ({"b": "Ferry"}, {}, ["x", "Ferry", "y", "y"]),
        ({}, {"y": "Ferry"}, ["x", "x", "Ferry", "Ferry"]),
        ({"c": "x"}, {}, ["x", "x", "y", "y"]),  # x/1 is another page's own name
        ({"a": "Ferry", "c": "Ferry"}, {}, ["x", "x", "y", "y"]),  # two claim Ferry/1
        ({"b": "x"}, {}, ["x", "x", "y", "y"]),
    ],
)
def test_books_shown(by_page, by_book, shown):
    told = PageLabels(
        {"book": by_page} if by_page else {}, {"book": by_book} if by_book else {},
        SCHEMA.empty_table(),
    )  # fmt: skip
    assert shown_books(PAGES, told).to_pylist() == shown


def test_a_label_renames_hits_and_their_names_lead_back(tmp_path):
    library = make_library(tmp_path / "shelf", {"Salt": [parse_grid("two then one")] * 3})
    query = Query(written="two then one", each_grid_once=False)
    before = search(library, query)
    assert before.hits[1].target == "Salt/2"
    page = before.hits[1].page_id
    add_labels(library.place, [Label("book", "Ferry", page_id=page)], "t", AT)
    index = GridIndex.open(library)
    assert index.was_built
    hit = next(h for h in search(library, query, index).hits if h.page_id == page)
    assert (hit.name, hit.target) == ("Ferry, page 2", "Ferry/2")
    assert named_pages(library)["Ferry", 2] == named_pages(library)["Salt", 2] == page
    assert not GridIndex.open(library).was_built
    add_labels(library.place, [Label("mood", "calm", page_id=page)], "t", AT)
    assert not GridIndex.open(library).was_built  # other labels name nothing
    add_labels(library.place, [Label("book", None, page_id=page)], "t", AT)
    assert search(library, query).hits == before.hits
