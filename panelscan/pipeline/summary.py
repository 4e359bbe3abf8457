"""What a scan did, for the closing words and the exit code."""

from __future__ import annotations

from dataclasses import dataclass, fields

from panelscan.errors import InputError, SomePagesFailed
from panelscan.model.direction import JudgedDirection
from panelscan.model.record import PageFailure

SURE = 0.65
"""Confidence of a book's direction below which a scan says so."""


@dataclass(frozen=True)
class DoubtfulPage:
    """A page that a person should look at.

    Parameters
    ----------
    label : str
        How messages name it.
    page_id : str
        Its identity in the library.
    book : str
        Its book.
    page_number : int
        Its place in the book, from 1.
    confidence : float
        Probability that it is right as a whole.
    reason : str
        First doubt, in words; empty where none is named.
    """

    label: str
    page_id: str
    book: str
    page_number: int
    confidence: float
    reason: str = ""


@dataclass(frozen=True)
class BookDirection:
    """Which way a book was read, and how that is known.

    Parameters
    ----------
    book : str
        Its name.
    direction : str
        ``"ltr"`` or ``"rtl"``.
    confidence : float
        Probability that it is right.
    source : str
        A `DirectionSource`.
    text : str
        All of it in one line.
    """

    book: str
    direction: str
    confidence: float
    source: str
    text: str

    @classmethod
    def of(cls, book: str, judged: JudgedDirection) -> BookDirection:
        """From what was judged of a book."""
        direction, source = str(judged.direction), str(judged.source)
        return cls(book, direction, judged.confidence, source, judged.text(book))

    @property
    def needs_a_look(self) -> bool:
        """Whether a person should be told without asking: not the usual way, or unsure."""
        return self.confidence < 1 and (self.direction == "rtl" or self.confidence < SURE)


@dataclass(frozen=True)
class SheetSummary:
    """A thumbnail sheet that was found among the pictures and read as roughs.

    Parameters
    ----------
    name : str
        The sheet's id as printed.
    label : str
        How messages name the photograph.
    roughs : int
        Thumbnails on it.
    linked : bool
        Whether the library has the grids on record that they were printed with.
    notes : tuple of str
        What is doubtful.
    """

    name: str
    label: str
    roughs: int
    linked: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ScanSummary:
    """What a scan did.

    Parameters
    ----------
    books : tuple of str
        Books that were saved.
    pages, panels : int
        Pages read and saved, and panels on them (halves of facing pages count each).
    unchanged : int
        Pages that the library held already, by content, settings and detector.
    doubtful : tuple of DoubtfulPage
        Saved pages below the confidence asked for.
    failures : tuple of PageFailure
        Files and pages that could not be read, by name and reason.
    duplicates : tuple of (str, str)
        Pages left out because their content stands elsewhere: name, and of what.
    same_pages : int
        Links between pages of the library that are another scan or stage of each other.
    disagreements : tuple of str
        What was found differently on pages that a person has put right, a sentence each;
        what the person said stands.
    passed_over : tuple of (str, int)
        Endings of files in folders that are no pages.
    sheets : tuple of SheetSummary
        Thumbnail sheets that were read as roughs.
    directions : tuple of BookDirection
        Which way each book was read.
    seconds : float
        How long it took.
    """

    books: tuple[str, ...] = ()
    pages: int = 0
    panels: int = 0
    unchanged: int = 0
    doubtful: tuple[DoubtfulPage, ...] = ()
    failures: tuple[PageFailure, ...] = ()
    duplicates: tuple[tuple[str, str], ...] = ()
    same_pages: int = 0
    disagreements: tuple[str, ...] = ()
    passed_over: tuple[tuple[str, int], ...] = ()
    sheets: tuple[SheetSummary, ...] = ()
    directions: tuple[BookDirection, ...] = ()
    seconds: float = 0.0

    def and_then(self, more: ScanSummary) -> ScanSummary:
        """Both summed up, the other coming after.

        Examples
        --------
        >>> ScanSummary(pages=2, books=("a",)).and_then(ScanSummary(pages=1, books=("b",))).pages
        3
        """
        joined = {f.name: getattr(self, f.name) + getattr(more, f.name) for f in fields(self)}
        return ScanSummary(**joined)

    @property
    def skipped(self) -> int:
        """Pages not read again: unchanged ones and duplicates."""
        return self.unchanged + len(self.duplicates)

    @property
    def exit_code(self) -> int:
        """0; 7 where some pages failed; 3 where all did.

        Examples
        --------
        >>> ScanSummary(pages=3, failures=(PageFailure("p4.png", "it is empty"),)).exit_code
        7
        """
        if not self.failures:
            return 0
        return SomePagesFailed.exit_code if self.pages or self.skipped else InputError.exit_code
