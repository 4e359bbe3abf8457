from __future__ import annotations

import pandas as pd
import pytest

from panelscan.corpus.pack_index import PATH
from panelscan.corpus.packs import compact
from panelscan.corpus.store import Library
from tests.corpus.made_up import make_book, make_record


@pytest.fixture
def library(tmp_path):
    library = Library.create(tmp_path / "library")
    for k in range(7):
        library.commit_book(f"Book {k}", make_book(f"Book {k}", 2 + k % 2))
    return library


def content(library):
    return {
        table: library.table(table).sort_by([("page_id", "ascending")]).to_pylist()
        for table in ("pages", "panels", "gutters")
    }


def test_compaction_changes_files_not_rows(library, tmp_path):
    before = content(library)
    told = compact(library)
    assert (told.books, told.packs, told.files_before, told.files_after) == (7, 1, 7, 1)
    assert content(library) == before
    assert len(pd.read_parquet(tmp_path / "library" / "panels")) == len(before["panels"])
    assert compact(library).books == 0


def test_packs_stay_within_their_size(library):
    assert compact(library, most_pages=6).packs == 3
    assert library.pages().num_rows == 17


@pytest.mark.parametrize("index_lost", [False, True])
def test_a_book_in_a_pack_can_change_and_be_forgotten(library, tmp_path, index_lost):
    compact(library)
    if index_lost:
        (tmp_path / "library" / PATH).unlink()
    told = library.commit_book("Book 3", [make_record("Book 3", 9, [1])])
    assert (told.added, told.kept) == (1, 3)
    assert library.pages().num_rows == 18
    assert len(set(library.pages(["page_id"])["page_id"].to_pylist())) == 18
    assert library.forget_book("Book 4") == 2
    assert library.pages().num_rows == 16
    for k in (0, 1, 2, 5, 6):
        library.forget_book(f"Book {k}")
    assert library.books() == ["Book 3"]
    assert len(list((tmp_path / "library" / "pages").iterdir())) == 1
