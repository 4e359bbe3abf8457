"""One book during a scan: what is listed, known, read; then its direction, numbers, commit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from panelscan.corpus.known import KnownPages
from panelscan.corpus.store import KnownPage, Library, PagePlace
from panelscan.intake.files import identity, is_address
from panelscan.intake.sources import SourcePage
from panelscan.layout.direction import judge_direction
from panelscan.model.direction import DirectionSource, JudgedDirection
from panelscan.model.outline import Outline
from panelscan.model.page import PagePart, PageRef, ReadingDirection
from panelscan.model.record import PageFailure, PageRecord
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.stages import laid_out

_Half = TypeVar("_Half", PageRecord, KnownPage)

WIDE, LIKE = 1.6, 0.15
"""A whole image this much wider than the book's usual page, and as high, is a spread."""


@dataclass
class Slot:
    """One source image of a book, in its place.

    Parameters
    ----------
    page : SourcePage
        What was listed.
    known : tuple of KnownPage
        Where the library holds it unchanged: itself or its halves, left first.
    records : tuple of PageRecord
        What was read anew.
    sha256 : str
        Hash of its content, where it was asked for before reading.
    is_left_out : bool
        The same content stands elsewhere; its place still counts as a page.
    failure : PageFailure or None
        Why it could not be read.
    """

    page: SourcePage
    known: tuple[KnownPage, ...] = ()
    records: tuple[PageRecord, ...] = ()
    sha256: str = ""
    is_left_out: bool = False
    failure: PageFailure | None = None

    @property
    def page_ids(self) -> tuple[str, ...]:
        """Identities of its pages."""
        return tuple(r.ref.page_id for r in self.records) or tuple(k.page_id for k in self.known)


@dataclass
class Book:
    """A book's images in order, and how many are still being read."""

    name: str
    slots: list[Slot] = field(default_factory=list)
    waiting: int = 0
    has_second_look: bool = False


@dataclass(frozen=True)
class FinishedBook:
    """A book ready to be committed."""

    name: str
    records: tuple[PageRecord, ...]
    places: dict[str, PagePlace]
    drop: frozenset[str]
    moved_from: frozenset[str]
    direction: JudgedDirection

    @property
    def has_changes(self) -> bool:
        """Whether anything would be written."""
        return bool(self.records or self.places or self.drop)


def finish_book(
    book: Book, known: Mapping[str, KnownPage], options: ScanOptions, held: ReadingDirection | None
) -> FinishedBook:
    """Direction, spreads, page numbers and reading order of a book.

    Parameters
    ----------
    book : Book
        All its images answered.
    known : mapping of page id to KnownPage
        What the library held before.
    options : ScanOptions
        Options of the scan.
    held : ReadingDirection or None
        Direction under which the library holds pages of this book.

    Returns
    -------
    FinishedBook
    """
    _mark_spreads(book)
    judged = _direction(book, options, held)
    direction = judged.direction
    records: list[PageRecord] = []
    places: dict[str, PagePlace] = {}
    moved_from: set[str] = set()
    number = 1
    for slot in book.slots:
        for record in _in_order(slot.records, direction):
            numbered = replace(record, book=book.name, page_number=number)
            records.append(_ordered(numbered, judged))
            number += 1
        for held_page in _in_order(slot.known, direction):
            place = PagePlace(slot.page.source_path, slot.page.index, number, slot.page.member)
            if _differs(held_page, place, book.name):
                places[held_page.page_id] = place
                moved_from.add(held_page.book)
            number += 1
        number += not slot.records and not slot.known
    fresh = {record.ref.page_id for record in records}
    moved_from |= {known[page_id].book for page_id in fresh if page_id in known}
    drop = _replaced(book, known, fresh)
    return FinishedBook(
        book.name, tuple(records), places, drop, frozenset(moved_from - {book.name}), judged
    )


def commit(library: Library, book: FinishedBook) -> tuple[str, ...]:
    """Save a finished book, whole or not at all.

    Returns
    -------
    tuple of str
        What was now found differently on pages that a person has put right; what the person
        said stands.
    """
    if not book.has_changes:
        return ()
    done = library.commit_book(
        book.name,
        book.records,
        places=book.places,
        drop=book.drop,
        moved_from=book.moved_from,
    )
    return tuple(told.text for told in done.disagreements)


