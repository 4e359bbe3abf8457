"""Links between pages that are the same one, as they are kept: ``links/links.parquet``.

A page of a linked group stands beside the one that is counted for all of them. Which pages
are the same one is found in `panelscan.corpus.sameness`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.tables import read_parquet

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

PATH = "links/links.parquet"
SCHEMA = pa.schema(
    [
        ("page_id", pa.string()),
        ("counted", pa.string()),
        ("kind", pa.string()),
        ("look", pa.float64()),
        ("distance_share", pa.float64()),
    ]
)
SAME_SCAN, OTHER_STAGE, BY_HAND = "same-scan", "other-stage", "by-hand"
Rank = tuple[int, int, str, str]


@dataclass(frozen=True)
class Link:
    """Two pages that are the same one.

    Parameters
    ----------
    page_a, page_b : str
        Their ids.
    kind : str
        ``same-scan``, ``other-stage`` or ``by-hand``.
    look : float
        Correlation of their pictures, NaN where one has none.
    distance_share : float
        Mean distance of their panels' box sides, in shares of the page.
    """

    page_a: str
    page_b: str
    kind: str
    look: float
    distance_share: float


def links_of(library: Library) -> pa.Table:
    """Links kept; columns of ``SCHEMA``, one row for each page that is not counted itself."""
    try:
        return read_parquet(library.place.read(PATH)).cast(SCHEMA)
    except (FileNotFoundError, ValueError, pa.ArrowException):
        return SCHEMA.empty_table()


def counted_once(pages: pa.Table, links: pa.Table) -> pa.Table:
    """Pages without those that stand for one that is there already.

    Parameters
    ----------
    pages : pyarrow.Table
        With a column ``page_id``.
    links : pyarrow.Table
        From `links_of`.

    Returns
    -------
    pyarrow.Table
        With a column ``same_pages``: how many pages each row stands for.
    """
    count = pages.num_rows
    if not links.num_rows or not count:
        return pages.append_column("same_pages", pa.array(np.ones(count, dtype=np.int32)))
    ids = pages["page_id"]
    place = pc.index_in(ids, value_set=links["page_id"].combine_chunks())
    head = pc.coalesce(links["counted"].take(place), ids)
    codes = head.combine_chunks().dictionary_encode().indices.to_numpy(zero_copy_only=False)
    is_head = pc.equal(head, ids).to_numpy(zero_copy_only=False)
    order = np.lexsort((np.arange(count), ~is_head, codes))
    first = np.concatenate([[True], np.diff(codes[order]) != 0])
    kept = np.sort(order[first])
    sizes = np.bincount(codes)[codes[kept]].astype(np.int32)
    return pages.take(kept).append_column("same_pages", pa.array(sizes))


def linked_with(library: Library, page_id: str) -> tuple[str, ...]:
    """Ids of the other pages that are the same one as a page, sorted."""
    links = links_of(library)
    heads = dict(zip(links["page_id"].to_pylist(), links["counted"].to_pylist(), strict=True))
    head = heads.get(page_id, page_id)
    group = {page for page, counted in heads.items() if counted == head} | {head}
    return tuple(sorted(group - {page_id}))


def counted_rows(links: Sequence[Link], ranks: Mapping[str, Rank]) -> list[dict[str, Any]]:
    """Rows of the links table: each page of a group beside the one with the least rank."""
    head: dict[str, str] = {}

    def top(page: str) -> str:
        while head.get(page, page) != page:
            page = head[page]
        return page

    best: dict[str, Link] = {}
    for link in links:
        if link.page_a not in ranks or link.page_b not in ranks:
            continue
        first, second = sorted((top(link.page_a), top(link.page_b)), key=ranks.__getitem__)
        head[second] = first
        for page in (link.page_a, link.page_b):
            best.setdefault(page, link)
    return [
        {
            "page_id": page,
            "counted": top(page),
            "kind": link.kind,
            "look": link.look,
            "distance_share": link.distance_share,
        }
        for page, link in sorted(best.items())
        if top(page) != page
    ]
