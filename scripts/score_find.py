"""Find the panels of a book's pages as a scan does: each page alone, then a second look."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from panelscan.demo.truth import PageTruth
from panelscan.intake.options import LoadedPage, SpreadMode
from panelscan.intake.sources import list_pages
from panelscan.layout.pages import lay_out
from panelscan.model.page import PageImage, PagePart, PageRef, ReadingDirection
from panelscan.model.panel import PageFinding
from panelscan.model.units import Resolution, ResolutionSource
from panelscan.pipeline.facing import parted
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.stages import find, load_parts

if TYPE_CHECKING:
    from panelscan.vision.book_prior import BookPrior


@dataclass(eq=False)
class Sheet:
    """A picture to find panels on, and what was found.

    Parameters
    ----------
    name : str
        For messages.
    truth : PageTruth
        Gives the resolution and the direction, as an artist would; finding uses no more of it.
    loaded : tuple of LoadedPage
        Whole page, or left and right half, as a scan would load them.
    parts : list of (PagePart, PageFinding)
        Whole page, or left and right half.
    seconds : float
        Time of all looks.
    error : str
        What went wrong, if anything did.
    """

    name: str
    truth: PageTruth
    loaded: tuple[LoadedPage, ...]
    parts: list[tuple[PagePart, PageFinding]] = field(default_factory=list)
    seconds: float = 0.0
    error: str = ""

    @property
    def picture(self) -> tuple[np.ndarray, float]:
        """The whole picture as decoded, and source pixels per pixel of it."""
        images = [part.image for part in self.loaded]
        return np.concatenate([i.pixels for i in images], axis=1), images[0].reduction

    def orders(self) -> list[tuple[int, ...]]:
        """Reading order of each part's panels, in the true direction."""
        direction = ReadingDirection(self.truth.direction)
        return [
            tuple(lay_out(f.panels, f.frame, direction, fold_x=f.fold_x_px).order)
            for _, f in self.parts
        ]


def find_book(sheets: list[Sheet], second_look: bool = True) -> None:
    """Find the panels of all pages of a book (in place); a crash is a page missed."""
    for sheet in sheets:
        sheet.parts = _timed(sheet, None)
    if not second_look or len(sheets) < 2:
        return
    from panelscan.vision.book_prior import learn_prior

    prior = learn_prior([f for s in sheets for _, f in s.parts])
    if not prior.pages:
        return
    limit = ScanOptions().doubtful_below
    for sheet in sheets:
        if any(f.confidence < limit for _, f in sheet.parts):
            again = _timed(sheet, prior)
            if [part for part, _ in again] == [part for part, _ in sheet.parts]:
                pairs = zip(sheet.parts, again, strict=True)
                sheet.parts = [b if b[1].confidence >= a[1].confidence else a for a, b in pairs]


def _timed(sheet: Sheet, prior: BookPrior | None) -> list[tuple[PagePart, PageFinding]]:
    start = time.perf_counter()
    try:
        return _look(sheet, prior)
    except Exception as error:  # not the end of the run
        sheet.error = f"{type(error).__name__}: {error}"
        print(f"{sheet.name}: {sheet.error}", file=sys.stderr)
        return []
    finally:
        sheet.seconds += time.perf_counter() - start


def _look(sheet: Sheet, prior: BookPrior | None) -> list[tuple[PagePart, PageFinding]]:
    return [(part.ref.part, find(part, prior)) for part in sheet.loaded]


def drawn_sheet(name: str, truth: PageTruth, pixels: np.ndarray) -> Sheet:
    """A picture in memory, parted at the fold as a scan would."""
    dpi = truth.dpi
    resolution = Resolution(dpi, dpi, ResolutionSource.FILE) if dpi else None
    image = PageImage(pixels, pixels.shape[1], pixels.shape[0], resolution=resolution)
    ref = PageRef(f"{name}.png", content_sha256="0" * 64)
    return Sheet(name, truth, parted(LoadedPage(ref, image), SpreadMode.AUTO))


def file_sheet(name: str, truth: PageTruth, path: Path) -> Sheet:
    """A page of a picture file or PDF, read as a scan would."""
    pages = list_pages([path]).pages
    page = pages[int(truth.extra.get("source_index", 0))]
    return Sheet(name, truth, load_parts(page, ScanOptions()))
