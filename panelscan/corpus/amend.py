"""Putting a page right: reading its state, saving a correction, settling the tables.

A correction is saved in two steps. First it goes on record in ``corrections/``, pushed to the
disk: from then on nothing can lose it, and `page_state` shows it. Then the rows of its book
are made anew from what is on record, which takes as long as writing a book; a person who is
correcting pages need not wait for that. A mark in ``unsettled/`` says which pages are due;
whatever reads the library's tables through panelscan, opens it, or ends a review settles them
first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from panelscan.corpus.books import FilePlan, joined, only_pages, tables_of, without_pages
from panelscan.corpus.commit import Change, commit
from panelscan.corpus.corrections import (
    FOLDER,
    Entry,
    PageLog,
    log_path,
    new_log,
    read_log,
    relocated_log,
    with_detection,
    with_entry,
)
from panelscan.corpus.restore import record_from_rows
from panelscan.corpus.rows import PageRows, rows_of
from panelscan.corpus.standing import (
    Disagreement,
    Standing,
    disagreement,
    replay,
    standing,
)
from panelscan.corpus.storage import Place
from panelscan.errors import ConflictError, NothingFound
from panelscan.model.correction import Correction
from panelscan.model.record import PageRecord

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

UNSETTLED = "unsettled"
Row = dict[str, Any]


@dataclass(frozen=True)
class PageState:
    """A page as it stands, for showing and correcting.

    Parameters
    ----------
    record : PageRecord
        The page.
    keys : tuple of str
        Keys of its panels in reading order: ``keys[k]`` names
        ``record.finding.panels[record.layout.order[k]]``.
    revision : int
        Number of corrections made so far; hand it back with the next one.
    reviewed : bool
        Whether a person called it fine.
    entries : tuple of Entry
        Every correction, oldest first, undone ones included.
    newest : PageRecord
        What the newest scan found.
    """

    record: PageRecord
    keys: tuple[str, ...]
    revision: int
    reviewed: bool
    entries: tuple[Entry, ...]
    newest: PageRecord


def page_state(library: Library, page_id: str, book: str | None = None) -> PageState:
    """A page as it stands; see `panelscan.corpus.store.Library.page`."""
    page, panels = _rows(library, page_id, book)
    log = _log(library.place, page_id, page, panels)
    now = standing(relocated_log(log, page))
    return PageState(
        now.record, now.keys, now.revision, now.reviewed, log.entries, log.detections[-1].record
    )


def _log(place: Place, page_id: str, page: Row, panels: list[Row]) -> PageLog:
    known = read_log(place, page_id)
    return known or new_log(record_from_rows(page, panels), str(page["scanned_at"]))


def _rows(library: Library, page_id: str, book: str | None) -> tuple[Row, list[Row]]:
    """Row of a page and rows of its panels, as last settled."""
    book = library.book_of(page_id) if book is None else book
    held = only_pages(FilePlan(library.place, "").read(book), [page_id])
    pages = held["pages"].to_pylist()
    if not pages:
        raise NothingFound(f"The library has no page {page_id} in {book}.")
    return pages[0], held["panels"].to_pylist()


def correct(
    library: Library,
    page_id: str,
    corrections: Sequence[Correction],
    expected_revision: int,
    *,
    who: str,
    at: str,
    book: str | None = None,
    action: int | None = None,
) -> int:
    """Put corrections on record, all or none; the tables follow when `settle` is called."""
    place = library.place
    book = library.book_of(page_id) if book is None else book
    with library.writing(f"correcting page {page_id}"):
        log = read_log(place, page_id)
        if log is None:
            page, panels = _rows(library, page_id, book)
            log = new_log(record_from_rows(page, panels), str(page["scanned_at"]))
        if log.revision != expected_revision:
            raise ConflictError(
                f"{log.detections[-1].record.ref.label}: the page was corrected meanwhile"
                f" (revision {log.revision}, not {expected_revision}).",
                "Load the page again, then make the correction on what stands now.",
            )
        first = log.revision + 1 if action is None else action
        for correction in corrections:
            log = with_entry(log, correction, who, at, first)
            replay(log, strict=log.revision)
        # The mark goes first: without a correction it does nothing, without it a correction
        # would wait for the next change of its book.
        place.write_quick(f"{UNSETTLED}/{mark_name(page_id)}", f"{page_id}\n{book}".encode())
        commit(place, Change({log_path(page_id): log.text.encode()}))
    return log.revision


def mark_name(page_id: str) -> str:
    """Name of the file that marks a page whose rows do not show its newest correction yet."""
    return log_path(page_id).rpartition("/")[2].removesuffix(".jsonl")


def settle(library: Library, at: str) -> int:
    """Bring the tables up to the corrections on record; the caller holds the lock.

    Returns
    -------
    int
        Number of pages whose rows were made anew.
    """
    place = library.place
    waiting = _waiting(library)
    plan = FilePlan(place, at)
    done = 0
    for book, page_ids in waiting.items():
        held = plan.read(book)
        here = only_pages(held, page_ids)
        made = []
        for page in here["pages"].to_pylist():
            log = read_log(place, page["page_id"])
            if log is not None:
                now = standing(relocated_log(log, page))
                made.append(_standing_rows(log, now, page["scanned_at"]))
        if made:
            gone = [rows.page["page_id"] for rows in made]
            plan.put(book, joined(without_pages(held, gone), tables_of(made)))
        done += len(made)
    marks = tuple(f"{UNSETTLED}/{name}" for name in place.names(UNSETTLED))
    if marks:
        commit(place, Change(plan.writes, (*plan.deletes, *marks)))
    return done


def _waiting(library: Library) -> dict[str, list[str]]:
    """Pages to settle, by the book that they are in now."""
    waiting: dict[str, list[str]] = {}
    for name in library.place.names(UNSETTLED):
        page_id, _, book = library.place.read(f"{UNSETTLED}/{name}").decode().partition("\n")
        held = FilePlan(library.place, "").read(book)["pages"]["page_id"].to_pylist()
        if page_id not in held:
            try:
                book = library.book_of(page_id)
            except NothingFound:
                continue
        waiting.setdefault(book, []).append(page_id)
    return waiting


def _standing_rows(log: PageLog, now: Standing, scanned_at: str) -> PageRows:
    rows = rows_of(now.record, scanned_at, reviewed=now.reviewed, revision=now.revision)
    rows.page["detection"] = log.detections[-1].id
    return rows


@dataclass(frozen=True)
class Rescan:
    """Rows of pages after a scan, with corrections on top."""

    rows: dict[str, PageRows]
    logs: dict[str, bytes]
    disagreements: tuple[Disagreement, ...]


def as_scanned(records: Iterable[PageRecord], at: str) -> dict[str, tuple[PageRecord, PageRows]]:
    """Rows of scanned pages by id; of two pages with the same content the first stands."""
    made: dict[str, tuple[PageRecord, PageRows]] = {}
    for record in records:
        if record.ref.page_id not in made:
            made[record.ref.page_id] = record, rows_of(record, at)
    return made


def with_corrections(
    place: Place, scanned: Mapping[str, tuple[PageRecord, PageRows]], at: str
) -> Rescan:
    """Rows of scanned pages with what a person put right on top."""
    rows: dict[str, PageRows] = {}
    logs: dict[str, bytes] = {}
    differing = []
    for page_id, (record, plain) in scanned.items():
        log = read_log(place, page_id)
        if log is None:
            rows[page_id] = plain
            continue
        longer = with_detection(log, record, at)
        if longer is not log:
            logs[log_path(page_id)] = longer.text.encode()
        now = standing(longer)
        rows[page_id] = _standing_rows(longer, now, at)
        if (told := disagreement(longer, now)) is not None:
            differing.append(told)
    return Rescan(rows, logs, tuple(differing))


def corrected_pages(library: Library) -> dict[str, PageLog]:
    """All that is on record, by page id; pages that have left the library included."""
    found: dict[str, PageLog] = {}
    for name in sorted(library.place.names(FOLDER)):
        if name.endswith(".jsonl") and not name.startswith("."):
            log = read_log(library.place, name.removesuffix(".jsonl"))
            if log is not None:
                found[log.detections[-1].record.ref.page_id] = log
    return found


def disagreements(library: Library) -> list[Disagreement]:
    """What the newest scans would say differently of corrected pages."""
    found = []
    for log in corrected_pages(library).values():
        told = disagreement(log, standing(log))
        if told is not None:
            found.append(told)
    return found