def _in_order(halves: Sequence[_Half], direction: ReadingDirection) -> list[_Half]:
    """Halves of facing pages in the order they are read."""
    return list(halves) if direction is ReadingDirection.LTR else list(reversed(halves))


def _ordered(record: PageRecord, judged: JudgedDirection) -> PageRecord:
    record = replace(record, notes=judged.noted(record.notes))
    if record.direction is judged.direction:
        return replace(record, direction_confidence=judged.confidence)
    return laid_out(record, judged.direction, judged.confidence)


def _direction(book: Book, options: ScanOptions, held: ReadingDirection | None) -> JudgedDirection:
    if options.direction is not None:
        return JudgedDirection(options.direction, 1.0, DirectionSource.GIVEN)
    if held is not None and any(slot.known for slot in book.slots):
        # pages that stay keep their order; new ones follow them
        return JudgedDirection(held, 0.9, DirectionSource.BOOK)
    pages: list[list[Outline]] = []
    lettering: list[Sequence[Outline]] = []
    for slot in book.slots:
        pages += [[panel.outline for panel in r.finding.panels] for r in slot.records]
        lettering += [r.finding.balloons for r in slot.records]
        pages += [[] for _ in range(not slot.records)]
        lettering += [() for _ in range(not slot.records)]
    return judge_direction(pages, lettering, _said(book))


def _said(book: Book) -> ReadingDirection | None:
    """What the book's files say of its direction, where they agree."""
    said = {slot.page.said_direction for slot in book.slots} - {None}
    return said.pop() if len(said) == 1 else None


def _mark_spreads(book: Book) -> None:
    """Call a whole image a spread where the book's other pages say that it is two pages wide."""
    sizes = [_size(r) for slot in book.slots for r in slot.records]
    single = sorted(w / h for w, h in sizes if w < h)
    if len(single) < 3:
        return
    usual = single[len(single) // 2]
    for slot in book.slots:
        slot.records = tuple(_as_spread(record, usual) for record in slot.records)


def _as_spread(record: PageRecord, usual_aspect: float) -> PageRecord:
    width, height = _size(record)
    wide = width / height >= WIDE * usual_aspect
    like = abs(width / height / (2 * usual_aspect) - 1) <= LIKE
    if record.ref.part is PagePart.WHOLE and wide and like:
        x_min, _, x_max, _ = record.finding.frame.bounds
        finding = record.finding
        if finding.fold_x_px is None:
            finding = replace(finding, fold_x_px=(x_min + x_max) / 2)
        ref = replace(record.ref, part=PagePart.SPREAD)
        return laid_out(
            replace(record, ref=ref, finding=finding), record.direction, record.direction_confidence
        )
    return record


def _size(record: PageRecord) -> tuple[float, float]:
    return record.finding.frame.width, record.finding.frame.height


def _differs(page: KnownPage, place: PagePlace, book: str) -> bool:
    now = (place.source_path, place.source_index, place.page_number, book)
    return now != (page.source_path, page.source_index, page.page_number, page.book)


def _replaced(book: Book, known: Mapping[str, KnownPage], fresh: set[str]) -> frozenset[str]:
    """Pages of this book whose file and place now hold another content: drawn over since."""
    places = {(s.page.source_path, s.page.index) for s in book.slots if s.records}
    staying = fresh | {page.page_id for slot in book.slots for page in slot.known}
    held = known.of_book(book.name) if isinstance(known, KnownPages) else known.values()
    return frozenset(
        page.page_id
        for page in held
        if page.book == book.name
        and page.page_id not in staying
        and (page.source_path, page.source_index) in places
    )


def known_of(
    page: SourcePage, sha256: str, known: Mapping[str, KnownPage]
) -> tuple[KnownPage, ...]:
    """What the library holds of a source image: itself, or its halves, left first."""
    ref = PageRef(page.source_path, page.index, sha256, member=page.member)
    names = dict.fromkeys(replace(ref, part=part).page_id for part in PagePart)
    return tuple(known[name] for name in names if name in known)


def stands_elsewhere(page: SourcePage, held: KnownPage) -> bool:
    """Whether a known page lies in another book, in another file that is still in its place.

    A page whose old file is gone was moved, and follows its file into the new book.
    """
    if held.book == page.book or identity(held.source_path) == identity(page.source_path):
        return False
    return is_address(held.source_path) or Path(held.source_path).exists()
