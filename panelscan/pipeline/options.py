"""What a scan is asked to do: checked once, frozen, sent to every worker."""

from __future__ import annotations

from dataclasses import dataclass

from panelscan.errors import UsageError
from panelscan.intake.options import IntakeOptions, SpreadMode
from panelscan.model.formats import PageFormat
from panelscan.model.page import ReadingDirection

DEFAULT_PDF_DPI = 300.0


@dataclass(frozen=True)
class ScanOptions:
    """Options of a scan.

    Parameters
    ----------
    direction : ReadingDirection, str or None
        Which way the books are read; None or ``auto``: found out for each book.
    dpi : float or None
        Resolution of images whose file does not tell; PDF pages are drawn at it too.
    page_format : PageFormat or None
        The page that the images show, where neither file nor ``dpi`` tells a resolution.
    spreads : SpreadMode or str
        What to do with facing pages in one image.
    full_size_limit_px : int
        Long side up to which images are kept at full size.
    book : str
        Name for all pages given; empty: from folders and files.
    workers : int or None
        Processes; None: one per core; 0: none, all in this process (for tests).
    page_time_s : float
        A page that takes longer is given up.
    doubtful_below : float
        Pages below this confidence are called doubtful.
    second_look : bool
        Whether doubtful pages are looked at again with what the rest of the book says.
    again : bool
        Read unchanged pages too.
    cluster : str
        Address of a Dask scheduler, ``local`` for one started here, empty for none.

    Raises
    ------
    UsageError, ResolutionError
        If an option is out of range.

    Examples
    --------
    >>> ScanOptions(dpi=600).intake.pdf_dpi
    600
    """

    direction: ReadingDirection | None = None
    dpi: float | None = None
    page_format: PageFormat | None = None
    spreads: SpreadMode = SpreadMode.AUTO
    full_size_limit_px: int = 5200
    book: str = ""
    workers: int | None = None
    page_time_s: float = 120.0
    doubtful_below: float = 0.8
    second_look: bool = True
    again: bool = False
    cluster: str = ""

    def __post_init__(self) -> None:
        self._take_words()
        if self.workers is not None and not 0 <= self.workers <= 1024:
            raise UsageError("The number of workers is out of range.", "Give 1 to 1024.")
        if not 0.1 <= self.page_time_s <= 86_400:
            raise UsageError("The time limit of a page is out of range.", "Give seconds.")
        if not 0.0 <= self.doubtful_below <= 1.0:
            raise UsageError("A confidence lies from 0 to 1.", "Give e.g. 0.8.")
        _ = self.intake  # checks the rest

    def _take_words(self) -> None:
        """Plain words for direction and spreads become their types; ``auto`` is None."""
        try:
            direction = (
                None if self.direction in (None, "auto") else ReadingDirection(self.direction)
            )
            object.__setattr__(self, "direction", direction)
            object.__setattr__(self, "spreads", SpreadMode(self.spreads))
        except ValueError as error:
            raise UsageError(
                f"{error}.", "Directions: ltr, rtl, auto; spreads: auto, split, keep."
            ) from error

    @property
    def intake(self) -> IntakeOptions:
        """Options for reading one page."""
        return IntakeOptions(
            dpi=self.dpi,
            page_format=self.page_format,
            pdf_dpi=self.dpi or DEFAULT_PDF_DPI,
            spreads=SpreadMode(self.spreads),
            full_size_limit_px=self.full_size_limit_px,
        )

    @property
    def settings(self) -> dict[str, str]:
        """Options that a page's result depends on; a page scanned with others is read again."""
        intake = self.intake
        return {
            "direction": self.direction.value if self.direction else "auto",
            "dpi": f"{self.dpi:g}" if self.dpi else "",
            "full_size_limit_px": str(self.full_size_limit_px),
            "page_format": self.page_format.name if self.page_format else "",
            "pdf_dpi": f"{intake.pdf_dpi:g}",
            "spreads": intake.spreads.value,
        }
