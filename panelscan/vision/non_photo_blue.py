"""Pale blue guide lines dropped out of a page, as a line-art camera drops them.

Templates and hand-ruled boards carry guides (trim, live area, lettering rules) in pale
cyan-blue so that they vanish in reproduction. Here thin lines of that colour on light paper
are replaced by the paper beside them, so that they are not taken for borders; fills of that
colour, a sky for one, stay.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelscan.model.page import PageImage
from panelscan.model.units import MM_PER_INCH

THICKEST_MM = 0.75
PAPER_LEVEL = 215
STRETCH_MM = 6.0
LEAST_SHARE = 5e-4
MOST_SHARE = 0.08
_USUAL_PPI = 300.0


def without_guides(image: PageImage) -> PageImage:
    """The page without thin pale blue lines; the same object where there are none.

    Parameters
    ----------
    image : PageImage
        As decoded. Gray pages are returned as they are.

    Returns
    -------
    PageImage
        Same size; only pixels of such lines differ.

    Notes
    -----
    Pages on which straight level and upright stretches of 6 mm take less than 1/2000 of the
    area, or all such lines more than 8 %, are left alone: that is no set of guides.
    """
    pixels = image.pixels
    if pixels.ndim != 3 or not _may_have_guides(pixels):
        return image
    import cv2

    ppi = _USUAL_PPI if image.resolution is None else image.resolution.mean_ppi
    width = max(3, round(THICKEST_MM / MM_PER_INCH * ppi / image.reduction) | 1)
    blue = _is_guide_blue(pixels).astype(np.uint8)
    kernel = np.ones((width, width), np.uint8)
    # The outside counts as clear, else a line along the picture's edge would look thick.
    core = cv2.erode(blue, kernel, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    thick = cv2.dilate(cv2.dilate(core, kernel), kernel)
    lines = (blue > 0) & (thick == 0)
    stretch = max(9, round(STRETCH_MM / MM_PER_INCH * ppi / image.reduction))
    if lines.mean() > MOST_SHARE or _straight_share(lines, stretch) < LEAST_SHARE:
        return image
    reach = np.ones((width + 2, width + 2), np.uint8)
    paper = cv2.dilate(np.where(lines[..., None], np.uint8(0), pixels), reach)
    replaced = lines & (paper.min(axis=2) >= PAPER_LEVEL)
    cleaned = np.where(replaced[..., None], paper, pixels)
    note = "Pale blue guide lines were left out of account."
    return replace(image, pixels=cleaned, notes=(*image.notes, note))


def _straight_share(lines: np.ndarray, stretch: int) -> float:
    """Share of the page in level or upright runs of at least that many pixels."""
    import cv2

    mask = lines.astype(np.uint8)
    level = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((1, stretch), np.uint8))
    upright = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((stretch, 1), np.uint8))
    return float(np.mean((level > 0) | (upright > 0)))


def _is_guide_blue(pixels: np.ndarray) -> np.ndarray:
    """Pale cyan to blue, from the faintest trace on: red lowest, blue highest, not dark."""
    red, green, blue = (pixels[..., c].astype(np.int16) for c in range(3))
    tint = blue - red
    return np.asarray((tint >= 8) & (green >= red) & (green <= blue + 4) & (blue >= 165))


def _may_have_guides(pixels: np.ndarray) -> bool:
    """A quick look at every third pixel each way."""
    share = float(_is_guide_blue(pixels[::3, ::3]).mean())
    return share >= LEAST_SHARE / 2
