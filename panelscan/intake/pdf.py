"""Pages of a PDF: the scanned image itself where the page is one, else a raster.

User space unit of 1/72 in: ISO 32000-2, 8.3.2.3 (clause number from memory).
"""

from __future__ import annotations

import math
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from io import BytesIO
from typing import Any

import numpy as np

from panelscan.errors import InputError
from panelscan.intake import limits
from panelscan.intake.files import is_address, open_binary, read_bytes
from panelscan.intake.images import Decoded, reduction_for, shrink
from panelscan.intake.names import printable
from panelscan.intake.pdf_scan import is_special, one_image, scan_pixels
from panelscan.intake.resolution import snapped
from panelscan.model.page import ReadingDirection
from panelscan.model.units import PT_PER_INCH

_AGAIN = "Export the PDF again, or export its pages as images."
# pdfium must not be called from two threads, not even on two documents (its own rule).
_lock = threading.RLock()


@dataclass(frozen=True)
class PdfPage:
    """A page of a PDF as pixels.

    Parameters
    ----------
    decoded : Decoded
        Pixels and effective resolution.
    is_scan : bool
        Whether the pixels are those of the one image on the page.
    """

    decoded: Decoded
    is_scan: bool


@contextmanager
def _opened(path: str) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """Open a PDF; one whose end is damaged is mended in memory first."""
    import pypdfium2 as pdfium

    shown = printable(path)
    with open_binary(path):
        pass  # a missing or locked file has its own message
    source: Any = read_bytes(path) if is_address(path) else path
    notes: tuple[str, ...] = ()
    with _lock:
        try:
            document = pdfium.PdfDocument(source)
        except pdfium.PdfiumError as error:
            if "password" in str(error).lower():
                raise InputError(
                    f"{shown}: the PDF needs a password.", "Save a copy without one."
                ) from error
            document, notes = pdfium.PdfDocument(_mended(path)), ("the PDF was damaged: mended",)
        try:
            yield document, notes
        finally:
            document.close()


def _mended(path: str) -> bytes:
    import pikepdf

    out = BytesIO()
    try:
        with pikepdf.open(BytesIO(read_bytes(path))) as document:
            if not len(document.pages):
                raise ValueError("no pages left")
            document.save(out)
    except Exception as error:  # hostile bytes make parsers raise nearly anything
        raise InputError(
            f"{printable(path)}: the PDF is damaged and cannot be mended.", _AGAIN
        ) from error
    return out.getvalue()


def count_pages(path: str) -> int:
    """Number of pages; see `pages_and_direction`."""
    return pages_and_direction(path)[0]


def pages_and_direction(path: str) -> tuple[int, ReadingDirection | None]:
    """Number of pages, and which way the PDF says that they are read.

    Returns
    -------
    count : int
        Number of pages.
    said : ReadingDirection or None
        None where the PDF does not say.

    Raises
    ------
    InputError
        If the PDF cannot be opened, has no page or too many.
    """
    with _translated(path), _opened(path) as (document, _):
        count, said = len(document), _said_direction(document)
    if not count:
        raise InputError(f"{printable(path)}: the PDF has no pages.", _AGAIN)
    if count > limits.MOST_MEMBERS:
        raise InputError(
            f"{printable(path)}: the PDF has more than {limits.MOST_MEMBERS} pages.", "Split it."
        )
    return count, said


def _said_direction(document: Any) -> ReadingDirection | None:
    """The viewer preference Direction, L2R or R2L (ISO 32000-1:2008, 12.2, Table 150)."""
    from ctypes import create_string_buffer

    import pypdfium2.raw as pdfium_c

    told = create_string_buffer(8)
    pdfium_c.FPDF_VIEWERREF_GetName(document, b"Direction", told, len(told))
    return {b"L2R": ReadingDirection.LTR, b"R2L": ReadingDirection.RTL}.get(told.value)


