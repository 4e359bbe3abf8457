"""Facing pages in a photo, or laid askew on a scanner's bed: parted once the page is found.

The intake looks for an upright fold. Where the open book lies turned or seen at an angle,
its outline must be found first, and that is the finder's knowledge; so both meet here.
"""

from __future__ import annotations

import cv2
import numpy as np

from panelscan.intake.fold import find_fold
from panelscan.intake.options import LoadedPage, SpreadMode
from panelscan.intake.spreads import LEAST_ASPECT, MOST_ASPECT, halves_along, split_spread
from panelscan.model.page import PagePart

FLAT_HEIGHT_PX = 900
LEAST_FRAME_CONFIDENCE = 0.5


def parted(loaded: LoadedPage, mode: SpreadMode) -> tuple[LoadedPage, ...]:
    """Part facing pages as a scan does, however they lie.

    Parameters
    ----------
    loaded : LoadedPage
        A whole source image.
    mode : SpreadMode

    Returns
    -------
    tuple of LoadedPage
        The image itself, or its left and right half.
    """
    parts = part_turned(loaded, mode)
    return parts if len(parts) > 1 else split_spread(loaded, mode)


def part_turned(loaded: LoadedPage, mode: SpreadMode) -> tuple[LoadedPage, ...]:
    """Part facing pages that lie turned or at an angle in their image.

    Parameters
    ----------
    loaded : LoadedPage
        A whole source image.
    mode : SpreadMode
        Only ``auto`` looks here; the other modes are left to the intake.

    Returns
    -------
    tuple of LoadedPage
        The image itself, or its left and right half.
    """
    from panelscan.vision.page_frame import find_page_frame

    image = loaded.image
    rows, columns = image.pixels.shape[:2]
    if mode is not SpreadMode.AUTO or loaded.ref.part is not PagePart.WHOLE:
        return (loaded,)
    if columns < LEAST_ASPECT * rows:
        return (loaded,)
    frame = find_page_frame(image)
    if frame.kind == "whole" or frame.confidence < LEAST_FRAME_CONFIDENCE:
        return (loaded,)
    quad = frame.outline.array()
    width = np.hypot(*(quad[1] - quad[0])) + np.hypot(*(quad[2] - quad[3]))
    height = np.hypot(*(quad[3] - quad[0])) + np.hypot(*(quad[2] - quad[1]))
    if not LEAST_ASPECT <= width / height <= MOST_ASPECT:
        return (loaded,)
    flat_width = round(FLAT_HEIGHT_PX * width / height)
    box = np.array(
        [[0, 0], [flat_width, 0], [flat_width, FLAT_HEIGHT_PX], [0, FLAT_HEIGHT_PX]], np.float32
    )
    back = cv2.getPerspectiveTransform(box, quad.astype(np.float32))
    fold = find_fold(_flat(image.pixels, back, (flat_width, FLAT_HEIGHT_PX))).fold
    if fold is None:
        return (loaded,)
    x = fold.x_share * flat_width
    return halves_along(loaded, *_at_top_and_bottom(back, x, rows))


def _flat(pixels: np.ndarray, back: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """The page seen straight on, shrunk by area first so that the warp skips nothing."""
    scale = min(1.0, 1.3 * size[1] / pixels.shape[0])
    small_size = max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale))
    small = cv2.resize(pixels, small_size, interpolation=cv2.INTER_AREA)
    shrink = np.diag([small_size[0] / pixels.shape[1], small_size[1] / pixels.shape[0], 1.0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpPerspective(
        small, shrink @ back, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )


def _at_top_and_bottom(back: np.ndarray, x: float, rows: int) -> tuple[float, float]:
    """Where the fold, upright at x in the flat page, meets the image's top and bottom."""
    ends = np.array([[x, 0.0, 1.0], [x, float(FLAT_HEIGHT_PX), 1.0]]) @ back.T
    (x0, y0), (x1, y1) = ends[:, :2] / ends[:, 2:]
    slope = (x1 - x0) / (y1 - y0)
    return float(x0 - slope * y0), float(x0 + slope * (rows - y0))
