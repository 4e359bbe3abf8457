"""Looking a library over: every file, hash, geometry and rule; what is broken, what to do."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import shapely

from panelscan.corpus import geoparquet
from panelscan.corpus import labels as labels_file
from panelscan.corpus.amend import UNSETTLED
from panelscan.corpus.books import Tables
from panelscan.corpus.commit import SUFFIX, Change, commit, pending_changes, read_journal
from panelscan.corpus.corrections import FOLDER as CORRECTIONS
from panelscan.corpus.corrections import read_log
from panelscan.corpus.pack_index import PREFIX, PackIndex, encode_index, pack_index, rebuilt_index
from panelscan.corpus.schema import SCHEMA_VERSION, TABLES, arrow_schema
from panelscan.corpus.standing import standing
from panelscan.corpus.storage import WORK, Place
from panelscan.corpus.store import Library
from panelscan.corpus.tables import about_file, book_file, read_parquet
from panelscan.corpus.view import is_table_file
from panelscan.errors import LibraryError

DAMAGED = "damaged"
SCAN_AGAIN = "Scan the book again: its pages are read anew, corrections and labels stay."
FROM_A_COPY = "Bring the file back from a copy; nothing can rebuild what a person said."
BY_ITSELF = "Nothing to do: the next scan or correction puts it right."


@dataclass(frozen=True)
class Fault:
    """Something wrong in a library.

    Parameters
    ----------
    file : str
        Path within the library.
    text : str
        What is wrong.
    remedy : str
        What to do.
    """

    file: str
    text: str
    remedy: str


@dataclass(frozen=True)
class Verification:
    """What a look over a library found."""

    files: int
    pages: int
    panels: int
    faults: tuple[Fault, ...]


def verify(library: Library, progress: Callable[[str], None] | None = None) -> Verification:
    """Look over every file of a library.

    Parameters
    ----------
    library : Library
        The library.
    progress : callable or None
        Told the name of each file before it is read.

    Returns
    -------
    Verification
        Each fault names a file, what is wrong, and whether it can be rebuilt.
    """
    place = library.place
    faults: list[Fault] = []
    seen: dict[str, str] = {}
    pages = panels = 0
    names = sorted({n for t in TABLES for n in place.names(t) if is_table_file(n)})
    for name in names:
        if progress is not None:
            progress(name)
        tables, own = _read(place, name)
        faults += own
        if len(tables) == len(TABLES):
            found = [
                *_cross_faults(tables),
                *_page_faults(tables["pages"]),
                *_panel_faults(tables),
                *_twice(tables["pages"], name, seen),
            ]
            faults += [Fault(f"*/{name}", text, SCAN_AGAIN) for text in found]
            pages += tables["pages"].num_rows
            panels += tables["panels"].num_rows
    faults += _pack_faults(place)
    faults += _correction_faults(place)
    faults += _label_faults(place)
    faults += _litter(place)
    return Verification(len(names) * len(TABLES), pages, panels, tuple(faults))


def _read(place: Place, name: str) -> tuple[Tables, list[Fault]]:
    """The three files of a book or pack, with what is wrong with each by itself."""
    tables: Tables = {}
    faults = []
    commits = set()
    for table in TABLES:
        path = f"{table}/{name}"
        try:
            data = place.read(path)
            rows = read_parquet(data)
        except FileNotFoundError:
            faults.append(Fault(path, "is missing, though its fellows are there", SCAN_AGAIN))
            continue
        except ValueError as error:
            faults.append(Fault(path, f"cannot be read: {error}", SCAN_AGAIN))
            continue
        if rows.schema.remove_metadata() != arrow_schema(table):
            faults.append(Fault(path, "has other columns than a library has", SCAN_AGAIN))
            continue
        about = about_file(rows.schema.metadata)
        commits.add(about.get("commit"))
        tables[table] = rows
        faults += [Fault(path, t, SCAN_AGAIN) for t in _file_faults(rows, table, about, name)]
    if len(tables) == len(TABLES) and len(commits) != 1:
        faults.append(Fault(f"*/{name}", "the tables are of different commits", SCAN_AGAIN))
    return tables, faults


def _file_faults(rows: pa.Table, table: str, about: Mapping[str, Any], name: str) -> Iterable[str]:
    if about.get("schema_version") != SCHEMA_VERSION:
        yield f"says it is of library version {about.get('schema_version')}"
    if about.get("table") != table:
        yield f"says it is a table of {about.get('table')}"
    books = set(pc.unique(rows["book"]).to_pylist())
    told = set(about.get("books") or [about.get("book")])
    if not books <= told:
        yield f"holds rows of {sorted(map(str, books - told))[0]}, which it does not name"
    if not name.startswith(PREFIX) and {book_file(str(b)) for b in told} != {name}:
        yield "is not named after its book"
    try:
        yield from geoparquet.faults(geoparquet.decode(rows.schema.metadata), rows)
        yield from _geometry_faults(rows, table)
    except ValueError as error:
        yield str(error)


def _geometry_faults(rows: pa.Table, table: str) -> Iterable[str]:
    for name, box in geoparquet.GEOMETRY_COLUMNS[table].items():
        shapes = geoparquet.shapes_of(rows[name])
        present = ~shapely.is_missing(shapes)
        if table != "gutters" and not present.all():
            yield f"{name}: {int((~present).sum())} outlines are missing"
        bad = int((~shapely.is_valid(shapes[present])).sum())
        if bad:
            yield f"{name}: {bad} outlines cross themselves or enclose nothing"
        if box is not None and present.any():
            bounds = shapely.bounds(shapes[present])
            told = rows[box].combine_chunks().filter(pa.array(present))
            sides = ("xmin", "ymin", "xmax", "ymax")
            stored = np.column_stack([told.field(n).to_numpy() for n in sides])
            if not np.allclose(bounds, stored, rtol=0, atol=1e-6):
                yield f"{box}: boxes do not fit their outlines"


def _cross_faults(tables: Tables) -> Iterable[str]:
    ids = tables["pages"]["page_id"].combine_chunks()
    if len(pc.unique(ids)) != len(ids):
        yield "pages: a page stands twice"
    for table in ("panels", "gutters"):
        stray = pc.invert(pc.is_in(tables[table]["page_id"], value_set=ids))
        if count := pc.sum(stray).as_py():
            yield f"{table}: {count} rows belong to no page"


def _page_faults(pages: pa.Table) -> Iterable[str]:
    for page_id, sha in zip(
        pages["page_id"].to_pylist(), pages["content_sha256"].to_pylist(), strict=True
    ):
        if not sha or not str(page_id).startswith(str(sha)[:20]):
            yield f"pages: {page_id} is not named after its content's hash"
    for name in ("confidence", "clarity", "direction_confidence"):
        if _outside(pages[name], 0.0, 1.0):
            yield f"pages: {name} leaves 0 to 1"
    for name in ("readings", "doubts", "alternative_orders", "settings", "measures"):
        if not all(_is_json(text) for text in pages[name].to_pylist()):
            yield f"pages: {name} is not JSON"
    known = pc.is_valid(pages["x_ppi"])
    if not pc.all(pc.equal(known, pc.is_valid(pages["width_mm"]))).as_py():
        yield "pages: lengths in mm without a resolution, or the other way round"


def _panel_faults(tables: Tables) -> Iterable[str]:
    pages, panels = tables["pages"], tables["panels"]
    if _outside(panels["confidence"], 0.0, 1.0):
        yield "panels: confidence leaves 0 to 1"
    orders: dict[str, list[int]] = {}
    for page, order in zip(
        panels["page_id"].to_pylist(), panels["reading_order"].to_pylist(), strict=True
    ):
        orders.setdefault(page, []).append(order)
    counts = zip(pages["page_id"].to_pylist(), pages["panel_count"].to_pylist(), strict=True)
    for page, count in counts:
        if sorted(orders.get(page, [])) != list(range(1, count + 1)):
            yield f"panels: the reading order of {page} is not 1 to {count}"
    sides = pc.list_value_length(panels["side_states"])
    corners = pc.cast(panels["corner_count"], pa.int32())
    if pc.any(pc.and_(pc.greater(sides, 0), pc.not_equal(sides, corners))).as_py():
        yield "panels: a panel has not one side state per corner"


def _outside(column: Any, low: float, high: float) -> bool:
    bounds = pc.min_max(column).as_py()
    return bounds["min"] is not None and not low <= bounds["min"] <= bounds["max"] <= high


def _is_json(text: str | None) -> bool:
    try:
        json.loads(text or "null")
    except ValueError:
        return False
    return True


def _twice(pages: pa.Table, name: str, seen: dict[str, str]) -> Iterable[str]:
    for page in pages["page_id"].to_pylist():
        if page in seen and seen[page] != name:
            yield f"pages: {page} stands in {seen[page]} too"
        seen[page] = name


def _pack_faults(place: Place) -> Iterable[Fault]:
    try:
        told, real = pack_index(place), rebuilt_index(place)
    except (pa.ArrowException, OSError, ValueError):
        return
    if {k: sorted(v) for k, v in told.packs.items()} != {
        k: sorted(v) for k, v in real.packs.items()
    }:
        yield Fault("packs.json", "does not tell what lies in the packs", "Delete the file.")


def _correction_faults(place: Place) -> Iterable[Fault]:
    for name in sorted(place.names(CORRECTIONS)):
        path = f"{CORRECTIONS}/{name}"
        if not name.endswith(".jsonl") or name.startswith("."):
            continue
        try:
            log = read_log(place, name.removesuffix(".jsonl"))
            if log is not None:
                standing(log)
        except LibraryError as error:
            yield Fault(path, error.message, FROM_A_COPY)
        except (ValueError, KeyError, TypeError) as error:
            yield Fault(path, f"holds a page that cannot be: {error}", FROM_A_COPY)


def _label_faults(place: Place) -> Iterable[Fault]:
    for name in sorted(place.names(labels_file.FOLDER)):
        path = f"{labels_file.FOLDER}/{name}"
        if name.startswith(".") or not name.endswith(".parquet"):
            continue
        try:
            read_parquet(place.read(path)).cast(labels_file.SCHEMA)
        except (ValueError, pa.ArrowException) as error:
            yield Fault(path, f"cannot be read: {error}", FROM_A_COPY)


def _litter(place: Place) -> Iterable[Fault]:
    for name in place.names(WORK):
        if name.endswith(SUFFIX):
            yield _journal_fault(place, f"{WORK}/{name}")
    for name in place.names(WORK):
        if name.endswith(".part") and not pending_changes(place):
            yield Fault(f"{WORK}/{name}", "a killed writer left it behind", BY_ITSELF)
    for name in place.names(UNSETTLED):
        yield Fault(f"{UNSETTLED}/{name}", "a correction is not in the tables yet", BY_ITSELF)
    for table in TABLES:
        for name in place.names(table):
            if not is_table_file(name):
                yield Fault(
                    f"{table}/{name}",
                    "does not belong in a library",
                    "Move it away: other programs would stumble over it.",
                )


def _journal_fault(place: Place, path: str) -> Fault:
    try:
        read_journal(place, path)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        return Fault(path, f"cannot be used: {error}", "Delete it.")
    return Fault(path, "a saved change is not all in its place yet", BY_ITSELF)


def set_aside(library: Library, faults: Sequence[Fault]) -> list[str]:
    """Move damaged books out of the tables, so that they can be scanned again.

    Parameters
    ----------
    library : Library
        The library.
    faults : sequence of Fault
        From `verify`.

    Returns
    -------
    list of str
        Names of the books, as far as their files still tell; their files lie in
        ``damaged/`` from now on, and corrections and labels stay where they are.
    """
    place = library.place
    books = damaged_books(place, faults)
    names = sorted({f.file.rpartition("/")[2] for f in faults if f.remedy == SCAN_AGAIN})
    for name in names:
        with library.writing("setting damaged files aside"):
            writes, gone = {}, []
            for table in TABLES:
                with suppress(FileNotFoundError):
                    writes[f"{DAMAGED}/{table}-{name}"] = place.read(f"{table}/{name}")
                    gone.append(f"{table}/{name}")
            if name.startswith(PREFIX):
                rest = {k: b for k, b in pack_index(place).packs.items() if k != name}
                writes |= encode_index(PackIndex(rest))
            commit(place, Change(writes, tuple(gone)))
    return books


def damaged_books(place: Place, faults: Sequence[Fault]) -> list[str]:
    """Books that should be scanned again, as far as their files still tell."""
    books: set[str] = set()
    for fault in faults:
        if fault.remedy != SCAN_AGAIN:
            continue
        name = fault.file.rpartition("/")[2]
        for table in TABLES:
            try:
                data = pa.BufferReader(place.read(f"{table}/{name}"))
                about = about_file(pq.read_metadata(data).metadata)
            except (OSError, ValueError, pa.ArrowException):
                continue
            books |= set(about.get("books") or [about.get("book")])
    return sorted(b for b in books if b)
