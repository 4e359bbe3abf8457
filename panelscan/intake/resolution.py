"""Pixels per inch of a page: from the file's own fields, else from what the artist says.

Nothing is guessed in silence: where neither tells, the resolution is None and lengths in
millimetres stay empty.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from panelscan.model.formats import PageFormat
from panelscan.model.units import (
    LEAST_PPI,
    MM_PER_INCH,
    MOST_PPI,
    Resolution,
    ResolutionSource,
)

Ppi = tuple[float, float]

FILLERS_PPI = (72.0, 96.0)
"""Figures that programs write when they know none (EXIF 2.3, 4.6.4: default 72)."""

LEAST_LONG_SIDE_IN, MOST_LONG_SIDE_IN = 3.0, 60.0
MOST_UNEVENNESS = 3.0

# ISO 216, JIS P 0138, ANSI/ASME Y14.1, in mm; the last three are trade practice.
_SHEETS_MM = (
    (297.0, 420.0), (210.0, 297.0), (148.0, 210.0), (250.0, 353.0), (176.0, 250.0),
    (257.0, 364.0), (182.0, 257.0), (128.0, 182.0), (215.9, 279.4), (279.4, 431.8),
    (168.275, 260.35), (174.625, 266.7), (188.0, 263.0),
)  # fmt: skip
_SHEET_TOLERANCE = 0.01
_FORMAT_TOLERANCE = 0.02
_X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 0x011A, 0x011B, 0x0128


def header_ppi(info: Mapping[Any, Any], exif: Mapping[int, Any]) -> Ppi | None:
    """Resolution as a raster file's header states it, or None.

    Parameters
    ----------
    info : mapping
        Pillow's ``Image.info``: ``dpi`` comes from JFIF, pHYs, TIFF tags or BMP.
    exif : mapping
        EXIF tags; WebP and AVIF keep a resolution only there.

    Examples
    --------
    >>> header_ppi({"dpi": (599.9988, 599.9988)}, {})
    (600.0, 600.0)
    >>> header_ppi({"dpi": (0, 0)}, {}) is None
    True
    """
    stated = [_pair(info.get("dpi")), _exif_ppi(exif)]
    known = [pair for pair in stated if pair is not None]
    sure = [pair for pair in known if not is_filler(pair)]
    return (sure or known)[0] if known else None


def _pair(value: Any) -> Ppi | None:
    try:
        x, y = float(value[0]), float(value[1])
    except (TypeError, ValueError, IndexError, ZeroDivisionError):
        return None
    return (snapped(x), snapped(y)) if x > 0 and y > 0 and math.isfinite(x * y) else None


def _exif_ppi(exif: Mapping[int, Any]) -> Ppi | None:
    """EXIF 2.3, 4.6.4: XResolution, YResolution, ResolutionUnit (2 inch, 3 centimetre)."""
    unit = {2: 1.0, 3: 2.54}.get(exif.get(_RESOLUTION_UNIT, 2))
    x, y = exif.get(_X_RESOLUTION), exif.get(_Y_RESOLUTION)
    if unit is None or x is None or y is None:
        return None
    try:
        return _pair((float(x) * unit, float(y) * unit))
    except (TypeError, ValueError, ZeroDivisionError):
        return None


def snapped(value: float) -> float:
    """Undo the rounding of a header that counts in whole pixels per metre or centimetre."""
    common = round(value / 50) * 50
    if common and abs(value - common) <= 0.001 * common:
        return float(common)
    return float(round(value)) if abs(value - round(value)) <= 0.02 else value


def is_filler(ppi: Ppi) -> bool:
    """Whether a resolution is one that programs fill in when they know none."""
    return any(abs(ppi[0] - f) < 0.01 and abs(ppi[1] - f) < 0.01 for f in FILLERS_PPI)


def judge(ppi: Ppi | None, size_px: tuple[int, int]) -> tuple[Ppi | None, str]:
    """Whether a stated resolution is believed, and a note where it is not.

    Parameters
    ----------
    ppi : tuple of float or None
        As stated.
    size_px : tuple of int
        Width and height of the upright image.

    Examples
    --------
    >>> judge((300.0, 300.0), (2480, 3508))
    ((300.0, 300.0), '')
    >>> judge((72.0, 72.0), (1240, 1754))[0] is None
    True
    >>> judge((72.0, 72.0), (595, 842))[0]
    (72.0, 72.0)
    """
    if ppi is None:
        return None, ""
    said = f"{ppi[0]:g}" if ppi[0] == ppi[1] else f"{ppi[0]:g} x {ppi[1]:g}"
    if not all(LEAST_PPI <= value <= MOST_PPI for value in ppi):
        return None, f"the file says {said} dpi, which no page has: not believed"
    if max(ppi) / min(ppi) > MOST_UNEVENNESS:
        return None, f"the file says {said} dpi, too uneven to be believed"
    long_side_in = max(size_px[0] / ppi[0], size_px[1] / ppi[1])
    if not LEAST_LONG_SIDE_IN <= long_side_in <= MOST_LONG_SIDE_IN:
        return None, (
            f"the file says {said} dpi, which makes the page {long_side_in:.1f} in long: "
            "not believed"
        )
    if is_filler(ppi) and not _is_sheet(ppi, size_px):
        return None, f"the file says {said} dpi, which is often only a filler: not believed"
    return ppi, ""


def _is_sheet(ppi: Ppi, size_px: tuple[int, int]) -> bool:
    """Whether the size at this resolution is that of a known sheet, either way up."""
    sides = sorted(px / each * MM_PER_INCH for px, each in zip(size_px, ppi, strict=True))
    return any(
        abs(sides[0] / w - 1) <= _SHEET_TOLERANCE and abs(sides[1] / h - 1) <= _SHEET_TOLERANCE
        for w, h in _SHEETS_MM
    )


def resolve(
    stated: Ppi | None,
    size_px: tuple[int, int],
    given_dpi: float | None = None,
    page_format: PageFormat | None = None,
    source: ResolutionSource = ResolutionSource.FILE,
) -> tuple[Resolution | None, tuple[str, ...]]:
    """Resolution of the source image at full size, with what is to be noted.

    The file's own fields come first, then ``given_dpi``, then the page format.

    Parameters
    ----------
    stated : tuple of float or None
        From the file.
    size_px : tuple of int
        Width and height of the upright image at full size.
    given_dpi : float or None
        What the artist says.
    page_format : PageFormat or None
        The page that the image is said to show.
    source : ResolutionSource
        What to call the file's own figure.

    Returns
    -------
    tuple
        Resolution or None, and notes.
    """
    believed, note = judge(stated, size_px)
    notes = [note] if note else []
    if believed is not None:
        if given_dpi and abs(believed[0] / given_dpi - 1) > 0.02:
            notes.append(f"the file says {believed[0]:g} dpi, not {given_dpi:g}: the file is used")
        return Resolution(*believed, source=source), tuple(notes)
    if given_dpi:
        return Resolution(given_dpi, given_dpi, ResolutionSource.GIVEN), tuple(notes)
    if page_format is not None:
        found, note = from_format(page_format, size_px)
        return found, (*notes, note)
    return None, (*notes, "the resolution is unknown, so lengths in millimetres stay empty")


def from_format(page_format: PageFormat, size_px: tuple[int, int]) -> tuple[Resolution | None, str]:
    """Resolution of an image said to show a page of a known format.

    The trim, the trim with bleed, the board, and two trims side by side are tried; the one
    whose proportions agree best counts, if they agree within 2 %.

    Examples
    --------
    >>> from panelscan.model.formats import US_PRINT
    >>> found, note = from_format(US_PRINT, (1988, 3075))
    >>> round(found.mean_ppi), note
    (300, 'resolution taken from the format us-print (trim)')
    """
    aspect = size_px[0] / size_px[1]
    candidates = _shown_sizes_mm(page_format)
    error, name, (width_mm, height_mm) = min(
        (abs(math.log(w / h / aspect)), name, (w, h)) for name, (w, h) in candidates.items()
    )
    if error > _FORMAT_TOLERANCE:
        return None, (
            f"the image's proportions are not those of {page_format.name}, so its resolution "
            "stays unknown"
        )
    ppi = math.sqrt(size_px[0] / width_mm * size_px[1] / height_mm) * MM_PER_INCH
    if not LEAST_PPI <= ppi <= MOST_PPI:
        return None, f"no page of {page_format.name} has {ppi:.0f} dpi"
    resolution = Resolution(ppi, ppi, ResolutionSource.PAGE_FORMAT)
    return resolution, f"resolution taken from the format {page_format.name} ({name})"


def _shown_sizes_mm(page_format: PageFormat) -> dict[str, tuple[float, float]]:
    width, height = page_format.trim_mm
    bleed = page_format.bleed_mm
    sizes = {
        "trim": (width, height),
        "trim and bleed": (width + 2 * bleed, height + 2 * bleed),
        "facing pages": (2 * width, height),
        "facing pages and bleed": (2 * width + 2 * bleed, height + 2 * bleed),
    }
    if page_format.board_mm:
        sizes["board"] = page_format.board_mm
    return sizes
