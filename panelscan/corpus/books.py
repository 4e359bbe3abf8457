"""The rows of one book: where they lie, read, changed, and as files to write.

A book has a file of its own in each table's folder, or lies with others in a pack, which
compaction makes (see `panelscan.corpus.packs`). A book in a pack that changes leaves it and
gets its own files again; the pack is written anew without it, in the same step. Packs have a
bounded size, so this takes the same time in every library.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.pack_index import PackIndex, encode_index, pack_index
from panelscan.corpus.rows import PageRows
from panelscan.corpus.schema import TABLES
from panelscan.corpus.storage import Place
from panelscan.corpus.tables import (
    book_file,
    conformed,
    empty_table,
    read_parquet,
    table_of,
    to_bytes,
)
from panelscan.errors import LibraryError

Tables = dict[str, pa.Table]


@dataclass(frozen=True)
class PagePlace:
    """Where a known page lies now, after files were renamed, moved or added."""

    source_path: str
    source_index: int
    page_number: int
    member: str = ""


@dataclass
class FilePlan:
    """Files that a change writes and removes, and the books that have no page left."""

    place: Place
    at: str
    writes: dict[str, bytes] = field(default_factory=dict)
    deletes: list[str] = field(default_factory=list)
    emptied: list[str] = field(default_factory=list)
    _index: PackIndex | None = None

    def read(self, book: str) -> Tables:
        """Rows of a book as they stand."""
        pack = self._packs().pack_of(book)
        if pack is None:
            return read_tables(self.place, book_file(book))
        held = read_tables(self.place, pack)
        return {t: rows.filter(pc.equal(rows["book"], book)) for t, rows in held.items()}

    def put(self, book: str, tables: Mapping[str, pa.Table]) -> None:
        """Write a book's rows; without pages, remove it."""
        self._leave_pack(book)
        name = book_file(book)
        if tables["pages"].num_rows:
            told = {"book": book, "commit": uuid.uuid4().hex, "written_at": self.at}
            for table, rows in tables.items():
                self.writes[f"{table}/{name}"] = to_bytes(table, in_order(table, rows), told)
        else:
            self.deletes += [f"{table}/{name}" for table in TABLES]
            self.emptied.append(book)

    def _packs(self) -> PackIndex:
        if self._index is None:
            self._index = pack_index(self.place)
        return self._index

    def _leave_pack(self, book: str) -> None:
        index = self._packs()
        pack = index.pack_of(book)
        if pack is None:
            return
        held = read_tables(self.place, pack)
        self._index = index.without(book)
        rest = self._index.books_in(pack)
        told = {"books": rest, "commit": uuid.uuid4().hex, "written_at": self.at}
        for table, rows in held.items():
            kept = rows.filter(pc.is_in(rows["book"], value_set=pa.array(rest, pa.string())))
            if rest:
                self.writes[f"{table}/{pack}"] = to_bytes(table, kept, told)
            else:
                self.deletes.append(f"{table}/{pack}")
        self.writes.update(encode_index(self._index))


def read_tables(place: Place, name: str) -> Tables:
    """The three tables of a file name; empty where there is no file.

    Raises
    ------
    LibraryError
        If a file is damaged; it names the file.
    """
    held = {}
    for table in TABLES:
        try:
            held[table] = conformed(table, read_parquet(place.read(f"{table}/{name}")))
        except FileNotFoundError:
            held[table] = empty_table(table)
        except ValueError as error:
            raise LibraryError(
                f"{place.name}: {table}/{name} is damaged ({error}).",
                "`panelscan info --verify` says what can be rebuilt.",
            ) from error
    return held


def tables_of(pages: Sequence[PageRows]) -> Tables:
    """Rows of pages as tables."""
    return {
        "pages": table_of("pages", [p.page for p in pages]),
        "panels": table_of("panels", [row for p in pages for row in p.panels]),
        "gutters": table_of("gutters", [row for p in pages for row in p.gutters]),
    }


def without_pages(held: Mapping[str, pa.Table], gone: Collection[str]) -> Tables:
    """Tables without the rows of some pages."""
    if not gone:
        return dict(held)
    ids = pa.array(sorted(gone), pa.string())
    return {
        table: rows.filter(pc.invert(pc.is_in(rows["page_id"], value_set=ids)))
        for table, rows in held.items()
    }


def only_pages(held: Mapping[str, pa.Table], wanted: Collection[str]) -> Tables:
    """Tables with only the rows of some pages."""
    ids = pa.array(sorted(wanted), pa.string())
    return {
        table: rows.filter(pc.is_in(rows["page_id"], value_set=ids)) for table, rows in held.items()
    }


def joined(*parts: Mapping[str, pa.Table]) -> Tables:
    """Tables laid end to end."""
    return {table: pa.concat_tables([p[table] for p in parts]) for table in TABLES}


def relocated(
    held: Mapping[str, pa.Table], places: Mapping[str, PagePlace], book: str | None = None
) -> Tables:
    """Tables with new whereabouts for the pages named, and perhaps a new book for all."""
    fields = {
        "source_path": "source_path",
        "source_index": "source_index",
        "source_member": "member",
        "page_number": "page_number",
    }
    moved = {}
    for table, rows in held.items():
        ids = rows["page_id"].to_pylist()
        if places and not places.keys().isdisjoint(ids):
            for column, attribute in fields.items():
                if column in rows.column_names:
                    rows = _renewed(rows, column, ids, places, attribute)
        if book is not None:
            k = rows.column_names.index("book")
            rows = rows.set_column(k, rows.field(k), pa.array([book] * len(ids), pa.string()))
        moved[table] = rows
    return moved


def _renewed(
    rows: pa.Table,
    column: str,
    ids: Sequence[str],
    places: Mapping[str, PagePlace],
    attribute: str,
) -> pa.Table:
    new: list[Any] = [
        getattr(places[i], attribute) if i in places else value
        for i, value in zip(ids, rows[column].to_pylist(), strict=True)
    ]
    k = rows.column_names.index(column)
    return rows.set_column(k, rows.field(k), pa.array(new, rows.field(k).type))


_ORDER = {
    "pages": ["page_number", "page_id"],
    "panels": ["page_number", "page_id", "reading_order"],
    "gutters": ["page_number", "page_id", "kind", "panel_a", "panel_b"],
}


def in_order(table: str, rows: pa.Table) -> pa.Table:
    """Rows in the order in which a book's file holds them."""
    return rows.sort_by([(name, "ascending") for name in _ORDER[table]])
