"""Smaller copies of a page, quickly and without losing thin lines.

Averaging keeps thin lines (sampling loses them). Whole halvings take OpenCV's fast path, so
they come first: a 300 dpi page shrinks to working size in half the time. The copies made of a
page are kept while the page is in use, because several steps ask for the same.
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

import cv2
import numpy as np

from panelscan.model.page import PageImage

Size = tuple[int, int]
Shrunk = tuple[np.ndarray, tuple[float, float]]

_copies: WeakKeyDictionary[PageImage, dict[Size, np.ndarray]] = WeakKeyDictionary()


def shrunk(pixels: np.ndarray, size: Size) -> Shrunk:
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
    return _shrunk(pixels, size, {})


def shrunk_page(image: PageImage, size: Size) -> Shrunk:
    """`shrunk` of a page's pixels; copies are kept as long as the page is, and are not ours.

    Parameters
    ----------
    image : PageImage
        The page; its pixels must not be changed any more.
    size : tuple of int
        Width and height wanted, neither larger than the decoded page's.
    """
    return _shrunk(image.pixels, size, _copies.setdefault(image, {}))


def halved_page(image: PageImage, least_px: int) -> Shrunk:
    """Copy halved, which is quick, as often as its long side stays at least so long.

    Examples
    --------
    >>> page = PageImage(np.zeros((3508, 2480), np.uint8), 2480, 3508)
    >>> halved_page(page, 800)[0].shape
    (877, 620)
    """
    rows, columns = image.pixels.shape[:2]
    times = max(0, int(np.log2(max(1.0, max(rows, columns) / least_px))))
    return shrunk_page(image, (max(1, columns >> times), max(1, rows >> times)))


def _shrunk(pixels: np.ndarray, size: Size, copies: dict[Size, np.ndarray]) -> Shrunk:
    width, height = size
    columns, rows, halved = pixels.shape[1], pixels.shape[0], 1
    while columns >= 2 * width and rows >= 2 * height:
        # An odd last row or column is left out.
        even = pixels[: rows // 2 * 2, : columns // 2 * 2]
        columns, rows, halved = columns // 2, rows // 2, 2 * halved
        pixels = _copy(even, (columns, rows), copies)
    if (columns, rows) != size:
        pixels = _copy(pixels, size, copies)
    return pixels, (columns * halved / width, rows * halved / height)


def _copy(pixels: np.ndarray, size: Size, copies: dict[Size, np.ndarray]) -> np.ndarray:
    if size not in copies:
        copies[size] = _resized(pixels, size)
        # Steps share them, so none may write on them.
        copies[size].flags.writeable = False
    return copies[size]


def _resized(pixels: np.ndarray, size: Size) -> np.ndarray:
    """Copy by area; on the last bit of the way by interpolating twice the size and halving.

    That takes half the time of averaging fractions of pixels and weighs every pixel, too.
    """
    if size[0] * 2 > pixels.shape[1] and size[1] * 2 > pixels.shape[0]:
        double = size[0] * 2, size[1] * 2
        pixels = np.asarray(cv2.resize(pixels, double, interpolation=cv2.INTER_LINEAR))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))
