"""One page from file to record: the only place where reading, finding and layout meet."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from panelscan.errors import InputError, NothingFound, PanelscanError
from panelscan.intake.loading import content_sha256, load_whole
from panelscan.intake.options import LoadedPage
from panelscan.intake.sources import SourcePage, list_pages, probe_file
from panelscan.model.grid import Grid, PageLayout
from panelscan.model.page import PageImage, PagePart, ReadingDirection
from panelscan.model.panel import PageFinding
from panelscan.model.record import PageFailure, PageRecord
from panelscan.pipeline.facing import parted
from panelscan.pipeline.look import coarse_look
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.sheets import is_sheet

if TYPE_CHECKING:
    from panelscan.intake.sources import Listing
    from panelscan.vision.book_prior import BookPrior
    from panelscan.vision.trace import Trace


@dataclass(frozen=True)
class PageAnswer:
    """What a worker says of one source image: its records, or why there are none.

    Parameters
    ----------
    records : tuple of PageRecord
        One, or two for facing pages that were parted (left half first).
    failure : PageFailure or None
        Set when the image could not be read.
    is_sheet : bool
        The image is a thumbnail sheet: no page, to be cut into its cells.
    """

    records: tuple[PageRecord, ...] = ()
    failure: PageFailure | None = None
    is_sheet: bool = False


def read_page(
    page: SourcePage,
    options: ScanOptions | None = None,
    prior: BookPrior | None = None,
    trace: Trace | None = None,
) -> tuple[PageRecord, ...]:
    """Load a page, find its panels and their lettering room, lay it out.

    Parameters
    ----------
    page : SourcePage
        From `panelscan.intake.sources.list_pages`.
    options : ScanOptions or None
        How.
    prior : BookPrior or None
        What the rest of the book says; for a second look.
    trace : Trace or None
        Collects each step's evidence when given (for facing pages, of the last half).

    Returns
    -------
    tuple of PageRecord
        One, or two for facing pages that were parted: left half first. Page numbers are 1
        and 2 until the book puts them right; with no direction asked for, the order is
        left-to-right until the book's direction is known.

    Raises
    ------
    InputError
        If the page cannot be read.
    """
    options = options or ScanOptions()
    return _records(load_whole(page, options.intake), page, options, prior, trace)


def _records(
    whole: LoadedPage,
    page: SourcePage,
    options: ScanOptions,
    prior: BookPrior | None = None,
    trace: Trace | None = None,
) -> tuple[PageRecord, ...]:
    return tuple(
        _record(each, page, number, options, prior, trace)
        for number, each in enumerate(parted(whole, options.intake.spreads), start=1)
    )


def load_parts(page: SourcePage, options: ScanOptions) -> tuple[LoadedPage, ...]:
    """Load a source image and part facing pages, also where they lie turned in it.

    Raises
    ------
    InputError
        If the page cannot be read.
    """
    return parted(load_whole(page, options.intake), options.intake.spreads)


def answer_page(
    page: SourcePage, options: ScanOptions, prior: BookPrior | None = None
) -> PageAnswer:
    """`read_page` for workers: whatever goes wrong becomes a failure that names the page.

    A thumbnail sheet is told of and not read as a page.
    """
    try:
        whole = load_whole(page, options.intake)
        if is_sheet(whole.image):
            return PageAnswer(is_sheet=True)
        return PageAnswer(_records(whole, page, options, prior))
    except PanelscanError as error:
        return PageAnswer(failure=failure_of(page.label, error))
    except MemoryError:
        remedy = "Save it smaller, or scan with fewer workers."
        return PageAnswer(failure=PageFailure(page.label, "there is not enough memory", remedy))
    except Exception as error:  # one page's fault must not stop the others
        reason = f"something unexpected went wrong ({type(error).__name__}: {error})"
        return PageAnswer(failure=PageFailure(page.label, reason, "Please report this page."))


def failure_of(label: str, error: PanelscanError) -> PageFailure:
    """A failure from an error, its message without the page's name."""
    reason = error.message.removeprefix(f"{label}: ").rstrip(".")
    return PageFailure(label, reason, error.remedy)


def identify(pages: tuple[SourcePage, ...], options: ScanOptions) -> tuple[str, ...]:
    """Content hashes of pages, without decoding them; empty where a page cannot be read."""
    return tuple(_hash_or_nothing(page, options) for page in pages)


def _hash_or_nothing(page: SourcePage, options: ScanOptions) -> str:
    try:
        return content_sha256(page, options.intake)
    except PanelscanError:
        return ""


