"""Packs: many small books put together in one file a table, so that a library opens fast."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pyarrow as pa
import pyarrow.parquet as pq

from panelscan.corpus.commit import Change, commit
from panelscan.corpus.pack_index import PREFIX, PackIndex, encode_index, pack_index
from panelscan.corpus.schema import TABLES
from panelscan.corpus.storage import Place
from panelscan.corpus.tables import conformed, read_parquet, to_bytes
from panelscan.errors import LibraryError

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

MOST_PAGES = 4096


@dataclass(frozen=True)
class Compaction:
    """What a compaction did."""

    books: int
    packs: int
    files_before: int
    files_after: int


def compact(library: Library, most_pages: int = MOST_PAGES) -> Compaction:
    """Put small books together into packs.

    Parameters
    ----------
    library : Library
        The library.
    most_pages : int
        Pages that a pack may hold; larger books keep their own files.

    Returns
    -------
    Compaction

    Notes
    -----
    Each pack is one step: killed at any instant, a book is in its own files or in the pack.
    Another program that lists the folders in that instant may miss a book or see it twice,
    so compact when nothing else reads them; panelscan itself is never misled.
    """
    place = library.place
    packed = made = 0
    with library.writing("compacting"):
        before = len(place.names("pages"))
        for names in _batches(place, most_pages):
            _make_pack(place, names)
            packed, made = packed + len(names), made + 1
        after = len(place.names("pages"))
    return Compaction(packed, made, before, after)


def _batches(place: Place, most_pages: int) -> list[list[str]]:
    """File names of books to be put together, each batch within the limit."""
    batches: list[list[str]] = []
    names: list[str] = []
    pages = 0
    for name in sorted(place.names("pages")):
        if not name.endswith(".parquet") or name.startswith((PREFIX, ".", "_")):
            continue
        metadata = pq.read_metadata(pa.BufferReader(place.read(f"pages/{name}")))
        if metadata.num_rows > most_pages // 2:
            continue
        if pages + metadata.num_rows > most_pages:
            batches.append(names)
            names, pages = [], 0
        names.append(name)
        pages += metadata.num_rows
    return [b for b in [*batches, names] if len(b) > 1]


def _make_pack(place: Place, names: Sequence[str]) -> None:
    pack = f"{PREFIX}{uuid.uuid4().hex[:12]}.parquet"
    tables: dict[str, Any] = {}
    for table in TABLES:
        parts = []
        for name in names:
            try:
                parts.append(conformed(table, read_parquet(place.read(f"{table}/{name}"))))
            except FileNotFoundError:
                continue
            except ValueError as error:
                raise LibraryError(
                    f"{place.name}: {table}/{name} is damaged ({error}).",
                    "`panelscan info --verify` says what can be rebuilt.",
                ) from error
        tables[table] = pa.concat_tables(parts)
    books = sorted(set(tables["pages"]["book"].to_pylist()))
    told = {"books": books, "commit": uuid.uuid4().hex}
    index = PackIndex({**pack_index(place).packs, pack: tuple(books)})
    writes = {f"{table}/{pack}": to_bytes(table, rows, told) for table, rows in tables.items()}
    gone = tuple(f"{table}/{name}" for table in TABLES for name in names)
    commit(place, Change({**writes, **encode_index(index)}, gone))
