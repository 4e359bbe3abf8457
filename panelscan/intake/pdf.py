"""Pages of a PDF: the scanned image itself where the page is one, else a raster.

Page boxes: ISO 32000-2, 14.11.2; /Rotate: 7.7.3.3; image dictionaries: 8.9.5; user space
unit of 1/72 in: 8.3.2.3 (clause numbers from memory).
"""

from __future__ import annotations

import math
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from io import BytesIO
from typing import Any

import numpy as np

from panelscan.errors import InputError
from panelscan.intake import limits
from panelscan.intake.files import is_address, open_binary, read_bytes
from panelscan.intake.images import Decoded, decode_image, reduction_for, shrink
from panelscan.intake.names import printable
from panelscan.intake.resolution import snapped
from panelscan.model.units import PT_PER_INCH

LEAST_COVER = 0.99
"""A page counts as one scanned image when the image reaches this far across it."""

_AGAIN = "Export the PDF again, or export its pages as images."
# pdfium must not be called from two threads, not even on two documents (its own rule).
_lock = threading.RLock()
_FULL = 1 << 30


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


@dataclass(frozen=True)
class _Placed:
    """The one image on a page: its object, and where it lies.

    ``crop_share``: left, top, right and bottom of the visible part, in shares of the image.
    """

    image: Any
    size_px: tuple[int, int]
    width_pt: float
    height_pt: float
    crop_share: tuple[float, float, float, float]
    is_plain: bool


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
    """Number of pages.

    Raises
    ------
    InputError
        If the PDF cannot be opened, has no page or too many.
    """
    with _translated(path), _opened(path) as (document, _):
        count = len(document)
    if not count:
        raise InputError(f"{printable(path)}: the PDF has no pages.", _AGAIN)
    if count > limits.MOST_MEMBERS:
        raise InputError(
            f"{printable(path)}: the PDF has more than {limits.MOST_MEMBERS} pages.", "Split it."
        )
    return count


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
        placed = _one_image(page)
        found = None
        if placed is not None:
            plain = placed.is_plain and not _is_special(path, index)
            found = _scan_pixels(page, placed, full_size_limit_px) if plain else None
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


def _one_image(page: Any) -> _Placed | None:
    """The page's only visible object, where that is an upright image covering the page."""
    import pypdfium2.raw as raw

    images = []
    for thing in page.get_objects():
        if thing.type == raw.FPDF_PAGEOBJ_IMAGE:
            images.append(thing)
        elif thing.type != raw.FPDF_PAGEOBJ_TEXT or not _is_invisible_text(thing):
            return None
        if len(images) > 1:
            return None
    if not images or images[0].level or raw.FPDFPage_GetAnnotCount(page) > 0:
        return None
    return _placed(page, images[0])


def _is_invisible_text(thing: Any) -> bool:
    """Text laid under a scan so that it can be searched (render mode 3: ISO 32000, 9.3.6)."""
    import pypdfium2.raw as raw

    return bool(raw.FPDFTextObj_GetTextRenderMode(thing) == raw.FPDF_TEXTRENDERMODE_INVISIBLE)


def _placed(page: Any, image: Any) -> _Placed | None:
    import pypdfium2.raw as raw

    a, b, c, d, e, f = image.get_matrix().get()
    width, height = image.get_px_size()
    if abs(b) > 1e-3 or abs(c) > 1e-3 or a <= 0 or d <= 0 or not width or not height:
        return None
    left, bottom, right, top = _visible_pt(page)
    if right <= left or top <= bottom:
        return None
    covered = min(right, e + a) - max(left, e), min(top, f + d) - max(bottom, f)
    if covered[0] < LEAST_COVER * (right - left) or covered[1] < LEAST_COVER * (top - bottom):
        return None
    clip = raw.FPDFPageObj_GetClipPath(image)
    clipped = bool(clip) and raw.FPDFClipPath_CountPaths(clip) > 0
    crop = ((left - e) / a, 1 - (top - f) / d, (right - e) / a, 1 - (bottom - f) / d)
    plain = not clipped and not raw.FPDFPageObj_HasTransparency(image)
    bounded = tuple(min(1.0, max(0.0, share)) for share in crop)
    return _Placed(image, (width, height), a, d, bounded, plain)


