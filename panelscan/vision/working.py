"""The working image: a page made small enough to decide on, with its way back to the source.

Working coordinates follow the house rule: pixel (0, 0) covers 0..1, x before y, so a mask's
first column starts at x = 0. Arrays stay row, column.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.vision.shrinking import shrunk_page

LONG_SIDE_PX = 1200
FRINGE_SHARE = 0.0034


@dataclass(frozen=True, eq=False)
class Working:
    """A page at working size, seen straight on.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (M, N, 3)
        The page frame's pixels.
    gray : ndarray of uint8, shape (M, N)
        Its lightness.
    to_source : ndarray of float64, shape (3, 3)
        Homography from working to source coordinates (edges on whole numbers).
    unit_px : float
        A thousandth of the long side: lengths in the settings are in this unit.
    """

    rgb: np.ndarray
    gray: np.ndarray
    to_source: np.ndarray
    unit_px: float

    @cached_property
    def lab(self) -> np.ndarray:
        """Lightness and colour on one scale: uint8 Lab of shape (M, N, 3)."""
        return np.asarray(cv2.cvtColor(self.rgb, cv2.COLOR_RGB2LAB))

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in working pixels."""
        return int(self.gray.shape[1]), int(self.gray.shape[0])

    def source_points(self, points: np.ndarray) -> np.ndarray:
        """Working points, shape (K, 2), in source pixels."""
        return apply_homography(self.to_source, points)

    def working_points(self, points: np.ndarray) -> np.ndarray:
        """Source points, shape (K, 2), in working pixels."""
        return apply_homography(np.linalg.inv(self.to_source), points)


def apply_homography(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points of shape (K, 2) moved by a homography of shape (3, 3)."""
    ones = np.ones((len(points), 1))
    moved = np.hstack([np.asarray(points, dtype=np.float64), ones]) @ matrix.T
    return np.asarray(moved[:, :2] / moved[:, 2:])


def working_image(
    image: PageImage, frame: Outline | None = None, long_side_px: int = LONG_SIDE_PX
) -> Working:
    """Page at working size; straightened when the frame is not the whole image.

    Parameters
    ----------
    image : PageImage
        The page as decoded.
    frame : Outline or None
        The page inside the image, four corners from the page's own top left on, in source
        pixels; None where the page fills the image.
    long_side_px : int
        Long side of the result; a smaller page is never enlarged.

    Returns
    -------
    Working
    """
    rows, columns = image.pixels.shape[:2]
    if frame is None:
        scale = min(1.0, long_side_px / max(rows, columns))
        width, height = max(1, round(columns * scale)), max(1, round(rows * scale))
        small, cover = shrunk_page(image, (width, height))
        back = np.diag([*cover, 1.0])
    else:
        small, back = _straightened(image, frame, long_side_px)
    dx, dy = image.offset_px
    k = image.reduction
    to_source = np.array([[k, 0, dx], [0, k, dy], [0, 0, 1.0]]) @ back
    rgb = small if small.ndim == 3 else cv2.cvtColor(small, cv2.COLOR_GRAY2RGB)
    gray = small if small.ndim == 2 else cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    return Working(rgb, gray, to_source, max(gray.shape) / 1000.0)


def _straightened(
    image: PageImage, frame: Outline, long_side_px: int
) -> tuple[np.ndarray, np.ndarray]:
    """Frame warped to an upright rectangle, and the way back to decoded pixels."""
    quad = image.to_decoded(frame).array()
    width = (np.hypot(*(quad[1] - quad[0])) + np.hypot(*(quad[2] - quad[3]))) / 2
    height = (np.hypot(*(quad[3] - quad[0])) + np.hypot(*(quad[2] - quad[1]))) / 2
    scale = min(1.0, long_side_px / max(width, height))
    size = max(1, round(width * scale)), max(1, round(height * scale))
    # Shrink first by area, so that the warp itself samples at about one to one.
    rows, columns = image.pixels.shape[:2]
    first = max(1, round(columns * scale)), max(1, round(rows * scale))
    small, cover = shrunk_page(image, first)
    shrink = np.diag([*cover, 1.0])
    box = np.array([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]], dtype=np.float64)
    back = cv2.getPerspectiveTransform(box.astype(np.float32), quad.astype(np.float32))
    # cv2 puts pixel centres on whole numbers, we put edges there: shift by half a pixel.
    centre = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
    small_from_box = np.linalg.inv(centre) @ np.linalg.inv(shrink) @ back @ centre
    warped = cv2.warpPerspective(
        small,
        small_from_box,
        size,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return _without_fringe(warped), back.astype(np.float64)


def _without_fringe(warped: np.ndarray) -> np.ndarray:
    """Outermost ring overwritten from inside: it may show a sliver of the surround.

    A dark sliver would cut the ground off from the page's edge, where it is looked for.
    """
    ring = max(2, round(FRINGE_SHARE * max(warped.shape[:2])))
    if min(warped.shape[:2]) < 8 * ring:
        return warped
    inner = np.ascontiguousarray(warped[ring:-ring, ring:-ring])
    return cv2.copyMakeBorder(inner, ring, ring, ring, ring, cv2.BORDER_REPLICATE)
