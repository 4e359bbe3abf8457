"""How pages are read, and what reading gives."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from panelscan.errors import ResolutionError, UsageError
from panelscan.model.formats import PageFormat
from panelscan.model.page import PageImage, PageRef
from panelscan.model.units import LEAST_PPI, MOST_PPI


class SpreadMode(StrEnum):
    """What to do with facing pages in one image."""

    AUTO = "auto"
    SPLIT = "split"
    KEEP = "keep"


@dataclass(frozen=True)
class IntakeOptions:
    """How pages are read.

    Parameters
    ----------
    dpi : float or None
        Resolution of images whose file does not tell.
    page_format : PageFormat or None
        Page that the images show, where neither the file nor ``dpi`` tells a resolution.
    pdf_dpi : float
        Resolution at which a PDF page is drawn that is not one scanned image.
    spreads : SpreadMode
        What to do with facing pages in one image.
    full_size_limit_px : int
        Long side up to which images are kept at full size; larger ones are read reduced by
        2, 4 or 8. The default reads a 300 dpi 11 x 17 in board in full and halves one of
        600 dpi.

    Raises
    ------
    ResolutionError
        If no page has a resolution given here.
    UsageError
        If the limit is not at least 1000.
    """

    dpi: float | None = None
    page_format: PageFormat | None = None
    pdf_dpi: float = 300.0
    spreads: SpreadMode = SpreadMode.AUTO
    full_size_limit_px: int = 5200

    def __post_init__(self) -> None:
        for value in (self.dpi, self.pdf_dpi):
            if value is not None and not LEAST_PPI <= value <= MOST_PPI:
                raise ResolutionError(
                    f"No page has {value:g} dpi.",
                    f"Give a resolution from {LEAST_PPI:g} to {MOST_PPI:g}.",
                )
        if self.full_size_limit_px < 1000:
            raise UsageError("The full-size limit is too low to find panels.", "Give 1000 or more.")


@dataclass(frozen=True, eq=False)
class LoadedPage:
    """A page with its pixels.

    Parameters
    ----------
    ref : PageRef
        Which page, with the hash of its content.
    image : PageImage
        Its pixels.
    fold_x_px : float or None
        Where the fold of a spread that was kept whole lies, in source pixels.
    """

    ref: PageRef
    image: PageImage
    fold_x_px: float | None = None
