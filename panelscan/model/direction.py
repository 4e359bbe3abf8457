"""Which way a book is read, how surely, and how that is known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from panelscan.model.page import ReadingDirection

_NOTE = "reading direction: "


class DirectionSource(StrEnum):
    """How a book's reading direction is known."""

    GIVEN = "given"
    FILE = "file"
    BOOK = "book"
    LETTERING = "lettering"
    PANELS = "panels"
    ASSUMED = "assumed"

    @property
    def words(self) -> str:
        """The same for people."""
        return _WORDS[self]


_WORDS = {
    DirectionSource.GIVEN: "as you said",
    DirectionSource.FILE: "the file itself says so",
    DirectionSource.BOOK: "as the book's other pages in the library",
    DirectionSource.LETTERING: "from where lettering starts in the panels",
    DirectionSource.PANELS: "from where tall panels and margins lie",
    DirectionSource.ASSUMED: "assumed, the pages do not tell",
}


@dataclass(frozen=True)
class JudgedDirection:
    """A book's reading direction.

    Parameters
    ----------
    direction : ReadingDirection
        Left-to-right unless clearly more speaks for the other.
    confidence : float
        Probability that it is right, 0 to 1; 1 only where a person gave it.
    source : DirectionSource
        What speaks for it most.

    Examples
    --------
    >>> judged = JudgedDirection(ReadingDirection.RTL, 0.99, DirectionSource.FILE)
    >>> judged.noted(["reading direction: assumed, the pages do not tell", "the page is torn"])
    ('the page is torn', 'reading direction: the file itself says so')
    """

    direction: ReadingDirection
    confidence: float
    source: DirectionSource

    def noted(self, notes: Iterable[str]) -> tuple[str, ...]:
        """Notes of a page with how its direction is known, in place of an older such note."""
        kept = [note for note in notes if not note.startswith(_NOTE)]
        return (*kept, _NOTE + self.source.words)

    def text(self, book: str) -> str:
        """One line for the end of a scan."""
        way = "right to left" if self.direction is ReadingDirection.RTL else "left to right"
        return f"{book}: read {way}, {self.source.words} ({self.confidence:.2f})"


def source_in(notes: Iterable[str]) -> DirectionSource | None:
    """How a page's notes say that its direction is known; None where they do not say.

    Examples
    --------
    >>> source_in(["the page is torn", "reading direction: the file itself says so"]).value
    'file'
    """
    told = {note.removeprefix(_NOTE) for note in notes if note.startswith(_NOTE)}
    return next((source for source in DirectionSource if source.words in told), None)
