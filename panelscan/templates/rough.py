"""An artist's rough laid into place on the new page, and lightened."""

from __future__ import annotations

import numpy as np

from panelscan.model.formats import Box, PageFormat
from panelscan.model.outline import Outline
from panelscan.model.units import MM_PER_INCH
from panelscan.templates.layers import Picture
from panelscan.templates.options import Rough, RoughPlace
from panelscan.templates.placement import Placement

FINEST_PPI = 300.0


def laid_rough(rough: Rough, placement: Placement, ppi: float) -> Picture:
    """The rough as a picture that fills the whole sheet's box, in the trim's frame.

    Parameters
    ----------
    rough : Rough
        The image and what it is to be laid onto.
    placement : Placement
        The template's panels.
    ppi : float
        Resolution of the template; the rough is kept at no more than 300 dpi, which is
        plenty to trace from.

    Returns
    -------
    Picture
        White outside the rough.
    """
    import cv2

    page = placement.page_format
    fine = min(float(ppi), FINEST_PPI)
    (dx, dy), (w_mm, h_mm) = page.trim_origin_mm, page.sheet_mm
    per_mm = fine / MM_PER_INCH
    width, height = round(w_mm * per_mm), round(h_mm * per_mm)
    to_mm = _picture_to_mm(rough, placement)
    # cv2 puts pixel centres on whole numbers; ours lie at one half.
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
    to_px = np.array(
        [[width / w_mm, 0, dx * width / w_mm], [0, height / h_mm, dy * height / h_mm], [0, 0, 1.0]]
    )
    matrix = np.linalg.inv(half) @ to_px @ to_mm @ half
    pixels = rough.pixels
    scale = np.sqrt(abs(np.linalg.det(matrix[:2, :2])))
    if scale < 0.5:
        shrink = 1.0 / max(1.0, np.floor(0.75 / scale))
        pixels = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
        sy, sx = pixels.shape[0] / rough.pixels.shape[0], pixels.shape[1] / rough.pixels.shape[1]
        matrix = np.linalg.inv(half) @ to_px @ to_mm @ np.diag([1 / sx, 1 / sy, 1.0]) @ half
    fill = 255 if pixels.ndim == 2 else (255, 255, 255)
    laid = cv2.warpPerspective(
        pixels,
        matrix,
        (width, height),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=fill,
    )
    return Picture(_lightened(laid, rough.lightness), (-dx, -dy, w_mm - dx, h_mm - dy))


def _lightened(pixels: np.ndarray, lightness: float) -> np.ndarray:
    table = np.round(255 - (255 - np.arange(256)) * (1.0 - lightness)).astype(np.uint8)
    return np.asarray(table[pixels])


def _picture_to_mm(rough: Rough, placement: Placement) -> np.ndarray:
    """3 x 3 matrix from the rough's pixels to millimetres in the trim's frame."""
    import cv2

    if rough.onto is RoughPlace.PANELS:
        return _by_panels(rough, placement)
    rows, columns = rough.pixels.shape[:2]
    frame = rough.frame or Outline.box(0, 0, columns, rows)
    x0, y0, x1, y1 = _target_box(rough.onto, placement.page_format)
    goal = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(frame.array().astype(np.float32), goal)
    return np.asarray(matrix, dtype=np.float64)


def _target_box(onto: RoughPlace, page: PageFormat) -> Box:
    (dx, dy), (w, h) = page.trim_origin_mm, page.sheet_mm
    return {
        RoughPlace.TRIM: (0.0, 0.0, *page.trim_mm),
        RoughPlace.BLEED: page.bleed_box_mm,
        RoughPlace.LIVE: page.live_box_mm,
        RoughPlace.SHEET: (-dx, -dy, w - dx, h - dy),
    }[onto]


def _by_panels(rough: Rough, placement: Placement) -> np.ndarray:
    """Best stretch and shift (with a turn) that lays the rough's panels onto the template's.

    Least squares over the corners of the bounding boxes of the panels that both have.
    """
    pairs = list(zip(rough.panels, placement.panels, strict=False))
    before = [_box_corners(a.bounds) for a, _ in pairs]
    after = [_box_corners(b.outline.bounds) for _, b in pairs]
    source, goal = np.concatenate(before), np.concatenate(after)
    design = np.column_stack([source, np.ones(len(source))])
    solution, *_ = np.linalg.lstsq(design, goal, rcond=None)
    return np.vstack([solution.T, [0.0, 0.0, 1.0]])


def _box_corners(b: Box) -> np.ndarray:
    return np.array([(b[0], b[1]), (b[2], b[1]), (b[2], b[3]), (b[0], b[3])])
