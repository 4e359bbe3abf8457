"""Identities and names of many pages, kept small: ids as bytes, books as numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class PageNames:
    """Which pages these are.

    Parameters
    ----------
    ids : ndarray of bytes, shape (G,)
        Page ids, ASCII.
    book : ndarray of int, shape (G,)
        Place in `books`; -1 where a page has a plain name instead.
    number : ndarray of int, shape (G,)
        Page number, or place in `books` of the plain name.
    books : tuple of str
        Names of books, and plain names.

    Examples
    --------
    >>> pages = PageNames.of(["ab12"], ["Salt, page 3"])
    >>> pages.id(0), pages.name(0)
    ('ab12', 'Salt, page 3')
    """

    ids: np.ndarray
    book: np.ndarray
    number: np.ndarray
    books: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.ids)

    @classmethod
    def of(cls, ids: Sequence[str], names: Sequence[str] | None = None) -> PageNames:
        """Pages with plain names (the ids themselves where there are none)."""
        plain = tuple(names if names is not None else ids)
        return cls(
            ids=np.array([i.encode() for i in ids] or [], dtype="S"),
            book=np.full(len(ids), -1),
            number=np.arange(len(ids)),
            books=plain,
        )

    def id(self, index: int) -> str:
        """Page id."""
        return bytes(self.ids[index]).decode()

    def name(self, index: int) -> str:
        """How people call the page."""
        book, number = int(self.book[index]), int(self.number[index])
        return self.books[number] if book < 0 else f"{self.books[book]}, page {number}"

    def target(self, index: int) -> str:
        """The page as a command wants it: ``BOOK/NUMBER``, or its id where it has a plain name."""
        book = int(self.book[index])
        return f"{self.books[book]}/{int(self.number[index])}" if book >= 0 else self.id(index)

    def book_name(self, index: int) -> str:
        """Name of the page's book; empty where it has a plain name."""
        book = int(self.book[index])
        return self.books[book] if book >= 0 else ""

    def places(self, page_ids: Sequence[str]) -> np.ndarray:
        """Indices of those of `page_ids` that are among the pages, sorted."""
        if not len(page_ids) or not len(self):
            return np.arange(0)
        wanted = np.array([i.encode() for i in page_ids])
        return np.flatnonzero(np.isin(self.ids, wanted))

    def values(self, by_id: Mapping[str, float]) -> np.ndarray:
        """A number for each page, 0 where `by_id` has none; shape (G,)."""
        values = np.zeros(len(self))
        for place in self.places(list(by_id)):
            values[place] = by_id[self.id(int(place))]
        return values

    def taken(self, indices: np.ndarray) -> PageNames:
        """Only these pages, in this order."""
        return PageNames(self.ids[indices], self.book[indices], self.number[indices], self.books)
