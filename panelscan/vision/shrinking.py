"""Smaller copies of a page, quickly and without losing thin lines.

Averaging keeps thin lines (sampling loses them). Whole halvings take OpenCV's fast path, so
they come first: a 300 dpi page shrinks to working size in half the time. of a page are kept while the page is in use, because each step asks for its own size.
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

import cv2
import numpy as np

from panelscan.model.page import PageImage

Shrunk = tuple[np.ndarray, tuple[float, float]]

_halves: WeakKeyDictionary[PageImage, list[np.ndarray]] = WeakKeyDictionary()


def shrunk(pixels: np.ndarray, size: tuple[int, int]) -> Shrunk:
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
    return _shrunk([pixels], size)


def shrunk_page(image: PageImage, size: tuple[int, int]) -> Shrunk:
    """`shrunk` of a page's pixels; the halves on the way are kept as long as the page is.

    Parameters
    ----------
    image : PageImage
        The page; its pixels must not be changed any more.
    size : tuple of int
        Width and height wanted, neither larger than the decoded page's.
    """
    return _shrunk(_halves.setdefault(image, [image.pixels]), size)


def _shrunk(halves: list[np.ndarray], size: tuple[int, int]) -> Shrunk:
    width, height = size
    step = 0
    while halves[step].shape[1] >= 2 * width and halves[step].shape[0] >= 2 * height:
        if step + 1 == len(halves):
            halves.append(_halved(halves[step]))
        step += 1
    pixels = halves[step]
    rows, columns = pixels.shape[:2]
    covered = (columns << step, rows << step)
    if (columns, rows) != (width, height):
        pixels = cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA)
    return pixels, (covered[0] / width, covered[1] / height)


def _halved(pixels: np.ndarray) -> np.ndarray:
    rows, columns = pixels.shape[0] // 2, pixels.shape[1] // 2
    even = pixels[: 2 * rows, : 2 * columns]
    return np.asarray(cv2.resize(even, (columns, rows), interpolation=cv2.INTER_AREA))
