"""The time, as the library writes it."""

from __future__ import annotations

import datetime


def now_utc() -> str:
    """UTC time, ISO 8601, to the millisecond."""
    now = datetime.datetime.now(datetime.UTC)
    return now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
