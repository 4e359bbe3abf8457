"""Raster files to upright pixels: gray stays gray, colour is RGB, alpha lies over white.

OpenCV decodes what it decodes well and fast; Pillow reads headers and everything else.
"""

from __future__ import annotations

import io
import threading
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from panelscan.errors import InputError
from panelscan.intake.integrity import FileKind, check, kind_of, pixel_fault
from panelscan.intake.resolution import Ppi, header_ppi

REDUCTIONS = (1, 2, 4, 8)
LEAST_SHORT_SIDE_PX = 1500
"""Reduced decoding never goes below this, so that long strips keep their width."""

_ORIENTATION = 0x0112
# Only these: among the others is one that starts an outside program.
_FORMATS = {
    FileKind.PNG: ("PNG",),
    FileKind.JPEG: ("JPEG", "MPO"),
    FileKind.TIFF: ("TIFF",),
    FileKind.WEBP: ("WEBP",),
    FileKind.BMP: ("BMP", "DIB"),
    FileKind.GIF: ("GIF",),
    FileKind.JPEG2000: ("JPEG2000",),
    FileKind.AVIF: ("AVIF",),
}
_FAST_KINDS = (FileKind.JPEG, FileKind.PNG, FileKind.BMP, FileKind.WEBP)
_SCAN_AGAIN = "Scan, export or copy it again."
_lock = threading.RLock()


@dataclass(frozen=True, eq=False)
class Decoded:
    """Pixels of one image file.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3) RGB
        Upright.
    width_px, height_px : int
        Size of the upright image at full size.
    reduction : int
        Source pixels per decoded pixel: 1, 2, 4 or 8.
    ppi : tuple of float or None
        Resolution as the header states it, along the upright x and y.
    notes : tuple of str
        What was repaired or assumed.
    """

    pixels: np.ndarray
    width_px: int
    height_px: int
    reduction: int = 1
    ppi: Ppi | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Header:
    """What is known of an image before it is decoded."""

    kind: FileKind
    mode: str
    size: tuple[int, int]
    orientation: int
    ppi: Ppi | None
    has_alpha: bool
    is_animated: bool


@contextmanager
def quiet_pillow() -> Iterator[None]:
    """Pillow without its own pixel limit (ours is checked first) and without its warnings."""
    with _lock, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        before = Image.MAX_IMAGE_PIXELS
        Image.MAX_IMAGE_PIXELS = None
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = before


def reduction_for(width_px: int, height_px: int, full_size_limit_px: int) -> int:
    """How much smaller an image is read: 1, 2, 4 or 8 source pixels per decoded pixel.

    Examples
    --------
    A 300 dpi A4 page in full, a 600 dpi 11 x 17 in board reduced by 2, a strip in full:

    >>> [reduction_for(*s, 5200) for s in ((2480, 3508), (6600, 10200), (1000, 20000))]
    [1, 2, 1]
    """
    long_side, short_side = max(width_px, height_px), min(width_px, height_px)
    chosen = 1
    for reduction in REDUCTIONS[1:]:
        if long_side / chosen <= full_size_limit_px or short_side / reduction < LEAST_SHORT_SIDE_PX:
            break
        chosen = reduction
    return chosen


def decode_image(
    data: bytes, name: str, full_size_limit_px: int, frame: int = 0, turn: bool = True
) -> Decoded:
    """Decode an image file's bytes.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        How messages name the page.
    full_size_limit_px : int
        Long side up to which an image is kept at full size (see `reduction_for`).
    frame : int
        Image inside a multi-page TIFF, from 0.
    turn : bool
        Whether to obey the file's own orientation; a JPEG inside a PDF is not turned.

    Returns
    -------
    Decoded

    Raises
    ------
    InputError
        If the file is damaged, cut off, too large, or of a kind that is not read.
    """
    kind = kind_of(data[:1024])
    sound = check(data, kind)
    if sound.fault:
        raise InputError(f"{name}: {sound.fault}.", _SCAN_AGAIN)
    header = _read_header(data, name, kind, frame)
    if fault := pixel_fault(*header.size):
        raise InputError(f"{name}: {fault}.", "Save it smaller, or cut it into pages.")
    if not turn:
        header = replace(header, orientation=1)
    reduction = reduction_for(*header.size, full_size_limit_px)
    pixels, done = None, False
    if not sound.doubtful and frame == 0:
        pixels, done = _decode_fast(data, header, reduction)
    notes = list(sound.notes)
    if pixels is None:
        pixels, done, note = _decode_careful(data, name, header, frame)
        notes += [note] if note else []
    return _finish(pixels, done, header, reduction, tuple(notes))


