"""A scan: list, tell what is known, read in workers, put books together, save each whole."""

from __future__ import annotations

import json
import os
import time
from collections import Counter, deque
from collections.abc import Iterable, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from panelscan.corpus.sameness import link_same_pages
from panelscan.corpus.store import KnownPage, Library
from panelscan.errors import InputError, PanelscanError, UsageError
from panelscan.intake.files import head_of
from panelscan.intake.integrity import FileKind, kind_of
from panelscan.intake.names import printable
from panelscan.intake.options import SpreadMode
from panelscan.intake.sources import Listing, SourcePage, list_pages, probe_file
from panelscan.model.page import ReadingDirection
from panelscan.model.record import PageFailure, PageRecord
from panelscan.pipeline.books import Book, Slot, commit, finish_book, known_of, stands_elsewhere
from panelscan.pipeline.executors import open_executor
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.pool import available_cores
from panelscan.pipeline.progress import NoProgress, PageFate, Progress
from panelscan.pipeline.sheets import link_sheets, unpack_sheet
from panelscan.pipeline.stages import PageAnswer, answer_page, failure_of, identify, probe
from panelscan.pipeline.summary import BookDirection, DoubtfulPage, ScanSummary, SheetSummary

if TYPE_CHECKING:
    from panelscan.vision.book_prior import BookPrior

_IDENTIFIED_AT_ONCE = 8
_CLUSTER_WINDOW = 512
MOST_LINKED = 20_000
"""Pages of a library up to which the same pages are linked after each scan; it takes seconds."""


def scan(
    paths: Sequence[str | os.PathLike[str]],
    library_dir: str | os.PathLike[str],
    options: ScanOptions | None = None,
    progress: Progress | None = None,
) -> ScanSummary:
    """Read pages, find and order their panels, save them in a library.

    Parameters
    ----------
    paths : sequence of path
        Files, folders and patterns.
    library_dir : path
        Folder of the library; made where there is none.
    options : ScanOptions or None
        How.
    progress : Progress or None
        Told of every source image that is done.

    Returns
    -------
    ScanSummary
        A page that fails is in it by name and reason; it never stops the rest.

    Raises
    ------
    LibraryError
        If the library cannot be opened or written. Books saved before stay saved.

    Notes
    -----
    Books are saved in the order in which they were listed, each whole or not at all.
    """
    started = time.monotonic()
    options = options or ScanOptions()
    library = Library.open_or_create(library_dir)
    with open_executor(options) as executor:
        work = _Scan(executor, library, options, progress or NoProgress())
        summary = work.run(paths)
        if work.sheets:
            summary = summary.and_then(_scan_sheets(work, library_dir))
    if summary.books and len(work.known) + summary.pages <= MOST_LINKED:
        summary = replace(summary, same_pages=len(link_same_pages(library)))
    return replace(summary, seconds=time.monotonic() - started)


def _scan_sheets(work: _Scan, library_dir: str | os.PathLike[str]) -> ScanSummary:
    """Cut the thumbnail sheets that a scan met into cells, scan these, link them to grids."""
    sheets, failures = [], []
    for page in work.sheets:
        try:
            sheets.append(unpack_sheet(page, library_dir))
        except (InputError, UsageError) as error:
            failures.append(failure_of(page.label, error))
    options = replace(work.options, spreads=SpreadMode.KEEP, book="")
    cells = dict.fromkeys(str(sheet.cells[0].parent) for sheet in sheets)
    roughs = _Scan(work.executor, work.library, options, work.progress)
    told = roughs.run(list(cells)) if cells else ScanSummary()
    link_sheets(library_dir, sheets)
    names = tuple(
        SheetSummary(s.name, s.source, len(s.cells), bool(s.entries), s.notes) for s in sheets
    )
    return replace(told, sheets=names, failures=(*told.failures, *failures))


@dataclass
class _Job:
    """One source image to be read, first or again with what the book says."""

    book: Book
    slot: Slot
    prior: BookPrior | None = None


