"""One file of a table: rows to Parquet bytes and back, with all its metadata."""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

import panelscan
from panelscan.corpus import geoparquet
from panelscan.corpus.schema import SCHEMA_VERSION, TABLES, arrow_schema

KEY = b"panelscan"
ROW_GROUP_ROWS = 65_536


def book_file(book: str) -> str:
    """File name of a book: readable, and different for different books on every system.

    Parameters
    ----------
    book : str
        The book's name, any text.

    Returns
    -------
    str
        Lower-case letters, digits and hyphens only, with a part of the name's hash, so
        that ``Salt`` and ``salt`` do not meet on a drive that ignores case.

    Examples
    --------
    >>> book_file("Salt & Tin: Nº 1")
    'salt-tin-no-1-17cfab3588.parquet'
    >>> book_file("Salt").split("-")[0] == book_file("salt").split("-")[0]
    True
    """
    plain = unicodedata.normalize("NFKD", book).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-") or "book"
    exact = unicodedata.normalize("NFC", book).encode("utf-8", "surrogatepass")
    return f"{slug}-{hashlib.sha256(exact).hexdigest()[:10]}.parquet"


def empty_table(table: str) -> pa.Table:
    """A table of the library without rows."""
    return arrow_schema(table).empty_table()


def table_of(table: str, rows: Sequence[Mapping[str, Any]]) -> pa.Table:
    """Rows as an Arrow table with exactly the library's columns.

    Raises
    ------
    KeyError
        If a row lacks a column.
    ValueError
        If a row has a column that the library does not know.
    """
    names = [c.name for c in TABLES[table]]
    for row in rows:
        if unknown := set(row) - set(names):
            raise ValueError(f"no such columns in {table}: {sorted(unknown)}")
    data = {name: [row[name] for row in rows] for name in names}
    return pa.table(data, schema=arrow_schema(table))


def conformed(table: str, rows: pa.Table) -> pa.Table:
    """Rows with exactly the library's columns; those that an older file lacks are null.

    Raises
    ------
    ValueError
        If a column has another type.
    """
    schema = arrow_schema(table)
    columns = [
        rows[field.name] if field.name in rows.column_names else pa.nulls(rows.num_rows, field.type)
        for field in schema
    ]
    try:
        return pa.Table.from_arrays(columns, names=schema.names).cast(schema)
    except pa.ArrowException as error:
        raise ValueError(str(error).splitlines()[0][:200]) from error


def to_bytes(table: str, rows: pa.Table, told: Mapping[str, Any]) -> bytes:
    """Parquet file of a table, with GeoParquet metadata and page checksums.

    Parameters
    ----------
    table : str
        ``"pages"``, ``"panels"`` or ``"gutters"``.
    rows : pyarrow.Table
        With the library's columns.
    told : mapping
        What the file says of itself beside its version, e.g. its book and commit.
    """
    rows = rows.select(arrow_schema(table).names).cast(arrow_schema(table))
    geo = geoparquet.make(rows, geoparquet.GEOMETRY_COLUMNS[table])
    about = {
        "schema_version": SCHEMA_VERSION,
        "table": table,
        "program": f"panelscan {panelscan.__version__}",
        **told,
    }
    metadata = {geoparquet.KEY: geoparquet.encode(geo), KEY: json.dumps(about).encode()}
    return write_parquet(rows.replace_schema_metadata(metadata))


def write_parquet(rows: pa.Table) -> bytes:
    """Parquet bytes of any table, as the library writes them."""
    sink = pa.BufferOutputStream()
    pq.write_table(
        rows,
        sink,
        compression="zstd",
        row_group_size=ROW_GROUP_ROWS,
        write_page_checksum=True,
        store_schema=True,
    )
    return bytes(sink.getvalue())


def read_parquet(data: bytes) -> pa.Table:
    """Table from Parquet bytes, every page's checksum verified.

    Raises
    ------
    ValueError
        If the bytes are not a whole, undamaged Parquet file.
    """
    try:
        with pq.ParquetFile(pa.BufferReader(data), page_checksum_verification=True) as file:
            return file.read()
    except (pa.ArrowException, OSError, ValueError, TypeError, KeyError) as error:
        raise ValueError(str(error).splitlines()[0][:200]) from error


def about_file(metadata: Mapping[bytes, bytes] | None) -> dict[str, Any]:
    """What a file says of itself; empty where it says nothing."""
    try:
        told = json.loads((metadata or {}).get(KEY, b"{}"))
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}