def _visible_pt(page: Any) -> tuple[float, float, float, float]:
    """Crop box cut to the media box (ISO 32000-2, 14.11.2.1), in points, y up."""
    media, crop = page.get_mediabox(), page.get_cropbox()
    left, bottom = max(media[0], crop[0]), max(media[1], crop[1])
    return left, bottom, min(media[2], crop[2]), min(media[3], crop[3])


def _is_special(path: str, index: int) -> bool:
    """Whether masks, inverted values or layers change how the image is shown.

    pdfium hands out an image's bytes without these; then the page is drawn instead.
    """
    import pikepdf

    special = ("/SMask", "/Mask", "/Decode", "/ImageMask", "/OC")
    with suppress(Exception), open_binary(path) as stream, pikepdf.open(stream) as document:
        page = document.pages[index]
        if "/OCProperties" in document.Root or float(page.obj.get("/UserUnit", 1)) != 1.0:
            return True
        return any(key in image for image in page.images.values() for key in special)
    return True


def _scan_pixels(page: Any, placed: _Placed, full_size_limit_px: int) -> Decoded | None:
    """The image's own pixels, cropped and turned as the page shows it; None to draw instead."""
    turn = page.get_rotation() % 360
    left, top, right, bottom = placed.crop_share
    width, height = placed.size_px
    box = (round(left * width), round(top * height), round(right * width), round(bottom * height))
    moved = turn != 0 or box != (0, 0, width, height)
    limit = _FULL if moved else full_size_limit_px
    decoded = _image_pixels(placed, limit)
    if decoded is None:
        return None
    pixels = decoded.pixels
    if moved:
        pixels = pixels[box[1] : box[3], box[0] : box[2]]
        pixels = np.rot90(pixels, k=-(turn // 90))
    ppi = tuple(
        snapped(px / pt * PT_PER_INCH)
        for px, pt in ((width, placed.width_pt), (height, placed.height_pt))
    )
    if turn in (90, 270):
        ppi = ppi[::-1]
    if not moved:
        return replace(decoded, ppi=(ppi[0], ppi[1]))
    full_height, full_width = pixels.shape[:2]
    reduction = reduction_for(full_width, full_height, full_size_limit_px)
    small = np.ascontiguousarray(shrink(pixels, reduction))
    return Decoded(small, full_width, full_height, reduction, (ppi[0], ppi[1]), decoded.notes)


def _image_pixels(placed: _Placed, full_size_limit_px: int) -> Decoded | None:
    import pypdfium2.raw as raw

    image, (width, height) = placed.image, placed.size_px
    if limits.MOST_PIXELS < width * height:
        raise InputError(f"its image has {width} x {height} pixels.", "Save it smaller.")
    meta = image.get_metadata()
    gray = (raw.FPDF_COLORSPACE_DEVICEGRAY, raw.FPDF_COLORSPACE_CALGRAY)
    colour = (raw.FPDF_COLORSPACE_DEVICERGB, raw.FPDF_COLORSPACE_CALRGB)
    profiled = raw.FPDF_COLORSPACE_ICCBASED
    if meta.colorspace not in (*gray, *colour, profiled) or meta.bits_per_pixel not in (1, 8, 24):
        return None
    if image.get_filters() == ["DCTDecode"]:
        data = bytes(image.get_data())
        decoded = decode_image(data, "its image", full_size_limit_px, turn=False)
        return decoded if (decoded.width_px, decoded.height_px) == (width, height) else None
    pixels = image.get_bitmap().to_numpy()
    if pixels.shape[:2] != (height, width) or (pixels.ndim == 3 and pixels.shape[2] not in (1, 3)):
        return None
    pixels = pixels[..., 0] if pixels.ndim == 3 and pixels.shape[2] == 1 else pixels
    pixels = pixels[..., ::-1] if pixels.ndim == 3 else pixels
    reduction = reduction_for(width, height, full_size_limit_px)
    return Decoded(np.array(shrink(pixels, reduction)), width, height, reduction)


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