class _Scan:
    """One scan under way."""

    def __init__(
        self, executor: Executor, library: Library, options: ScanOptions, progress: Progress
    ) -> None:
        self.executor = executor
        self.library = library
        self.options = options
        self.progress = progress
        self.known = library.known_pages()
        self.directions = _held_directions(library) if self.known else {}
        self.queue: deque[_Job] = deque()
        self.pending: dict[Future[PageAnswer], _Job] = {}
        self.open_books: deque[Book] = deque()
        self.owners: dict[str, str] = {}
        self.failures: list[PageFailure] = []
        self.duplicates: list[tuple[str, str]] = []
        self.doubtful: list[DoubtfulPage] = []
        self.disagreements: list[str] = []
        self.directions_told: list[BookDirection] = []
        self.sheets: list[SourcePage] = []
        self.saved: list[str] = []
        self.counts: Counter[str] = Counter()

    def run(self, paths: Sequence[str | os.PathLike[str]]) -> ScanSummary:
        """List, read, save; the summary still without its time."""
        listing = list_pages(paths, self._probe, self.options.book)
        self.failures += listing.failures
        self.progress.begin(len(listing.pages))
        try:
            self._plan(listing.pages)
            self._read_all()
        finally:
            self.progress.end()
        return ScanSummary(
            books=tuple(self.saved),
            pages=self.counts["pages"],
            panels=self.counts["panels"],
            unchanged=self.counts["unchanged"],
            doubtful=tuple(self.doubtful),
            failures=tuple(self.failures),
            duplicates=tuple(self.duplicates),
            disagreements=tuple(self.disagreements),
            directions=tuple(self.directions_told),
            passed_over=listing.passed_over,
        )

    # Listing --------------------------------------------------------------------------

    def _probe(self, paths: Sequence[str]) -> Iterable[Listing]:
        """Open files; a PDF in a worker, since its library may crash on hostile bytes."""
        answers: list[Listing | Future[Listing]] = [
            self.executor.submit(probe, path) if _is_pdf(path) else probe_file(path)
            for path in paths
        ]
        for path, answer in zip(paths, answers, strict=True):
            if isinstance(answer, Listing):
                yield answer
                continue
            try:
                yield answer.result()
            except Exception as error:  # a dead worker costs this file, not the scan
                yield Listing(failures=(_failure(printable(path), error),))

    def _plan(self, pages: Sequence[SourcePage]) -> None:
        """Group the pages into books; queue those that must be read."""
        books: dict[str, Book] = {}
        hashes = self._identified(pages)
        for page, sha256 in zip(pages, hashes, strict=True):
            book = books.setdefault(page.book, Book(page.book))
            slot = Slot(page, sha256=sha256)
            book.slots.append(slot)
            if not self._is_settled(slot):
                book.waiting += 1
                self.queue.append(_Job(book, slot))
        self.open_books.extend(books.values())

    def _identified(self, pages: Sequence[SourcePage]) -> list[str]:
        """Content hashes, asked for only where the library holds something to compare with."""
        if not self.known:
            return [""] * len(pages)
        groups = [
            tuple(pages[k : k + _IDENTIFIED_AT_ONCE])
            for k in range(0, len(pages), _IDENTIFIED_AT_ONCE)
        ]
        futures = [self.executor.submit(identify, group, self.options) for group in groups]
        hashes: list[str] = []
        for group, future in zip(groups, futures, strict=True):
            try:
                hashes += future.result()
            except Exception:  # then these are read, and reading says what is wrong
                hashes += [""] * len(group)
        return hashes

    def _is_settled(self, slot: Slot) -> bool:
        """Whether a page need not be read: it is known and unchanged, or stands elsewhere."""
        held = known_of(slot.page, slot.sha256, self.known) if slot.sha256 else ()
        if not held:
            return False
        if elsewhere := [each for each in held if stands_elsewhere(slot.page, each)]:
            slot.is_left_out = True
            where = f"{elsewhere[0].book}, page {elsewhere[0].page_number}"
            self.duplicates.append((slot.page.label, where))
        elif self.options.again or not all(self._is_current(each) for each in held):
            return False
        else:
            slot.known = held
            self.counts["unchanged"] += len(held)
        self.progress.advance(slot.page.label, PageFate.UNCHANGED)
        return True

    def _is_current(self, page: KnownPage) -> bool:
        from panelscan.vision.detector import DETECTOR

        try:
            settings = json.loads(page.settings or "{}")
        except ValueError:
            return False
        return bool(page.detector == DETECTOR and settings == self.options.settings)

    # Reading --------------------------------------------------------------------------

    def _read_all(self) -> None:
        window = _CLUSTER_WINDOW if self.options.cluster else self._window()
        self._save_finished()
        while self.queue or self.pending:
            while self.queue and len(self.pending) < window:
                job = self.queue.popleft()
                future = self.executor.submit(answer_page, job.slot.page, self.options, job.prior)
                self.pending[future] = job
            done, _ = wait(self.pending, return_when=FIRST_COMPLETED)
            for future in done:
                self._receive(self.pending.pop(future), future)
            self._save_finished()

    def _window(self) -> int:
        """Pages handed out at a time: enough to keep all workers busy."""
        if self.options.workers == 0:
            return 1
        return 3 * (self.options.workers or available_cores())

    def _receive(self, job: _Job, future: Future[PageAnswer]) -> None:
        label = job.slot.page.label
        try:
            answer = future.result()
        except Exception as error:  # a dead worker costs its page, not the scan
            answer = PageAnswer(failure=_failure(label, error))
        job.book.waiting -= 1
        if answer.is_sheet:
            self.sheets.append(job.slot.page)
            job.book.slots[:] = [slot for slot in job.book.slots if slot is not job.slot]
            self.progress.advance(label, PageFate.READ)
            return
        if job.prior is not None:
            job.slot.records = _better(job.slot.records, answer.records)
            return
        job.slot.records = answer.records
        job.slot.failure = answer.failure
        self.progress.advance(label, PageFate.FAILED if answer.failure else PageFate.READ)

    # Books ----------------------------------------------------------------------------

    def _save_finished(self) -> None:
        """Save books from the front of the list, as far as all their pages are there."""
        while self.open_books and not self.open_books[0].waiting:
            book = self.open_books[0]
            if not book.has_second_look:
                book.has_second_look = True
                self._look_again(book)
                if book.waiting:
                    return
            self._save(self.open_books.popleft())

    def _look_again(self, book: Book) -> None:
        """Queue the doubtful pages of a book with what its other pages say."""
        from panelscan.vision.book_prior import learn_prior

        limit = self.options.doubtful_below
        doubtful = [s for s in book.slots if any(_is_doubtful(r, limit) for r in s.records)]
        if not doubtful or not self.options.second_look:
            return
        findings = [record.finding for slot in book.slots for record in slot.records]
        prior = learn_prior(findings)
        if not prior.pages:
            return
        book.waiting += len(doubtful)
        self.queue.extendleft(_Job(book, slot, prior) for slot in reversed(doubtful))

    def _save(self, book: Book) -> None:
        self.failures += [slot.failure for slot in book.slots if slot.failure]
        self._leave_out_duplicates(book)
        finished = finish_book(book, self.known, self.options, self.directions.get(book.name))
        self.disagreements += commit(self.library, finished)
        if finished.has_changes:
            self.saved.append(book.name)
        if finished.records:
            self.directions_told.append(BookDirection.of(book.name, finished.direction))
        self.counts["pages"] += len(finished.records)
        self.counts["panels"] += sum(len(r.finding.panels) for r in finished.records)
        self.doubtful += [
            _doubtful(record)
            for record in finished.records
            if _is_doubtful(record, self.options.doubtful_below)
        ]
        book.slots.clear()

    def _leave_out_duplicates(self, book: Book) -> None:
        """Of images with the same content the first listed stands."""
        for slot in book.slots:
            ids = slot.page_ids
            if ids and all(page_id in self.owners for page_id in ids):
                self.duplicates.append((slot.page.label, self.owners[ids[0]]))
                self.counts["unchanged"] -= len(slot.known)
                slot.records, slot.known, slot.is_left_out = (), (), True
            else:
                self.owners.update(dict.fromkeys(ids, slot.page.label))