def _finish(
    pixels: np.ndarray, turned: bool, header: _Header, reduction: int, notes: tuple[str, ...]
) -> Decoded:
    """Turn upright and shrink, whatever the decoder has not done yet."""
    if not turned:
        pixels = upright(pixels, header.orientation)
    width, height = header.size
    ppi = header.ppi
    if header.orientation in (5, 6, 7, 8):
        width, height = height, width
        ppi = (ppi[1], ppi[0]) if ppi else None
    if turned:  # the decoder turned it, and may have told its header's size turned or not
        height, width = pixels.shape[:2]
    if max(pixels.shape[:2]) > max(width, height) // reduction:
        pixels = shrink(pixels, reduction)
    return Decoded(np.ascontiguousarray(pixels), width, height, reduction, ppi, notes)


def _opened(data: bytes, kind: FileKind) -> Image.Image:
    if kind not in _FORMATS:
        raise UnidentifiedImageError(kind)
    return Image.open(io.BytesIO(data), formats=_FORMATS[kind])


def _read_header(data: bytes, name: str, kind: FileKind, frame: int) -> _Header:
    try:
        with quiet_pillow(), _opened(data, kind) as image:
            if frame:
                image.seek(frame)
            exif = _exif_of(image, kind)
            return _Header(
                kind=kind,
                mode=image.mode,
                size=image.size,
                orientation=_orientation(exif),
                ppi=header_ppi(image.info, exif),
                has_alpha=_has_alpha(image),
                is_animated=bool(getattr(image, "is_animated", False)),
            )
    except Exception as error:  # hostile bytes make decoders raise nearly anything
        raise _unreadable(name, error) from error


def _unreadable(name: str, error: Exception) -> InputError:
    if isinstance(error, InputError):
        return error
    if isinstance(error, MemoryError):
        return InputError(f"{name}: there is not enough memory to read it.", "Save it smaller.")
    if isinstance(error, UnidentifiedImageError):
        return InputError(
            f"{name}: this is no picture of a kind that is read here.", "Export it as PNG or TIFF."
        )
    if isinstance(error, EOFError):
        return InputError(f"{name}: the file has no such page.", "Look at its number of pages.")
    reason = "the file ends early" if "truncated" in str(error) else f"it is damaged ({error})"
    return InputError(f"{name}: {reason}.", _SCAN_AGAIN)


def _exif_of(image: Image.Image, kind: FileKind) -> Mapping[int, Any]:
    """EXIF tags; for a TIFF its own tags. Not ``getexif()``: on a PNG that decodes it all."""
    if kind is FileKind.TIFF:
        return dict(getattr(image, "tag_v2", {}))
    raw = image.info.get("exif")
    if not isinstance(raw, bytes):
        return {}
    exif = Image.Exif()
    try:
        exif.load(raw)
        return dict(exif)
    except Exception:  # a broken EXIF block must not cost the page
        return {}


def _orientation(exif: Mapping[int, Any]) -> int:
    value = exif.get(_ORIENTATION, 1)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _has_alpha(image: Image.Image) -> bool:
    return image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in image.info


