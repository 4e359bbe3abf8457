"""A layered page as one flat PNG: black and white, gray or colour, with its resolution."""

from __future__ import annotations

from collections.abc import Iterator

from panelscan.templates.layers import LayeredPage
from panelscan.templates.options import InkMode, TemplateOptions
from panelscan.templates.picture_bytes import png_of_bands
from panelscan.templates.raster import Band, gray_of, merged_bands


def png_bytes(page: LayeredPage, options: TemplateOptions, size_px: tuple[int, int]) -> bytes:
    """The page as it shows, flat.

    In black and white, guides in non-photo blue drop out, as they do in a line-art scan.
    """
    bands: Iterator[Band] = merged_bands(page, size_px, options.ppi)
    if options.ink is not InkMode.COLOUR:
        bands = ((deep, gray_of(rgb)[..., None]) for deep, rgb in bands)
    bilevel = options.ink is InkMode.BLACK_AND_WHITE
    return png_of_bands(bands, *size_px, ppi=options.ppi, bilevel=bilevel)