def _is_pdf(path: str) -> bool:
    try:
        return kind_of(head_of(path)) is FileKind.PDF
    except PanelscanError:
        return False


def _failure(label: str, error: Exception) -> PageFailure:
    if isinstance(error, PanelscanError):
        return failure_of(label, error)
    reason = f"its worker was lost ({type(error).__name__})"
    return PageFailure(label, reason, "Scan it again; save the file anew if that fails too.")


def _held_directions(library: Library) -> dict[str, ReadingDirection]:
    """Direction under which most pages of each book are held."""
    rows = library.pages(columns=["book", "direction"]).to_pydict()
    votes: dict[str, Counter[Any]] = {}
    for book, direction in zip(rows["book"], rows["direction"], strict=True):
        votes.setdefault(book, Counter())[direction] += 1
    return {book: ReadingDirection(count.most_common(1)[0][0]) for book, count in votes.items()}


def _better(
    first: tuple[PageRecord, ...], second: tuple[PageRecord, ...]
) -> tuple[PageRecord, ...]:
    """Each page's surer look, where both looks saw the same pages."""
    if [r.ref for r in first] != [r.ref for r in second]:
        return first
    return tuple(
        b if b.finding.confidence >= a.finding.confidence else a
        for a, b in zip(first, second, strict=True)
    )


def _is_doubtful(record: PageRecord, limit: float) -> bool:
    return record.finding.confidence < limit


def _doubtful(record: PageRecord) -> DoubtfulPage:
    doubts = record.finding.doubts
    return DoubtfulPage(
        label=record.ref.label,
        page_id=record.ref.page_id,
        book=record.book,
        page_number=record.page_number,
        confidence=record.finding.confidence,
        reason=doubts[0].text if doubts else "",
    )
