"""Facing pages in one image: parted at the fold, unless the art runs through it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelscan.intake.fold import find_fold
from panelscan.intake.options import LoadedPage, SpreadMode
from panelscan.model.page import PagePart

LEAST_ASPECT, MOST_ASPECT = 1.05, 2.1
"""Width over height of an image that may hold two facing pages (each 0.52 to 1.05)."""


def split_spread(loaded: LoadedPage, mode: SpreadMode | str) -> tuple[LoadedPage, ...]:
    """Part facing pages at the fold.

    Parameters
    ----------
    loaded : LoadedPage
        A whole source image.
    mode : SpreadMode or str
        ``auto``: part where a fold is found that nothing crosses; ``split``: part every
        image that is wider than high, at the fold or else in the middle; ``keep``: never.

    Returns
    -------
    tuple of LoadedPage
        The image itself, or its left and its right half, in this order; geometry stays in
        pixels of the whole source image.
    """
    mode = SpreadMode(mode)
    rows, columns = loaded.image.pixels.shape[:2]
    aspect = columns / rows
    if mode is SpreadMode.KEEP or min(rows, columns) < 64:
        return (loaded,)
    if mode is SpreadMode.SPLIT:
        if aspect <= 1.0:
            return (loaded,)
        fold = find_fold(loaded.image.pixels).fold
        return _halves(loaded, fold.x_share if fold else 0.5)
    if not LEAST_ASPECT <= aspect <= MOST_ASPECT:
        return (loaded,)
    report = find_fold(loaded.image.pixels)
    if report.fold is not None:
        return _halves(loaded, report.fold.x_share)
    note = f"wide image kept whole: {report.reason}"
    image = replace(loaded.image, notes=(*loaded.image.notes, note))
    return (replace(loaded, image=image),)


def _halves(loaded: LoadedPage, x_share: float) -> tuple[LoadedPage, LoadedPage]:
    pixels = loaded.image.pixels
    cut = min(max(1, round(x_share * pixels.shape[1])), pixels.shape[1] - 1)
    return (
        _half(loaded, pixels[:, :cut], 0, PagePart.LEFT),
        _half(loaded, pixels[:, cut:], cut, PagePart.RIGHT),
    )


def _half(loaded: LoadedPage, pixels: np.ndarray, start: int, part: PagePart) -> LoadedPage:
    """Half of an image; ``start`` is its first column in decoded pixels."""
    dx, dy = loaded.image.offset_px
    image = replace(
        loaded.image,
        pixels=np.ascontiguousarray(pixels),
        offset_px=(dx + start * loaded.image.reduction, dy),
    )
    return LoadedPage(replace(loaded.ref, part=part), image)


def halves_along(
    loaded: LoadedPage, top_x: float, bottom_x: float
) -> tuple[LoadedPage, LoadedPage]:
    """Halves on both sides of a fold that does not stand upright in the image.

    Parameters
    ----------
    loaded : LoadedPage
        A whole source image.
    top_x, bottom_x : float
        Where the fold meets the image's top and bottom, in decoded pixels.

    Returns
    -------
    tuple of LoadedPage
        Left and right half as upright boxes that hold all of their page; what lies beyond
        the fold is painted in the tone of the image's rim. Geometry stays in source pixels.
    """
    pixels = loaded.image.pixels
    rows, columns = pixels.shape[:2]
    rim = np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]])
    tone = np.median(rim, axis=0).astype(np.uint8)
    line = top_x + (bottom_x - top_x) * (np.arange(rows) + 0.5) / rows
    stop = int(np.clip(np.ceil(line.max()), 1, columns))
    start = int(np.clip(np.floor(line.min()), 0, columns - 1))
    left, right = pixels[:, :stop].copy(), pixels[:, start:].copy()
    left[np.arange(stop)[None, :] + 0.5 > line[:, None]] = tone
    right[np.arange(start, columns)[None, :] + 0.5 < line[:, None]] = tone
    return _half(loaded, left, 0, PagePart.LEFT), _half(loaded, right, start, PagePart.RIGHT)
