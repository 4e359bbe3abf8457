"""How the review goes: reviewed so far, right at first sight, time left at this pace."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from panelscan.corpus.corrections import FOLDER, log_path, read_log
from panelscan.corpus.storage import FileMark
from panelscan.corpus.store import Library
from panelscan.errors import PanelscanError
from panelscan.review.first_sight import right_at_first_sight


class Pace:
    """How long the last pages took that a person looked at and called fine.

    Parameters
    ----------
    clock : callable
        Seconds that never run back.

    Notes
    -----
    The clock starts when the first page is opened. Whatever is asked of a page shows that the
    person is at work; where nothing is asked for long they are elsewhere, so of a long gap
    only `LONGEST_PAUSE_S` count. A page that was opened, left and called fine later has cost
    what was spent between. Only the last `MOST_PAGES` pages tell the pace, since the most
    doubtful ones, which come first, take longest.
    """

    LONGEST_PAUSE_S = 60.0
    MOST_PAGES = 40

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._last: float | None = None
        self._spent_s = 0.0
        self._pages: deque[float] = deque(maxlen=self.MOST_PAGES)
        self._lock = threading.Lock()

    def at_work(self) -> None:
        """Something was asked of a page."""
        with self._lock:
            self._count()

    def page_done(self) -> None:
        """A page was called fine."""
        with self._lock:
            self._count()
            self._pages.append(self._spent_s)
            self._spent_s = 0.0

    def page_undone(self) -> None:
        """A page is no longer called fine: what it took is not over yet."""
        with self._lock:
            self._count()
            if self._pages:
                self._spent_s += self._pages.pop()

    def _count(self) -> None:
        now = self._clock()
        if self._last is not None:
            self._spent_s += min(now - self._last, self.LONGEST_PAUSE_S)
        self._last = now

    def seconds_a_page(self) -> float | None:
        """Mean seconds a page; None before the first is done."""
        with self._lock:
            return sum(self._pages) / len(self._pages) if self._pages else None


class Progress:
    """Figures for the page's top line, kept so that asking for them costs little.

    Parameters
    ----------
    library : Library
        The library under review.
    pace : Pace
        How fast it goes.

    Notes
    -----
    Which pages are reviewed is read with every shelf and kept up to date with every change.
    Whether a page was right at first sight is found out once a page, from its corrections; in
    a library with very many reviewed pages this goes on over some calls (`MEASURE_S` each),
    and the share is that of the pages measured so far. Their ids are hashes of their content,
    so going by id is taking them by chance.
    """

    MEASURE_S = 0.2

    def __init__(self, library: Library, pace: Pace) -> None:
        self.pace = pace
        self._library = library
        self._reviewed: dict[str, bool] = {}
        self._right: dict[str, bool] = {}
        self._marks: dict[str, FileMark] = {}
        self._lock = threading.Lock()

    def read(self) -> None:
        """Read which pages are reviewed; what is known of pages changed since is forgotten."""
        table = self._library.pages(columns=["page_id", "reviewed"])
        told = zip(table["page_id"].to_pylist(), table["reviewed"].to_pylist(), strict=True)
        reviewed = {page_id: bool(value) for page_id, value in told}
        marks = self._library.place.names(FOLDER)
        with self._lock:
            kept = {p for p in self._right if self._marks.get(_file(p)) == marks.get(_file(p))}
            self._right = {p: self._right[p] for p in kept}
            self._reviewed, self._marks = reviewed, marks

    def changed(self, page_id: str, reviewed: bool) -> None:
        """A page was corrected; it counts as reviewed or not."""
        with self._lock:
            before = self._reviewed.get(page_id, False)
            self._reviewed[page_id] = reviewed
            self._right.pop(page_id, None)
        if reviewed and not before:
            self.pace.page_done()
        elif before and not reviewed:
            self.pace.page_undone()
        else:
            self.pace.at_work()

    def told(self, longest_s: float = MEASURE_S) -> dict[str, Any]:
        """The figures.

        Parameters
        ----------
        longest_s : float
            How long at most pages are measured that have not been yet.
        """
        if not self._reviewed:
            self.read()
        self._measure(longest_s)
        with self._lock:
            pages, done = len(self._reviewed), sum(self._reviewed.values())
            known = [self._right[p] for p, fine in self._reviewed.items()
                     if fine and p in self._right]
        each_s = self.pace.seconds_a_page()
        return {
            "pages": pages,
            "reviewed": done,
            "right_at_first_sight": round(sum(known) / len(known), 3) if known else None,
            "seconds_a_page": None if each_s is None else round(each_s, 1),
            "seconds_left": None if each_s is None else round((pages - done) * each_s, 1),
        }

    def _measure(self, longest_s: float) -> None:
        with self._lock:
            due = sorted(p for p, fine in self._reviewed.items() if fine and p not in self._right)
        end = time.monotonic() + longest_s
        for page_id in due:
            right = self._found(page_id)
            with self._lock:
                self._right[page_id] = right
            if time.monotonic() > end:
                return

    def _found(self, page_id: str) -> bool:
        try:
            log = read_log(self._library.place, page_id)
        except (PanelscanError, OSError):
            return False
        return log is not None and right_at_first_sight(log)


def _file(page_id: str) -> str:
    return log_path(page_id).rpartition("/")[2]
