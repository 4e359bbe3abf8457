"""The library: opening it, reading its tables, committing a book.

A library is a folder::

    panelscan-library.json     marks the folder, holds the schema's version
    pages/ panels/ gutters/    one Parquet file a book (or a pack of books): what stands now
    corrections/               one file a corrected page: every correction, and what it was
                               made against
    labels/                    what the artist says of pages and panels
    .work/                     files on their way; see `panelscan.corpus.commit`
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace

import pyarrow.compute as pc

from panelscan.corpus import view as views
from panelscan.corpus.amend import (
    PageState,
    as_scanned,
    correct,
    page_state,
    settle,
    with_corrections,
)
from panelscan.corpus.book_commit import BookCommit, merge_book
from panelscan.corpus.books import FilePlan, PagePlace, without_pages
from panelscan.corpus.clock import now_utc
from panelscan.corpus.commit import Change, commit, pending_changes, recover
from panelscan.corpus.known import KnownPage
from panelscan.corpus.labels import carried_labels
from panelscan.corpus.mark import MARK, is_library, make_library, version_of
from panelscan.corpus.migrations import migrate
from panelscan.corpus.schema import SCHEMA_VERSION
from panelscan.corpus.storage import Place, explained, place_of
from panelscan.corpus.table_reading import LibraryTables
from panelscan.errors import LibraryError, NothingFound
from panelscan.model.correction import Correction
from panelscan.model.record import PageRecord

__all__ = ["MARK", "BookCommit", "KnownPage", "Library", "PagePlace", "now_utc"]

WAIT_S = 120.0


class Library(LibraryTables):
    """A library of pages; make one with `open`, `create` or `open_or_create`.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     Library.create(folder).pages(columns=["page_id"]).num_rows
    0
    """

    def __init__(self, place: Place) -> None:
        self.place = place

    @classmethod
    def open(cls, path: str | os.PathLike[str]) -> Library:
        """Open a library, finishing what a killed writer had committed.

        Raises
        ------
        LibraryError
            If there is none.
        NewerLibraryError
            If a newer panelscan wrote it.
        """
        place = place_of(path)
        if version_of(place) < SCHEMA_VERSION:
            migrate(place, MARK)
        library = cls(place)
        library._recover_if_due()
        return library

    @classmethod
    def create(cls, path: str | os.PathLike[str]) -> Library:
        """Make a library in a new or empty place.

        Raises
        ------
        LibraryError
            If a library is there, or folders of other things that the library would use.
        """
        place = place_of(path)
        if is_library(place):
            raise LibraryError(f"{place.name} is a library already.", "Open it instead.")
        make_library(place, now_utc())
        return cls(place)

    @classmethod
    def open_or_create(cls, path: str | os.PathLike[str]) -> Library:
        """Open a library, or make one where there is none."""
        place = place_of(path)
        return cls.open(path) if is_library(place) else cls.create(path)

    def __repr__(self) -> str:
        return f"Library({self.place.name!r})"

    # Writing ------------------------------------------------------------------------

    def commit_book(
        self,
        book: str,
        records: Sequence[PageRecord],
        *,
        places: Mapping[str, PagePlace] | None = None,
        drop: Collection[str] = (),
        moved_from: Collection[str] = (),
    ) -> BookCommit:
        """Save a book's pages, all of them or none.

        Parameters
        ----------
        book : str
            The book.
        records : sequence of PageRecord
            New pages and pages scanned again; other pages of the book stay as they are.
        places : mapping of page id to PagePlace or None
            New whereabouts of pages that stay (renamed or moved files, other numbers).
        drop : collection of str
            Ids of pages to take out of the book.
        moved_from : collection of str
            Other books that these pages stood in: they leave those in the same step.

        Raises
        ------
        LibraryError
            If the disk is full or the folder cannot be written; the library is then as before.
        """
        if others := {r.book for r in records} - {book}:
            raise ValueError(f"pages of {sorted(others)} cannot be saved in {book!r}")
        at = now_utc()
        scanned = as_scanned(records, at)
        with self.writing(f"saving the book {book}"):
            plan = FilePlan(self.place, at)
            rescan = with_corrections(self.place, scanned, at)
            told = merge_book(plan, book, rescan.rows, places or {}, drop, moved_from)
            for other in plan.emptied:
                plan.writes |= carried_labels(self.place, other, book, at)
            commit(self.place, Change({**plan.writes, **rescan.logs}, tuple(plan.deletes)))
        return replace(told, disagreements=rescan.disagreements)

    def page(self, page_id: str, book: str | None = None) -> PageState:
        """A page as it stands, with what is needed to correct it.

        Parameters
        ----------
        page_id : str
            The page.
        book : str or None
            The page's book where it is known, which saves looking it up.

        Raises
        ------
        NothingFound
            If there is no such page.
        """
        with explained(self.place, "reading a page"):
            return page_state(self, page_id, book)

    def book_of(self, page_id: str) -> str:
        """Book of a page.

        Raises
        ------
        NothingFound
            If there is no such page.
        """
        here = pc.field("page_id") == page_id
        rows = self.reading(
            ("pages",),
            lambda view: views.read_table(self.place, view, "pages", ["book"], here),
            settled=False,
        )
        found = rows["book"].to_pylist()
        if not found:
            raise NothingFound(f"The library has no page {page_id}.")
        return str(found[0])

    def correct(
        self,
        page_id: str,
        correction: Correction,
        expected_revision: int,
        *,
        who: str,
        book: str | None = None,
        settled: bool = True,
    ) -> int:
        """Save one correction of a page; nothing can lose it once this returns.

        Parameters
        ----------
        page_id : str
            The page.
        correction : Correction
            What a person says; panels by their keys of `PageState`.
        expected_revision : int
            ``PageState.revision`` that the person looked at.
        who : str
            The person.
        book : str or None
            The page's book where it is known, which saves looking it up.
        settled : bool
            False to let the tables follow later (see `settle`), so that a person need not
            wait for a whole book to be written.

        Returns
        -------
        int
            The new revision.

        Raises
        ------
        ConflictError
            If someone else corrected the page meanwhile; nothing is changed.
        UsageError
            If the correction makes no sense on the page; nothing is changed.
        NothingFound
            If there is no such page.
        """
        return self.correct_together(
            page_id, [correction], expected_revision, who=who, book=book, settled=settled
        )

    def correct_together(
        self,
        page_id: str,
        corrections: Sequence[Correction],
        expected_revision: int,
        *,
        who: str,
        book: str | None = None,
        settled: bool = True,
        action: int | None = None,
    ) -> int:
        """Save corrections that a person made at once: all of them or none.

        Parameters
        ----------
        page_id, expected_revision, who, book, settled
            As for `correct`.
        corrections : sequence of Correction
            Each is made on what the one before it left.
        action : int or None
            First revision of an earlier action that these belong to; None: they are one.

        Returns
        -------
        int
            The new revision.

        Raises
        ------
        ConflictError, UsageError, NothingFound
            As for `correct`; nothing is changed.
        """
        revision = correct(
            self, page_id, corrections, expected_revision,
            who=who, at=now_utc(), book=book, action=action,
        )
        if settled:
            self.settle()
        return revision

    def settle(self) -> int:
        """Bring the tables up to the corrections on record.

        Returns
        -------
        int
            Number of pages whose rows were made anew.
        """
        with self.writing("settling corrections"):
            return settle(self, now_utc())

    def forget_book(self, book: str) -> int:
        """Take a book's pages out of the library; corrections and labels stay on record.

        Returns
        -------
        int
            How many pages left.

        Raises
        ------
        NothingFound
            If there is no such book.
        """
        with self.writing(f"forgetting the book {book}"):
            plan = FilePlan(self.place, now_utc())
            held = plan.read(book)
            if not held["pages"].num_rows:
                raise NothingFound(f"{self.place.name} has no book {book!r}.")
            plan.put(book, without_pages(held, held["pages"]["page_id"].to_pylist()))
            commit(self.place, Change(plan.writes, tuple(plan.deletes)))
        return int(held["pages"].num_rows)

    @contextmanager
    def writing(self, deed: str) -> Iterator[None]:
        """Be the only writer, after finishing what a killed one had committed.

        Parameters
        ----------
        deed : str
            What is being done, for messages.
        """
        with explained(self.place, deed), self.place.lock(WAIT_S):
            recover(self.place)
            yield

    def _settle_if_free(self) -> None:
        """Settle corrections, unless another writer is at work or the folder is read-only."""
        with suppress(OSError), self.place.lock(0.0):
            recover(self.place)
            settle(self, now_utc())

    def _recover_if_due(self) -> None:
        with explained(self.place, "opening the library"):
            if not pending_changes(self.place):
                return
        with suppress(OSError), self.place.lock(0.0):
            recover(self.place)  # else readers look through the journal until someone may