def probe(path: str) -> Listing:
    """List the pages of one file, in a worker."""
    return probe_file(path)


def _record(
    loaded: LoadedPage,
    page: SourcePage,
    number: int,
    options: ScanOptions,
    prior: BookPrior | None,
    trace: Trace | None,
) -> PageRecord:
    finding = find(loaded, prior, trace)
    direction = options.direction or ReadingDirection.LTR
    layout, grid = _layout(finding, direction)
    return PageRecord(
        ref=loaded.ref,
        book=page.book,
        page_number=number,
        width_px=loaded.image.source_width_px,
        height_px=loaded.image.source_height_px,
        resolution=loaded.image.resolution,
        direction=direction,
        direction_confidence=1.0 if options.direction else 0.5,
        finding=finding,
        layout=layout,
        grid=grid,
        settings=options.settings,
        notes=loaded.image.notes,
        look=coarse_look(loaded.image, finding.frame),
    )


def find(
    loaded: LoadedPage, prior: BookPrior | None = None, trace: Trace | None = None
) -> PageFinding:
    """Panels and lettering room of a loaded page, in source pixels."""
    from panelscan.vision.burst_outlines import without_lettering
    from panelscan.vision.detector import find_panels
    from panelscan.vision.lettering import measure_room
    from panelscan.vision.non_photo_blue import without_guides

    image = without_guides(loaded.image)
    finding = without_lettering(measure_room(image, find_panels(image, prior, trace)))
    if loaded.fold_x_px is not None and finding.fold_x_px is None:
        finding = replace(finding, fold_x_px=loaded.fold_x_px)
    return finding


def laid_out(record: PageRecord, direction: ReadingDirection, confidence: float) -> PageRecord:
    """The same page ordered for a direction; pure geometry.

    Parameters
    ----------
    record : PageRecord
        A page.
    direction : ReadingDirection
        Which way its book is read.
    confidence : float
        How sure that is, 0..1.
    """
    layout, grid = _layout(record.finding, direction)
    return replace(
        record, direction=direction, direction_confidence=confidence, layout=layout, grid=grid
    )


def _layout(finding: PageFinding, direction: ReadingDirection) -> tuple[PageLayout, Grid]:
    from panelscan.layout.pages import grid_of, lay_out

    panels, frame, fold = finding.panels, finding.frame, finding.fold_x_px
    layout = lay_out(panels, frame, direction, fold_x=fold)
    return layout, grid_of(panels, frame, layout, direction, fold_x=fold)


def look_at(
    path: str | os.PathLike[str],
    index: int = 0,
    options: ScanOptions | None = None,
    part: PagePart | str | None = None,
    trace: Trace | None = None,
) -> tuple[PageRecord, PageImage]:
    """Read one page without a library, for showing, searching by example and checking.

    Parameters
    ----------
    path : path
        An image, or a PDF, multi-page TIFF or archive.
    index : int
        Which page of it, from 0, as a scan would list them.
    options : ScanOptions or None
        How.
    part : PagePart, str or None
        Which half of facing pages that are parted; None: the one that is read first.
    trace : Trace or None
        Collects each step's evidence when given.

    Returns
    -------
    tuple of PageRecord and PageImage
        The page as a scan would store it (numbered as in the file), and its pixels.

    Raises
    ------
    InputError
        If the file or page cannot be read.
    NothingFound
        If the file has no such page or half.
    """
    options = options or ScanOptions()
    listing = list_pages([path], book=options.book)
    if not listing.pages:
        failure = (*listing.failures, PageFailure(os.fspath(path), "no pages were found"))[0]
        raise InputError(f"{failure.label}: {failure.reason}.", failure.remedy)
    if not 0 <= index < len(listing.pages):
        raise NothingFound(
            f"{os.fspath(path)} has no page {index + 1}.", f"It has {len(listing.pages)}."
        )
    page = listing.pages[index]
    loaded = _chosen(load_parts(page, options), part, options.direction, page.label)
    return _record(loaded, page, index + 1, options, None, trace), loaded.image


def _chosen(
    loaded: tuple[LoadedPage, ...],
    part: PagePart | str | None,
    direction: ReadingDirection | None,
    label: str,
) -> LoadedPage:
    if part is None:
        return loaded[-1] if direction is ReadingDirection.RTL else loaded[0]
    wanted = [each for each in loaded if each.ref.part == PagePart(part)]
    if not wanted:
        raise NothingFound(f"{label} has no {part} half.", "It was not parted at a fold.")
    return wanted[0]
