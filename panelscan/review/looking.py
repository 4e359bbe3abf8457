"""Looking at the library without changing it, and bringing its tables up to what was said.

A correction is on record the moment that it is answered; the tables of its book are written
anew later (see `panelscan.corpus.amend`). Reading a library through `Library` would do that
writing on the way. Here nothing that a browser asks by GET may write to the library, so what
is shown is read through `LookingLibrary`, and the writing is done by `CatchingUp`, which only
a change sets to work.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TypeVar

from panelscan.corpus.store import Library
from panelscan.corpus.view import View
from panelscan.errors import PanelscanError

T = TypeVar("T")


class LookingLibrary(Library):
    """A library as its files stand: reading it never writes to it."""

    def reading(
        self, tables: Sequence[str], read: Callable[[View], T], *, settled: bool = True
    ) -> T:
        """As in `Library`, but corrections that wait for the tables go on waiting."""
        return super().reading(tables, read, settled=False)


class CatchingUp:
    """Brings the tables up to the corrections on record, in a thread of its own.

    Parameters
    ----------
    library : Library
        The library.
    rest_s : float
        How long no change must come in before the tables are written, so that a person who
        mends a page does not wait for its book to be written again and again.
    """

    PATIENCE_S = 60.0

    def __init__(self, library: Library, rest_s: float = 2.0) -> None:
        self._library = library
        self._rest_s = rest_s
        self._told = threading.Condition()
        self._due = self._done = 0
        self._hurried = False
        self._thread: threading.Thread | None = None

    def due(self) -> None:
        """A change went on record."""
        with self._told:
            self._due += 1
            self._told.notify_all()
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, daemon=True)
                self._thread.start()

    def wait(self) -> None:
        """Wait until the tables show all that was due when this was called."""
        with self._told:
            wanted = self._due
            if self._done >= wanted:
                return
            self._hurried = True
            self._told.notify_all()
            self._told.wait_for(lambda: self._done >= wanted, self.PATIENCE_S)

    def _work(self) -> None:
        while True:
            with self._told:
                seen = -1
                while not self._hurried and seen != self._due:
                    seen = self._due
                    self._told.wait(self._rest_s)
                self._hurried = False
                seen = self._due
            # What cannot be written now (a full disk, another writer) stays marked as due in
            # the library, and is written after the next change or when the review ends.
            with suppress(PanelscanError, OSError):
                self._library.settle()
            with self._told:
                self._done = seen
                self._told.notify_all()
                if self._due == seen:
                    self._thread = None
                    return
