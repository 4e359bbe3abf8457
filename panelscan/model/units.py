"""Lengths and their units: pixels per inch, millimetres, points, page-relative shares."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

MM_PER_INCH = 25.4
PT_PER_INCH = 72.0
LEAST_PPI = 20.0
MOST_PPI = 4800.0


class ResolutionSource(StrEnum):
    """Where a resolution is known from."""

    FILE = "file"
    PDF = "pdf"
    GIVEN = "given"
    PAGE_FORMAT = "page-format"


@dataclass(frozen=True, slots=True)
class Resolution:
    """Pixels per inch of a page image, x and y kept apart.

    Parameters
    ----------
    x_ppi, y_ppi : float
        Pixels per inch along x and y; both within 20 to 4800.
    source : ResolutionSource
        Where the figures come from.

    Raises
    ------
    ValueError
        If a figure is not finite or no scanner or printer has it.

    Examples
    --------
    >>> Resolution(300, 300).px_to_mm(300)
    25.4
    """

    x_ppi: float
    y_ppi: float
    source: ResolutionSource = ResolutionSource.GIVEN

    def __post_init__(self) -> None:
        for value in (self.x_ppi, self.y_ppi):
            if not math.isfinite(value) or not LEAST_PPI <= value <= MOST_PPI:
                raise ValueError(f"no page has {value} pixels per inch")

    @property
    def mean_ppi(self) -> float:
        """Geometric mean of both axes, in pixels per inch."""
        return math.sqrt(self.x_ppi * self.y_ppi)

    def px_to_mm(self, length_px: float) -> float:
        """Millimetres of a length in pixels that lies in no particular direction."""
        return length_px / self.mean_ppi * MM_PER_INCH

    def x_mm(self, length_px: float) -> float:
        """Millimetres of a length in pixels along x."""
        return length_px / self.x_ppi * MM_PER_INCH

    def y_mm(self, length_px: float) -> float:
        """Millimetres of a length in pixels along y."""
        return length_px / self.y_ppi * MM_PER_INCH

    def mm_to_px(self, length_mm: float) -> float:
        """Pixels of a length in millimetres that lies in no particular direction."""
        return length_mm * self.mean_ppi / MM_PER_INCH


def mm_to_pt(length_mm: float) -> float:
    """PDF points of a length in millimetres (1 in = 72 pt; ISO 32000 default user unit)."""
    return length_mm / MM_PER_INCH * PT_PER_INCH


def pt_to_mm(length_pt: float) -> float:
    """Millimetres of a length in PDF points."""
    return length_pt / PT_PER_INCH * MM_PER_INCH


def inch_to_mm(length_in: float) -> float:
    """Millimetres of a length in inches (1 in = 25.4 mm exactly)."""
    return length_in * MM_PER_INCH
