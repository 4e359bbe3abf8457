"""A page as a coarse picture, by which another scan or stage of it is known again."""

from __future__ import annotations

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.record import LOOK_COLUMNS, LOOK_ROWS
from panelscan.vision.shrinking import halved_page

_OVERSAMPLING = 8


def coarse_look(image: PageImage, frame: Outline) -> bytes:
    """Mean gray of 24 rows by 16 columns of the page frame.

    Parameters
    ----------
    image : PageImage
        The page's pixels.
    frame : Outline
        The page inside them, four corners in source pixels; of another number of corners
        its bounding box counts.

    Returns
    -------
    bytes
        384 bytes, row by row; 0 black to 255 white.
    """
    size = LOOK_COLUMNS * _OVERSAMPLING, LOOK_ROWS * _OVERSAMPLING
    # Shrunk by area first, so that the warp does not skip over lines.
    small, cover = halved_page(image, 2 * size[1])
    if small.ndim == 3:
        small = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    local = image.to_decoded(frame).array() / np.array(cover)
    if len(local) != 4:
        (x0, y0), (x1, y1) = local.min(axis=0), local.max(axis=0)
        local = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    box = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], np.float32)
    back = cv2.getPerspectiveTransform(box, local.astype(np.float32))
    flat = cv2.warpPerspective(
        small,
        back,
        size,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    cells = cv2.resize(flat, (LOOK_COLUMNS, LOOK_ROWS), interpolation=cv2.INTER_AREA)
    return cells.tobytes()
