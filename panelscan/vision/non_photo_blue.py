"""Pale guide lines dropped out of a page, as a line-art camera drops them.

Templates and hand-ruled boards carry guides (trim, live area, lettering rules) in pale
cyan-blue so that they vanish in reproduction. Here thin lines of that colour on light paper
are replaced by the paper beside them, so that they are not taken for borders; fills of that
colour, a sky for one, stay. On gray pages the same is done for thin pale gray lines, but only
where the page also has dark ruled lines: a faint pencil rough keeps its borders.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from panelscan.model.page import PageImage
from panelscan.model.units import MM_PER_INCH
from panelscan.vision.shrinking import shrunk_page

THICKEST_MM = 0.75
PAPER_LEVEL = 215
STRETCH_MM = 6.0
LEAST_SHARE, LEAST_GRAY_SHARE = 5e-4, 1e-2
MOST_SHARE = 0.08
DARK_LEVEL = 110
PALE_GRAY, NEARLY_WHITE = 180, 250
LARGE_PX = 2400
_USUAL_PPI, _LARGEST_IN = 300.0, 17.0
"""Where nothing tells the resolution: the usual one, or that of the largest usual board."""


def without_guides(image: PageImage) -> PageImage:
    """The page without thin pale blue lines; the same object where there are none.

    Parameters
    ----------
    image : PageImage
        As decoded.

    Returns
    -------
    PageImage
        Same size; only pixels of such lines differ.

    Notes
    -----
    Pages on which straight level and upright stretches of 6 mm take less than 1/2000 of the
    area (gray pages: lines of 24 mm, 1/100), or all such lines more than 8 %, are left alone:
    that is no set of guides.
    """
    pixels = image.pixels
    if not _may_have_guides(pixels):
        return image
    if image.resolution is not None:
        ppi = image.resolution.mean_ppi / image.reduction
    else:
        long_px = max(image.source_width_px, image.source_height_px)
        ppi = max(_USUAL_PPI, long_px / _LARGEST_IN) / image.reduction
    rows, columns = pixels.shape[:2]
    if pixels.ndim == 3 and max(rows, columns) >= LARGE_PX:
        # Halved, a page tells in a quarter of the time that it has none.
        half = shrunk_page(image, (columns // 2, rows // 2))[0]
        if _guides(half, ppi / 2, 0.5) is None:
            return image
    lines = _guides(pixels, ppi)
    if lines is None:
        return image
    width = _thickest(ppi)
    reach = np.ones((width + 2, width + 2), np.uint8)
    planes = pixels if pixels.ndim == 3 else pixels[..., None]
    paper = cv2.dilate(np.where(lines[..., None], np.uint8(0), planes), reach)
    paper = paper.reshape(planes.shape)
    replaced = lines & (paper.min(axis=2) >= PAPER_LEVEL)
    cleaned = np.where(replaced[..., None], paper, planes).reshape(pixels.shape)
    note = "Pale guide lines were left out of account."
    return replace(image, pixels=cleaned, notes=(*image.notes, note))


def _thickest(ppi: float) -> int:
    """Width of the thickest guide in pixels, odd."""
    return max(3, round(THICKEST_MM / MM_PER_INCH * ppi) | 1)


def _guides(pixels: np.ndarray, ppi: float, slack: float = 1.0) -> np.ndarray | None:
    """Where thin pale lines run, bool of shape (M, N); None where they make no set of guides.

    `slack` is the share of the usual length of straight lines that is enough.
    """
    width = _thickest(ppi)
    stretch = max(9, round(STRETCH_MM / MM_PER_INCH * ppi))
    blue = _is_guide(pixels).astype(np.uint8)
    kernel = np.ones((width, width), np.uint8)
    if pixels.ndim == 2:
        ink = (pixels < DARK_LEVEL).astype(np.uint8)
        if _straight_share(ink, stretch) < LEAST_SHARE:
            return None
        blue[cv2.dilate(ink, np.ones((7, 7), np.uint8)) > 0] = 0
    # The outside counts as clear, else a line along the picture's edge would look thick.
    core = cv2.erode(blue, kernel, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    thick = cv2.dilate(cv2.dilate(core, kernel), kernel)
    lines = (blue > 0) & (thick == 0)
    if _share(lines) > MOST_SHARE:
        return None
    if pixels.ndim == 2:
        straight, least = _share(_long_dashes(lines, stretch)), LEAST_GRAY_SHARE
    else:
        straight, least = _straight_share(lines, stretch), LEAST_SHARE
    return lines if straight >= slack * least else None


def _long_dashes(lines: np.ndarray, stretch: int) -> np.ndarray:
    """Only what belongs to level or upright lines, dashed ones too, of four stretches."""
    mask = lines.astype(np.uint8)
    kept = np.zeros_like(mask)
    gap, long = max(3, stretch // 2), 4 * stretch
    for joint, line in (((1, gap), (1, long)), ((gap, 1), (long, 1))):
        joined = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones(joint, np.uint8))
        kept |= cv2.morphologyEx(joined, cv2.MORPH_OPEN, np.ones(line, np.uint8)).astype(np.uint8)
    return lines & (kept > 0)


def _straight_share(lines: np.ndarray, stretch: int) -> float:
    """Share of the page in level or upright runs of at least that many pixels."""
    mask = lines.astype(np.uint8)
    level = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((1, stretch), np.uint8))
    upright = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((stretch, 1), np.uint8))
    return _share(np.bitwise_or(level, upright))


def _share(mask: np.ndarray) -> float:
    """Share of a mask that is not 0; counting is far quicker than averaging."""
    return float(np.count_nonzero(mask)) / mask.size


def _is_guide(pixels: np.ndarray) -> np.ndarray:
    """Pale cyan to blue, from the faintest trace on: red lowest, blue highest, not dark.

    On a gray page: pale, but not paper.
    """
    if pixels.ndim == 2:
        return np.asarray((pixels >= PALE_GRAY) & (pixels < NEARLY_WHITE))
    red, green, blue = cv2.split(pixels)
    # Differences below nought count as nought.
    pale = (cv2.subtract(blue, red) >= 8) & (green >= red)
    return np.asarray(pale & (cv2.subtract(green, blue) <= 4) & (blue >= 165))


def _may_have_guides(pixels: np.ndarray) -> bool:
    """A quick look at every third pixel each way."""
    size = max(1, pixels.shape[1] // 3), max(1, pixels.shape[0] // 3)
    some = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_NEAREST))
    return _share(_is_guide(some)) >= LEAST_SHARE / 2
