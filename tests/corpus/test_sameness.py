from __future__ import annotations

import numpy as np
import pytest

from panelscan.corpus import page_pairs
from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.query import load_pages, load_panels
from panelscan.corpus.sameness import OTHER_STAGE, SAME_SCAN, find_links, link_same_pages
from panelscan.corpus.store import Library
from tests.corpus.made_up import make_record

AT = "2026-03-01T10:00:00.000Z"


def look(seed: int, noise: float = 0.0, ink: float = 1.0) -> bytes:
    """A made-up coarse picture; the same seed with noise is another scan of the same page."""
    picture = np.random.default_rng(seed).uniform(60, 250, 384)
    other = np.random.default_rng(seed + 1000).normal(0, noise, 384)
    return bytes(np.clip(255 - (255 - picture - other) * ink, 0, 255).astype(np.uint8))


@pytest.fixture
def library(tmp_path):
    library = Library.create(tmp_path / "library")
    pages = [make_record("Inks", n, [2, 2], seed=n, look=look(n)) for n in range(1, 6)]
    library.commit_book("Inks", pages)
    return library


def test_a_page_scanned_twice_is_counted_once(library):
    again = make_record("Inks", 9, [2, 2], seed=3, content="rescan", look=look(3, noise=4))
    library.commit_book("Inks", [again])
    (link,) = link_same_pages(library)
    assert link.kind == SAME_SCAN
    assert {again.ref.page_id} < {link.page_a, link.page_b}
    pages = load_pages(library)
    assert len(pages) == 5
    assert sorted(pages["same_pages"]) == [1, 1, 1, 1, 2]
    assert len(load_pages(library, duplicates=True)) == 6
    assert len(load_panels(library)) == 20


def test_rough_and_inks_are_linked_and_the_inks_counted(library):
    rough = make_record("Roughs", 2, [2, 2], seed=2, content="rough 2", look=look(2, 45, 0.4))
    library.commit_book("Roughs", [rough])
    add_labels(library.place, [Label("stage", "rough", book="Roughs")], "Ada", AT)
    (link,) = link_same_pages(library)
    assert link.kind == OTHER_STAGE
    assert set(load_pages(library)["book"]) == {"Inks"}
    asked = load_pages(library, "stage = rough")
    assert list(asked["page_id"]) == [rough.ref.page_id]


def test_two_pages_on_the_same_grid_are_not_one(library):
    twin = make_record("Inks", 7, [2, 2], seed=3, content="other art", look=look(77))
    library.commit_book("Inks", [twin])
    assert find_links(library) == []


def test_two_like_pages_in_one_book_are_not_stages_of_each_other(library):
    twin = make_record("Inks", 7, [2, 2], seed=3, content="repeat", look=look(3, 45))
    library.commit_book("Inks", [twin])
    assert find_links(library) == []


def test_without_pictures_only_an_uncommon_arrangement_links(tmp_path):
    library = Library.create(tmp_path / "blind")
    library.commit_book("A", [make_record("A", 1, [2, 3], seed=1), make_record("A", 2, [1, 2])])
    library.commit_book("B", [make_record("B", 1, [2, 3], seed=5), make_record("B", 2, [1])])
    library.commit_book("A2", [make_record("A2", 7, [3, 3])])
    library.commit_book("B2", [make_record("B2", 7, [3, 3])])
    library.commit_book("C2", [make_record("C2", 7, [3, 3])])
    links = find_links(library)
    assert len(links) == 1
    assert links[0].kind == OTHER_STAGE


def test_a_person_has_the_last_word(library):
    again = make_record("Inks", 9, [2, 2], seed=3, content="rescan", look=look(3, noise=4))
    library.commit_book("Inks", [again])
    add_labels(library.place, [Label("same-page", "none", page_id=again.ref.page_id)], "Ada", AT)
    assert link_same_pages(library) == []
    pages = load_pages(library, duplicates=True)
    one, other = pages["page_id"].iloc[0], pages["page_id"].iloc[1]
    add_labels(library.place, [Label("same-page", other, page_id=one)], "Ada", AT)
    assert [link.kind for link in link_same_pages(library)] == ["by-hand"]
    assert len(load_pages(library)) == 5


def test_among_very_many_pages_the_same_links_are_found(library, monkeypatch):
    again = make_record("Other", 9, [2, 2], seed=3, content="rescan", look=look(3, noise=4))
    rough = make_record("Roughs", 2, [2, 2], seed=2, content="rough 2", look=look(2, 45, 0.4))
    library.commit_book("Other", [again])
    library.commit_book("Roughs", [rough])
    slow = find_links(library)
    monkeypatch.setattr(page_pairs, "MOST_COMPARED", 3)
    assert find_links(library) == slow
    assert sorted(link.kind for link in slow) == [OTHER_STAGE, SAME_SCAN]


def test_a_rough_that_looks_like_nothing_is_known_by_its_panels_and_labels(library):
    """Roughs on the same plain grid as every page: number and stage tell them apart."""
    roughs = [
        make_record("Roughs", n, [2, 2], seed=n + 50, content=f"rough {n}", look=look(n + 500))
        for n in range(1, 6)
    ]
    library.commit_book("Roughs", roughs)
    assert find_links(library) == []
    labels = [Label("stage", "rough", book="Roughs"), Label("stage", "inks", book="Inks")]
    add_labels(library.place, labels, "Ada", AT)
    links = find_links(library)
    numbers = dict(
        zip(*(library.pages()[n].to_pylist() for n in ("page_id", "page_number")), strict=True)
    )
    assert len(links) == 5
    assert all(numbers[k.page_a] == numbers[k.page_b] for k in links)
    assert {k.kind for k in links} == {OTHER_STAGE}


def test_the_other_pages_of_a_group_are_told(library):
    from panelscan.corpus.page_links import linked_with

    first = make_record("Inks", 1, [2, 2], seed=1, look=look(1)).ref.page_id
    again = make_record("Scans", 1, [2, 2], seed=1, look=look(1, noise=4.0), detector="x")
    library.commit_book("Scans", [again])
    assert linked_with(library, first) == ()
    link_same_pages(library)
    assert linked_with(library, first) == (again.ref.page_id,)
    assert linked_with(library, again.ref.page_id) == (first,)
