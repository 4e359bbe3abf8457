"""A figure with its uncertainty: the unit in which every habit is stated."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

SMALL_SAMPLE = 20
Z_90, Z_99 = 1.6449, 2.5758


@dataclass(frozen=True, slots=True)
class Figure:
    """One number about an artist's pages.

    Parameters
    ----------
    key : str
        Stable machine name, e.g. ``"panels_per_page_mean"``.
    title : str
        What it says, for a person.
    value : float
        Best estimate; NaN where there is nothing to measure.
    low, high : float
        Ends of the 90 % interval (sampling of pages and doubt of detection together).
    unit : str
        ``""``, ``"mm"``, ``"%"``, ``"deg"`` …
    count : int
        Pages, panels or gutters that it rests on.
    note : str
        What a reader should know, e.g. that the sample is small.
    """

    key: str
    title: str
    value: float
    low: float
    high: float
    unit: str = ""
    count: int = 0
    note: str = ""

    @property
    def is_known(self) -> bool:
        """Whether there was anything to measure."""
        return bool(np.isfinite(self.value))

    @property
    def is_small(self) -> bool:
        """Whether it rests on too few pages or panels to say much."""
        return self.count < SMALL_SAMPLE

    def text(self) -> str:
        """The value with its interval, e.g. ``5.3 (5.0 to 5.6)``."""
        if not self.is_known:
            return "not known"
        size = max(abs(self.value), abs(self.high) if np.isfinite(self.high) else 0.0)
        digits = 0 if size >= 100 else 1 if size >= 10 else 2 if size >= 0.1 or size == 0 else 3
        unit = f" {self.unit}" if self.unit else ""
        body = f"{self.value:.{digits}f}{unit}"
        if not np.isfinite(self.low):
            return body
        return f"{body} ({self.low:.{digits}f} to {self.high:.{digits}f})"

    def as_row(self) -> dict[str, Any]:
        """The figure as a row of a table."""
        return asdict(self)


def differs(one: Figure, other: Figure) -> bool:
    """Whether two figures stand apart by more than their uncertainty.

    The difference of two independent figures is taken as normal. Many figures are compared
    at once, so a difference must clear its 99 % interval, not the 90 % that is shown.
    """
    if not (one.is_known and other.is_known):
        return False
    half = np.hypot((one.high - one.low) / 2, (other.high - other.low) / 2)
    return bool(abs(one.value - other.value) > half * (Z_99 / Z_90))
