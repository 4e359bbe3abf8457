"""How the review goes: reviewed so far, right at first sight, time left at this pace."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from panelscan.corpus.accuracy import accuracy
from panelscan.corpus.store import Library


class Pace:
    """Pages put right since the start, and how long they took.

    Parameters
    ----------
    clock : callable
        Seconds that never run back.
    """

    LONGEST_PAUSE_S = 180.0

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._last = clock()
        self._spent_s = 0.0
        self._pages = 0

    def page_done(self) -> None:
        """A page was called fine."""
        now = self._clock()
        self._spent_s += min(now - self._last, self.LONGEST_PAUSE_S)
        self._last = now
        self._pages += 1

    def seconds_left(self, pages: int) -> float | None:
        """Seconds that `pages` more will take at this pace; None before the first is done."""
        if self._pages == 0:
            return None
        return pages * self._spent_s / self._pages


class Progress:
    """Figures for the page's top line, kept so that asking for them costs nothing.

    Parameters
    ----------
    library : Library
        The library under review.
    pace : Pace
        How fast it goes.

    Notes
    -----
    Which pages are reviewed is read with every shelf and kept up to date with every change.
    The share right at first sight compares every reviewed page with its detection, which
    takes long on a large library, so it is measured anew only now and then.
    """

    REST_S, REST_TIMES = 10.0, 20.0

    def __init__(self, library: Library, pace: Pace) -> None:
        self._library = library
        self._pace = pace
        self._reviewed: dict[str, bool] = {}
        self._right: float | None = None
        self._measured_at: float | None = None
        self._took_s = 0.0
        self._measured_done = -1
        self._measuring = threading.Lock()

    def read(self) -> None:
        """Read which pages are reviewed."""
        table = self._library.pages(columns=["page_id", "reviewed"])
        told = zip(table["page_id"].to_pylist(), table["reviewed"].to_pylist(), strict=True)
        self._reviewed = {page_id: bool(reviewed) for page_id, reviewed in told}

    def changed(self, page_id: str, reviewed: bool) -> None:
        """A page was corrected; it counts as reviewed or not."""
        if reviewed and not self._reviewed.get(page_id):
            self._pace.page_done()
        self._reviewed[page_id] = reviewed

    def told(self) -> dict[str, Any]:
        """The figures."""
        if not self._reviewed:
            self.read()
        pages, done = len(self._reviewed), sum(self._reviewed.values())
        self._measure(done)
        return {
            "pages": pages,
            "reviewed": done,
            "right_at_first_sight": self._right if done else None,
            "seconds_left": self._pace.seconds_left(pages - done),
        }

    def _measure(self, done: int) -> None:
        now = time.monotonic()
        rest_s = max(self.REST_S, self.REST_TIMES * self._took_s)
        rested = self._measured_at is None or now - self._measured_at > rest_s
        if not done or done == self._measured_done or not rested:
            return
        if self._measuring.acquire(blocking=False):
            try:
                found = accuracy(self._library)
                self._right = round(found.page_exact.value, 3) if found else None
                self._measured_done = done
                self._took_s = time.monotonic() - now
                self._measured_at = time.monotonic()
            finally:
                self._measuring.release()
