"""Smaller copies of a page by area averaging, quickly.

Averaging keeps thin lines (sampling loses them). Whole halvings take OpenCV's fast path, so
they come first: a 300 dpi page shrinks to working size in half the time.
"""

from __future__ import annotations

import cv2
import numpy as np


def shrunk(pixels: np.ndarray, size: tuple[int, int]) -> tuple[np.ndarray, tuple[float, float]]:
    """Copy of an image at a smaller size.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3)
    size : tuple of int
        Width and height wanted, neither larger than the image's.

    Returns
    -------
    small : ndarray of uint8
    cover : tuple of float
        How many pixels of the image one pixel of the copy covers, along x and along y; an odd
        last column or row is left out by each halving.

    Examples
    --------
    >>> small, cover = shrunk(np.zeros((401, 600), np.uint8), (150, 100))
    >>> small.shape, cover
    ((100, 150), (4.0, 4.0))
    """
    width, height = size
    covered_x, covered_y = float(pixels.shape[1]), float(pixels.shape[0])
    halved = 1
    while pixels.shape[1] >= 2 * width and pixels.shape[0] >= 2 * height:
        rows, columns = pixels.shape[0] // 2, pixels.shape[1] // 2
        even = pixels[: 2 * rows, : 2 * columns]
        pixels = cv2.resize(even, (columns, rows), interpolation=cv2.INTER_AREA)
        halved *= 2
        covered_x, covered_y = float(columns * halved), float(rows * halved)
    if pixels.shape[1::-1] != (width, height):
        pixels = cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA)
    return pixels, (covered_x / width, covered_y / height)
