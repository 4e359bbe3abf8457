"""What the library holds at one moment: which files to read for each table.

A view looks through the journals of changes that are committed but not all renamed yet
(see `panelscan.corpus.commit`), so a reader sees each book before or after a change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, TypeVar

import pyarrow as pa
import pyarrow.dataset as ds

from panelscan.corpus.commit import pending_changes
from panelscan.corpus.schema import TABLES, arrow_schema
from panelscan.corpus.storage import WORK, FileMark, Place
from panelscan.errors import LibraryError

T = TypeVar("T")
_ATTEMPTS = 6
_DAMAGE = (pa.ArrowException, ValueError, TypeError, KeyError, OSError)


@dataclass(frozen=True)
class View:
    """Files of each table at one moment.

    Parameters
    ----------
    files : mapping
        Table -> file name -> path to read it from (in ``.work`` where a rename is pending).
    marks : mapping
        Table -> file name -> mark, to notice that a file was replaced.
    pending : tuple of str
        Journals seen.
    datasets : dict
        Datasets made so far, kept since each file's end is read only once for one of them.
    """

    files: Mapping[str, Mapping[str, str]]
    marks: Mapping[str, Mapping[str, FileMark]]
    pending: tuple[str, ...] = ()
    datasets: dict[str, ds.FileSystemDataset] = field(default_factory=dict, compare=False)


def look(place: Place, tables: Sequence[str] = tuple(TABLES)) -> View:
    """The files that stand now."""
    waiting = pending_changes(place)
    in_work = place.names(WORK) if waiting else {}
    files: dict[str, dict[str, str]] = {}
    marks: dict[str, dict[str, FileMark]] = {}
    for table in tables:
        known = {n: m for n, m in place.names(table).items() if is_table_file(n)}
        paths = {name: f"{table}/{name}" for name in known}
        for change in waiting:
            for source, target in change.moves.items():
                folder, _, name = target.rpartition("/")
                mark = in_work.get(source.rpartition("/")[2])
                if folder == table and mark is not None:
                    paths[name], known[name] = source, mark
            for target in change.deletes:
                folder, _, name = target.rpartition("/")
                if folder == table:
                    paths.pop(name, None)
                    known.pop(name, None)
        files[table], marks[table] = paths, known
    return View(files, marks, tuple(p.journal for p in waiting))


def is_table_file(name: str) -> bool:
    """Whether a file of a table's folder is part of the table."""
    return name.endswith(".parquet") and not name.startswith((".", "_"))


def consistently(place: Place, tables: Sequence[str], read: Callable[[View], T]) -> T:
    """Read from several files as if no one wrote in between.

    Parameters
    ----------
    place : Place
        Where the library lies.
    tables : sequence of str
        Tables that ``read`` reads.
    read : callable
        Gets a view, reads, returns the result; it may run several times.

    Notes
    -----
    Reads, then looks again: when nothing was replaced meanwhile the result stands, else it
    reads anew. Where writers leave no quiet moment, the last attempt takes the write lock.
    """
    for _ in range(_ATTEMPTS):
        before = look(place, tables)
        try:
            result = read(before)
        except (FileNotFoundError, LibraryError):
            if before == look(place, tables):
                raise
            continue
        if before.marks == look(place, tables).marks:
            return result
    with suppress(OSError), place.lock(30.0):
        return read(look(place, tables))
    return read(look(place, tables))


def dataset_of(place: Place, view: View, table: str) -> ds.FileSystemDataset:
    """Arrow dataset over a table's files; opens none of them yet."""
    if table in view.datasets:
        return view.datasets[table]
    filesystem = place.arrow_filesystem()
    # Bytes that have rotted on the disk are told of, not read as if they were text.
    checked = ds.ParquetFragmentScanOptions(page_checksum_verification=True)
    layout = ds.ParquetFileFormat(default_fragment_scan_options=checked)
    paths = view.files[table]
    fragments = [
        layout.make_fragment(place.full(paths[name]), filesystem=filesystem)
        for name in sorted(paths)
    ]
    view.datasets[table] = ds.FileSystemDataset(fragments, arrow_schema(table), layout, filesystem)
    return view.datasets[table]


def read_table(
    place: Place,
    view: View,
    table: str,
    columns: Sequence[str] | None = None,
    where: Any = None,
) -> pa.Table:
    """Rows of a table, only the columns and rows asked for.

    Raises
    ------
    LibraryError
        If a file is damaged; it names the file.
    FileNotFoundError
        If a file was replaced between looking and reading (`consistently` reads anew).
    """
    source = dataset_of(place, view, table)
    wanted = None if columns is None else list(columns)
    try:
        return source.to_table(columns=wanted, filter=where)
    except FileNotFoundError:
        raise
    except _DAMAGE as error:
        raise _named(place, view, table, error) from error


def read_batches(
    place: Place, view: View, table: str, columns: Sequence[str], rows: int = 400_000
) -> Iterator[pa.Table]:
    """Rows of a table in file order, a few hundred thousand at a time.

    Raises
    ------
    LibraryError
        If a file is damaged; it names the file.
    """
    source = dataset_of(place, view, table)
    waiting: list[pa.RecordBatch] = []
    count = 0
    try:
        for batch in source.to_batches(columns=list(columns), batch_readahead=4):
            waiting.append(batch)
            count += batch.num_rows
            if count >= rows:
                yield pa.Table.from_batches(waiting)
                waiting, count = [], 0
        if waiting:
            yield pa.Table.from_batches(waiting)
    except FileNotFoundError:
        raise
    except _DAMAGE as error:
        raise _named(place, view, table, error) from error


def count_rows(place: Place, view: View, table: str) -> int:
    """Number of rows of a table, from the ends of its files."""
    try:
        return int(dataset_of(place, view, table).count_rows())
    except FileNotFoundError:
        raise
    except _DAMAGE as error:
        raise _named(place, view, table, error) from error


def _named(place: Place, view: View, table: str, error: Exception) -> Exception:
    """The error again, naming the first file of the table that cannot be read."""
    for name, path in sorted(view.files[table].items()):
        single = View({table: {name: path}}, {table: {}})
        try:
            dataset_of(place, single, table).to_table()
        except FileNotFoundError as gone:
            return gone
        except _DAMAGE as fault:
            return LibraryError(
                f"{place.name}: {table}/{name} is damaged ({str(fault).splitlines()[0][:120]}).",
                "`panelscan info --verify` says what can be rebuilt; scanning that book again"
                " puts it right.",
            )
    return error