@contextmanager
def _translated(path: str, index: int | None = None) -> Iterator[None]:
    """Turn whatever the PDF libraries raise into an `InputError` that names the page."""
    place = f": page {index + 1}" if index is not None else ""
    try:
        yield
    except InputError:
        raise
    except MemoryError as error:
        raise InputError(
            f"{printable(path)}{place}: there is not enough memory to read it.",
            "Choose a lower resolution for PDF pages.",
        ) from error
    except Exception as error:  # hostile bytes make parsers raise nearly anything
        raise InputError(
            f"{printable(path)}{place}: the PDF is damaged ({error}).", _AGAIN
        ) from error


def read_pdf_page(path: str, index: int, dpi: float, full_size_limit_px: int) -> PdfPage:
    """Read one page of a PDF.

    Parameters
    ----------
    path : str
        The PDF.
    index : int
        Page, from 0.
    dpi : float
        Resolution of the raster where the page is not one scanned image.
    full_size_limit_px : int
        As for `decode_image`.

    Returns
    -------
    PdfPage

    Raises
    ------
    InputError
        If the page cannot be read.
    """
    with _translated(path, index), _opened(path) as (document, notes):
        if not 0 <= index < len(document):
            raise InputError(
                f"{printable(path)}: the PDF has no page {index + 1}.",
                f"It has {len(document)}.",
            )
        page = document[index]
        placed = one_image(page)
        found = None
        if placed is not None:
            plain = placed.is_plain and not is_special(path, index)
            found = scan_pixels(page, placed, full_size_limit_px) if plain else None
        if found is not None:
            return PdfPage(_noted(found, notes), is_scan=True)
        if placed is not None:  # as fine as the image itself, but through pdfium's renderer
            dpi = (
                max(placed.size_px[0] / placed.width_pt, placed.size_px[1] / placed.height_pt)
                * PT_PER_INCH
            )
        return PdfPage(_noted(_raster(page, dpi, full_size_limit_px), notes), is_scan=False)


def _noted(decoded: Decoded, notes: tuple[str, ...]) -> Decoded:
    return replace(decoded, notes=(*notes, *decoded.notes))


def _raster(page: Any, dpi: float, full_size_limit_px: int) -> Decoded:
    """Draw a page at a resolution, lowered where the raster would be too large."""
    width_pt, height_pt = page.get_size()
    if not all(math.isfinite(side) and side > 0 for side in (width_pt, height_pt)):
        raise InputError("the page has no size.", _AGAIN)
    area_in2 = width_pt * height_pt / PT_PER_INCH**2
    most = math.sqrt(limits.MOST_RASTER_PIXELS / area_in2)
    notes: tuple[str, ...] = ()
    if dpi > most:
        dpi = most
        notes = (f"the page is very large: drawn at {dpi:.4g} dpi",)
    if max(width_pt, height_pt) / PT_PER_INCH * dpi > limits.MOST_SIDE_PX:
        raise InputError("the page is longer than any raster.", _AGAIN)
    # Rounded down by a hair: pdfium rounds up, and 792 pt at 150 dpi would become 1651 px.
    scale = math.nextafter(dpi / PT_PER_INCH, 0)
    pixels = page.render(scale=scale, rev_byteorder=True).to_numpy()
    pixels = _gray_if_gray(pixels)
    height, width = pixels.shape[:2]
    reduction = reduction_for(width, height, full_size_limit_px)
    ppi = (snapped(width / width_pt * PT_PER_INCH), snapped(height / height_pt * PT_PER_INCH))
    return Decoded(np.array(shrink(pixels, reduction)), width, height, reduction, ppi, notes)


def _gray_if_gray(pixels: np.ndarray) -> np.ndarray:
    """One channel where all three are equal everywhere."""
    red, green, blue = (pixels[..., channel] for channel in range(3))
    if np.array_equal(red, green) and np.array_equal(green, blue):
        return np.ascontiguousarray(red)
    return pixels
