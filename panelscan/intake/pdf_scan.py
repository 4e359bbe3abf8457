"""A PDF page that is one scanned image: telling it, and taking the image's own pixels.

Image dictionaries: ISO 32000-2, 8.9.5; soft masks: 11.6.5.2; text rendering mode: 9.3.6;
/Rotate: 7.7.3.3; page boxes: 14.11.2 (clause numbers from memory).
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from panelscan.errors import InputError
from panelscan.intake import limits
from panelscan.intake.files import open_binary
from panelscan.intake.images import Decoded, decode_image, reduction_for, shrink
from panelscan.intake.resolution import snapped
from panelscan.model.units import PT_PER_INCH

LEAST_COVER = 0.99
"""A page counts as one scanned image when the image reaches this far across it."""

_FULL = 1 << 30


@dataclass(frozen=True)
class Placed:
    """The one image on a page: its object, and where it lies.

    ``crop_share``: left, top, right and bottom of the visible part, in shares of the image.
    """

    image: Any
    size_px: tuple[int, int]
    width_pt: float
    height_pt: float
    crop_share: tuple[float, float, float, float]
    is_plain: bool


def one_image(page: Any) -> Placed | None:
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


def _placed(page: Any, image: Any) -> Placed | None:
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
    return Placed(image, (width, height), a, d, bounded, plain)


def _visible_pt(page: Any) -> tuple[float, float, float, float]:
    """Crop box cut to the media box (ISO 32000-2, 14.11.2.1), in points, y up."""
    media, crop = page.get_mediabox(), page.get_cropbox()
    left, bottom = max(media[0], crop[0]), max(media[1], crop[1])
    return left, bottom, min(media[2], crop[2]), min(media[3], crop[3])


def is_special(path: str, index: int) -> bool:
    """Whether masks, inverted values or layers change how the image is shown.

    pdfium hands out an image's bytes without these; then the page is drawn instead.
    """
    import pikepdf

    special = ("/SMask", "/Mask", "/Decode", "/ImageMask", "/OC")
    with suppress(Exception), open_binary(path) as stream, pikepdf.open(stream) as document:
        page = document.pages[index]
        if "/OCProperties" in document.Root or float(page.obj.get("/UserUnit", 1)) != 1.0:
            return True
        things = page.resources.get("/XObject", {}).values()
        images = [thing for thing in things if thing.get("/Subtype") == pikepdf.Name.Image]
        return not images or any(key in image for image in images for key in special)
    return True


def scan_pixels(page: Any, placed: Placed, full_size_limit_px: int) -> Decoded | None:
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


def _image_pixels(placed: Placed, full_size_limit_px: int) -> Decoded | None:
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
