"""One page with all that is known of it: what the pipeline hands to the library."""

from __future__ import annotations

from dataclasses import dataclass, field

from panelscan.model.grid import Grid, PageLayout
from panelscan.model.page import PageRef, ReadingDirection
from panelscan.model.panel import PageFinding
from panelscan.model.units import Resolution

LOOK_ROWS = 24
LOOK_COLUMNS = 16


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
    look : bytes
        The page frame as a coarse gray picture of 24 rows by 16 columns, one byte a cell,
        row by row (mean gray of the cell, 0 black to 255 white); empty where it was not
        taken. By it the same page is known again in another scan or stage.
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
    look: bytes = b""

    def __post_init__(self) -> None:
        if len(self.look) not in (0, LOOK_ROWS * LOOK_COLUMNS):
            raise ValueError("a look has 24 rows of 16 cells")


@dataclass(frozen=True)
class PageFailure:
    """A page that could not be read, with the reason and what to do."""

    label: str
    reason: str
    remedy: str = ""
