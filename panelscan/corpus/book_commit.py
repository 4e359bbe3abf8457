"""What saving a book changes: its new rows, those of the books that pages leave, the counts."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from panelscan.corpus.books import (
    FilePlan,
    PagePlace,
    joined,
    only_pages,
    relocated,
    tables_of,
    without_pages,
)
from panelscan.corpus.rows import PageRows
from panelscan.corpus.standing import Disagreement


@dataclass(frozen=True)
class BookCommit:
    """What a commit did: numbers of pages new, replaced, kept and dropped.

    ``disagreements`` tells what the scan found differently on pages that a person had put
    right; the corrections stand.
    """

    book: str
    added: int
    replaced: int
    kept: int
    dropped: int
    disagreements: tuple[Disagreement, ...] = ()


def merge_book(
    plan: FilePlan,
    book: str,
    fresh: Mapping[str, PageRows],
    places: Mapping[str, PagePlace],
    drop: Collection[str],
    moved_from: Collection[str],
) -> BookCommit:
    """Plan a book's new rows, and those of the books that pages leave."""
    held = plan.read(book)
    before = set(held["pages"]["page_id"].to_pylist())
    leaving = (before & set(drop)) - set(fresh)
    kept = relocated(without_pages(held, set(fresh) | leaving), places)
    parts = [kept, tables_of(list(fresh.values()))]
    for other in sorted(set(moved_from) - {book}):
        rows = plan.read(other)
        theirs = set(rows["pages"]["page_id"].to_pylist())
        coming = theirs & set(places) - set(fresh) - before
        parts.append(relocated(only_pages(rows, coming), places, book))
        if leavers := theirs & (coming | set(fresh) | before):
            plan.put(other, without_pages(rows, leavers))
    tables = joined(*parts)
    plan.put(book, tables)
    replaced = len(before & set(fresh))
    return BookCommit(
        book,
        added=tables["pages"].num_rows - len(before) + len(leaving),
        replaced=replaced,
        kept=len(before) - replaced - len(leaving),
        dropped=len(leaving),
    )
