"""One listed page to its pixels: the entry point of this folder."""

from __future__ import annotations

import hashlib

from panelscan.errors import InputError, PanelscanError
from panelscan.intake import files
from panelscan.intake.archive import read_member
from panelscan.intake.images import Decoded, decode_image
from panelscan.intake.names import printable
from panelscan.intake.options import IntakeOptions, LoadedPage
from panelscan.intake.pdf import read_pdf_page
from panelscan.intake.pdf_digest import page_sha256
from panelscan.intake.resolution import resolve
from panelscan.intake.sources import SourceKind, SourcePage
from panelscan.intake.spreads import split_spread
from panelscan.intake.tiff import image_sha256
from panelscan.model.page import PageImage, PageRef
from panelscan.model.units import ResolutionSource

LEAST_SIDE_PX = 16
"""A smaller image is no page: a tracking dot, a spacer, a broken export."""


def content_sha256(page: SourcePage, options: IntakeOptions) -> str:
    """Hash that names a page's content, without decoding it.

    A plain image and an archive's member have the hash of their own bytes, so that a page
    is the same page loose or packed. A page of a PDF has that of its own objects and of the
    resolution at which it may be drawn, an image of a TIFF that of its own data: so they
    stay the same pages when others are added to the file.

    Raises
    ------
    InputError
        If the file cannot be read.
    """
    path, index = page.source_path, page.index
    if page.kind is SourceKind.ARCHIVE:
        return hashlib.sha256(read_member(path, page.member)).hexdigest()
    if page.kind is SourceKind.IMAGE:
        return files.sha256_of_file(path)
    if page.kind is SourceKind.PDF:
        own = page_sha256(path, index) or f"{files.sha256_of_file(path)}:{index}"
        return hashlib.sha256(f"pdf:{own}:{options.pdf_dpi:g}".encode()).hexdigest()
    own = _tiff_data_sha256(path, index) or f"{files.sha256_of_file(path)}:{index}"
    return hashlib.sha256(f"tiff:{own}".encode()).hexdigest()


def _tiff_data_sha256(path: str, index: int) -> str:
    with files.open_binary(path) as stream:
        return image_sha256(stream, index)


def load_whole(page: SourcePage, options: IntakeOptions) -> LoadedPage:
    """Read one source image, facing pages still together.

    Parameters
    ----------
    page : SourcePage
        From `list_pages`.
    options : IntakeOptions
        How to read it.

    Returns
    -------
    LoadedPage

    Raises
    ------
    InputError
        If it cannot be read; the message names the page.
    """
    try:
        decoded, sha256, source = _decode(page, options)
    except InputError as error:
        raise _naming(page, error) from error
    size = (decoded.width_px, decoded.height_px)
    if min(size) < LEAST_SIDE_PX:
        raise InputError(
            f"{page.label}: it has only {size[0]} x {size[1]} pixels, too few for a page.",
            "Export it larger, or take it out of the folder.",
        )
    resolution, notes = resolve(decoded.ppi, size, options.dpi, options.page_format, source)
    ref = PageRef(page.source_path, page.index, sha256, member=page.member)
    image = PageImage(
        decoded.pixels,
        decoded.width_px,
        decoded.height_px,
        float(decoded.reduction),
        resolution=resolution,
        notes=(*decoded.notes, *notes),
    )
    return LoadedPage(ref, image)


def _naming(page: SourcePage, error: PanelscanError) -> InputError:
    """The same error, its message beginning with the page's name."""
    shown = printable(page.source_path)
    text = error.message.removeprefix(f"{page.label}: ").removeprefix(f"{shown}: ")
    return InputError(f"{page.label}: {text}", error.remedy)


def _decode(page: SourcePage, options: IntakeOptions) -> tuple[Decoded, str, ResolutionSource]:
    limit = options.full_size_limit_px
    if page.kind is SourceKind.PDF:
        drawn = read_pdf_page(page.source_path, page.index, options.pdf_dpi, limit)
        return drawn.decoded, content_sha256(page, options), ResolutionSource.PDF
    if page.kind is SourceKind.ARCHIVE:
        data = read_member(page.source_path, page.member)
    else:
        data = files.read_bytes(page.source_path)
    frame = 0 if page.kind is SourceKind.ARCHIVE else page.index
    decoded = decode_image(data, page.label, limit, frame)
    if page.kind is SourceKind.TIFF:
        return decoded, content_sha256(page, options), ResolutionSource.FILE
    return decoded, hashlib.sha256(data).hexdigest(), ResolutionSource.FILE


def load_page(page: SourcePage, options: IntakeOptions | None = None) -> tuple[LoadedPage, ...]:
    """Read one source image and part facing pages, as the options ask.

    Parameters
    ----------
    page : SourcePage
        From `list_pages`.
    options : IntakeOptions or None
        How to read it.

    Returns
    -------
    tuple of LoadedPage
        One page, or the left and the right half of facing pages, in this order.

    Raises
    ------
    InputError
        If it cannot be read; the message names the page.
    """
    options = options or IntakeOptions()
    loaded = load_whole(page, options)
    try:
        return split_spread(loaded, options.spreads)
    except MemoryError as error:
        raise InputError(
            f"{page.label}: there is not enough memory.", "Save it smaller."
        ) from error