def _decode_fast(data: bytes, header: _Header, reduction: int) -> tuple[np.ndarray | None, bool]:
    """OpenCV, for the kinds it reads rightly; None where the careful way must be taken.

    ``IMREAD_REDUCED`` spares a full-size copy. Of other kinds than JPEG it drops thin lines,
    but not where whole blocks of two by two pixels are averaged.
    """
    plain = header.mode in ("1", "L", "RGB", "P", "I;16") and not header.has_alpha
    moves = header.is_animated and header.kind is not FileKind.JPEG
    if header.kind not in _FAST_KINDS or moves or not plain:
        return None, False
    gray = header.mode in ("1", "L", "I;16")
    flags = int(cv2.IMREAD_GRAYSCALE if gray else cv2.IMREAD_COLOR_RGB)
    # A turned image whose sides do not divide would begin with a part of a pixel.
    divides = header.orientation == 1 or not any(side % reduction for side in header.size)
    halves = reduction == 2 and not any(side % 2 for side in header.size)
    reduced = reduction > 1 and divides and (header.kind is FileKind.JPEG or halves)
    if reduced:
        flags = {2: 16, 4: 32, 8: 64}[reduction] | (0 if gray else flags)
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags | cv2.IMREAD_IGNORE_ORIENTATION)
    except (cv2.error, MemoryError):
        return None, False
    if pixels is None:
        return None, False
    width, height = header.size
    expected = (-(-height // reduction), -(-width // reduction)) if reduced else (height, width)
    if pixels.shape[:2] != expected:
        return None, False
    if reduced:
        pixels = pixels[: height // reduction, : width // reduction]
    return pixels, False


def _decode_careful(
    data: bytes, name: str, header: _Header, frame: int
) -> tuple[np.ndarray, bool, str]:
    """Pillow, from memory: opened by path it turns some raw TIFFs wrongly.

    Returns the pixels, whether they are upright already, and a note.
    """
    try:
        with quiet_pillow(), _opened(data, header.kind) as image:
            if frame:
                image.seek(frame)
            image.load()
            turned = header.kind is FileKind.TIFF
            # Pillow 13 turns a TIFF while loading and then drops the tag; older ones may
            # not, and then this turns it. Either way it is upright afterwards.
            shown = ImageOps.exif_transpose(image) if turned else image
            pixels, note = flat_pixels(shown)
            return pixels, turned, note
    except Exception as error:  # hostile bytes make decoders raise nearly anything
        raise _unreadable(name, error) from error


def flat_pixels(image: Image.Image) -> tuple[np.ndarray, str]:
    """Gray or RGB bytes of a Pillow image of any mode, alpha laid over white, and a note."""
    mode = image.mode
    if mode in ("RGBa", "La"):
        image = image.convert("RGBA" if mode == "RGBa" else "LA")
        mode = image.mode
    if _has_alpha(image):
        gray = mode in ("LA", "L", "1")
        return np.array(_over_white(image, gray)), ""
    if mode in ("1", "L"):
        return np.array(image.convert("L")), ""
    if mode == "RGB":
        return np.array(image), ""
    if mode.startswith("I;16"):
        return _from_16_bit(np.asarray(image).astype(np.uint16)), ""
    if mode in ("I", "F"):
        return _from_numbers(np.asarray(image))
    if mode == "CMYK":
        return np.array(image.convert("RGB")), "CMYK was turned into RGB without its ink profile"
    return np.array(image.convert("RGB")), ""


def _over_white(image: Image.Image, gray: bool) -> Image.Image:
    """Black art on a transparent page must not become black on black."""
    layer = image.convert("LA" if gray else "RGBA")
    alpha = layer.getchannel("A")
    base = "L" if gray else "RGB"
    paper = Image.new(base, layer.size, "white")
    paper.paste(layer.convert(base), mask=alpha)
    return paper


def _from_16_bit(values: np.ndarray) -> np.ndarray:
    """0..65535 to 0..255 (65535 / 257 = 255); Pillow's own conversion clips."""
    out = np.empty(values.shape, np.uint8)
    for start in range(0, len(values), 256):
        part = values[start : start + 256].astype(np.uint32)
        out[start : start + 256] = (part + 128) // 257
    return out


def _from_numbers(values: np.ndarray) -> tuple[np.ndarray, str]:
    """Whole or fractional numbers without a stated range: 0..1, 0..255 or 0..65535."""
    finite = np.nan_to_num(values.astype(np.float32), nan=0.0, posinf=0.0, neginf=0.0)
    top = float(finite.max(initial=0.0))
    white = next((w for w in (1.0, 255.0, 65535.0) if top <= w), top)
    if values.dtype.kind != "f" and top <= 1:
        white = 255.0
    scaled = np.clip(finite * (255.0 / white), 0, 255)
    return (scaled + 0.5).astype(np.uint8), f"brightness scaled: {white:g} taken for white"


def upright(pixels: np.ndarray, orientation: int) -> np.ndarray:
    """Turn an array so that the page stands upright.

    Parameters
    ----------
    pixels : ndarray, shape (M, N) or (M, N, 3)
        As stored.
    orientation : int
        1 to 8 (TIFF 6.0, tag 274; EXIF 2.3, 4.6.4): where the stored first row and column lie.

    Examples
    --------
    >>> upright(np.array([[1, 2, 3]]), 6).tolist()
    [[1], [2], [3]]
    """
    if orientation in (5, 6, 7, 8):
        pixels = pixels.swapaxes(0, 1)
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    return pixels


def shrink(pixels: np.ndarray, reduction: int) -> np.ndarray:
    """Mean over blocks of ``reduction`` pixels; what does not fill a block is left out."""
    if reduction == 1:
        return pixels
    rows, columns = (side // reduction for side in pixels.shape[:2])
    if not rows or not columns:
        return pixels
    whole = pixels[: rows * reduction, : columns * reduction]
    if whole.strides[0] < 0 or whole.strides[1] != pixels.itemsize * pixels[0, 0].size:
        # Turned: OpenCV wants rows as they lie in memory. Others are spared a second copy.
        whole = np.ascontiguousarray(whole)
    return cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)
