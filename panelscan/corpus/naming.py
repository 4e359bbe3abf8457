"""What people call a page: its book, or the book that they labelled it with, and its number.

A label ``book`` stands in place of the book's own name wherever pages are named, so that
``ferry/3`` may be typed once it is read somewhere. Where two pages would then have one name,
the pages that own it keep it, and the labelled ones go by their own names.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.labels import PageLabels, labels_now

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

NAMED_BY = ("page_id", "book", "page_number")
LABEL = "book"


def shown_books(pages: pa.Table, labels: PageLabels) -> pa.ChunkedArray:
    """The book that each page is named by.

    Parameters
    ----------
    pages : pyarrow.Table, length N
        With ``page_id``, ``book`` and ``page_number``.
    labels : PageLabels
        What was said of them.

    Returns
    -------
    pyarrow.ChunkedArray of string, length N

    Examples
    --------
    >>> pages = pa.table({"page_id": ["a", "b"], "book": ["x", "x"], "page_number": [1, 2]})
    >>> labels = PageLabels({"book": {"b": "Ferry"}}, {}, pa.table({}))
    >>> shown_books(pages, labels).to_pylist()
    ['x', 'Ferry']
    """
    own = pages["book"]
    if LABEL not in labels.names:
        return own
    told = labels.column(LABEL, pages["page_id"], own)
    renamed = pc.fill_null(pc.not_equal(told, own), False)
    if isinstance(renamed, pa.ChunkedArray):
        renamed = renamed.combine_chunks()
    claims = Counter(zip(*_columns(told, pages["page_number"], renamed), strict=True))
    kept = pc.is_in(own, value_set=pc.unique(told.filter(renamed)))
    owned = set(zip(*_columns(own, pages["page_number"], _flat(kept)), strict=True))
    free = {name for name, count in claims.items() if count == 1 and name not in owned}
    names = zip(told.to_pylist(), pages["page_number"].to_pylist(), strict=True)
    may = pc.and_(renamed, pa.array([name in free for name in names], pa.bool_()))
    return pa.chunked_array([pc.if_else(may, told, _flat(own))])


def _flat(column: pa.Array | pa.ChunkedArray) -> pa.Array:
    return column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column


def _columns(
    books: pa.Array | pa.ChunkedArray, numbers: pa.ChunkedArray, among: pa.Array
) -> tuple[list[str], list[int]]:
    return _flat(books).filter(among).to_pylist(), _flat(numbers).filter(among).to_pylist()


def named_pages(library: Library) -> dict[tuple[str, int], str]:
    """Page id of every name, ``(book, number)``: own names first, then labelled ones."""
    pages = library.pages(columns=list(NAMED_BY))
    numbers, ids = pages["page_number"].to_pylist(), pages["page_id"].to_pylist()
    shown = shown_books(pages, labels_now(library.place)).to_pylist()
    names = dict(zip(zip(shown, numbers, strict=True), ids, strict=True))
    names.update(zip(zip(pages["book"].to_pylist(), numbers, strict=True), ids, strict=True))
    return names
