"""One page with all that is known of it: what the pipeline hands to the library."""

from __future__ import annotations

from dataclasses import dataclass, field

from panelscan.model.grid import Grid, PageLayout
from panelscan.model.page import PageRef, ReadingDirection
from panelscan.model.panel import PageFinding
from panelscan.model.units import Resolution


@dataclass(frozen=True)
class PageRecord:
    """A scanned page, ready to be stored.

    Parameters
    ----------
    ref : PageRef
        Which page.
    book : str
        The book it belongs to (folder, PDF or archive name unless the artist says otherwise).
    page_number : int
        Place in the book, from 1.
    width_px, height_px : int
        Size of the upright source image.
    resolution : Resolution or None
        None where nobody knows; lengths in millimetres are then null.
    direction : ReadingDirection
        Direction used for the order.
    direction_confidence : float
        1.0 when given by the artist.
    finding : PageFinding
        Panels in source pixels.
    layout : PageLayout
        Order and measures; indices into ``finding.panels``, lengths in source pixels.
    grid : Grid
        The same panels in reading order in page-relative units (of the page frame).
    settings : dict
        Options that the result depends on.
    notes : tuple of str
        What was repaired or assumed while reading.
    """

    ref: PageRef
    book: str
    page_number: int
    width_px: int
    height_px: int
    resolution: Resolution | None
    direction: ReadingDirection
    direction_confidence: float
    finding: PageFinding
    layout: PageLayout
    grid: Grid
    settings: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class PageFailure:
    """A page that could not be read, with the reason and what to do."""

    label: str
    reason: str
    remedy: str = ""
