"""How the review goes: reviewed so far, right at first sight, time left at this pace."""

from __future__ import annotations

import time
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

    def __init__(self, clock: Any = time.monotonic) -> None:
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


def how_it_goes(library: Library, pace: Pace) -> dict[str, Any]:
    """Figures for the page's top line."""
    reviewed = library.pages(columns=["reviewed"])["reviewed"].to_pylist()
    done = sum(1 for r in reviewed if r)
    measured = accuracy(library) if done else None
    return {
        "pages": len(reviewed),
        "reviewed": done,
        "right_at_first_sight": round(measured.page_exact.value, 3) if measured else None,
        "seconds_left": pace.seconds_left(len(reviewed) - done),
    }
