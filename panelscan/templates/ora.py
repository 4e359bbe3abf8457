"""A layered page as OpenRaster 0.0.6.

A ZIP whose first entry is the stored ``mimetype``; ``stack.xml`` lists the layers, top
first; the root stack carries no attributes, offsets stand on layers only; a merged picture
and a thumbnail of at most 256 pixels a side go with it.
"""

from __future__ import annotations

import io
import zipfile
from xml.etree import ElementTree as ET

import numpy as np

from panelscan.templates.layers import LayeredPage
from panelscan.templates.options import TemplateOptions
from panelscan.templates.picture_bytes import png_of, png_of_bands
from panelscan.templates.raster import (
    Band,
    bands,
    merged_bands,
    merged_rgb,
    painters,
    rgba_of,
    stack_bands,
)

MIMETYPE = b"image/openraster"
THUMBNAIL_PX = 256
_FIXED_DATE = (1980, 1, 1, 0, 0, 0)


def ora_bytes(page: LayeredPage, options: TemplateOptions, size_px: tuple[int, int]) -> bytes:
    """The page as an OpenRaster file's bytes; the same bytes every time."""
    width, height = size_px
    drawn = painters(page, size_px, options.ppi)
    strips: list[list[Band]] = [[] for _ in drawn]
    merged: list[Band] = []
    for top, deep in bands(height):
        steps = [p.steps(top, deep) for p in drawn]
        shown = [s for s, layer in zip(steps, page.layers, strict=True) if layer.visible]
        merged.append((deep, merged_rgb([s for own in shown for s in own], deep, width)))
        for strip, own in zip(strips, steps, strict=True):
            strip.append((deep, rgba_of(own, deep, width)))
    files: dict[str, bytes] = {"stack.xml": _stack(page, options, size_px)}
    blank: bytes | None = None
    for layer, painter, strip in zip(page.layers, drawn, strips, strict=True):
        if painter.is_empty:
            blank = blank or png_of_bands(strip, width, height, options.ppi)
        data = blank if painter.is_empty and blank else None
        files[_source(layer.key)] = data or png_of_bands(strip, width, height, options.ppi)
        strip.clear()
    files["mergedimage.png"] = png_of_bands(merged, width, height, options.ppi)
    files["Thumbnails/thumbnail.png"] = _thumbnail(page, size_px)
    return _zipped(files)


def _source(key: str) -> str:
    return f"data/{key}.png"


def _stack(page: LayeredPage, options: TemplateOptions, size_px: tuple[int, int]) -> bytes:
    """stack.xml: the first child is the top layer."""
    root = ET.Element(
        "image",
        {
            "version": "0.0.6",
            "w": str(size_px[0]),
            "h": str(size_px[1]),
            "xres": str(options.ppi),
            "yres": str(options.ppi),
        },
    )
    stack = ET.SubElement(root, "stack")
    for layer in reversed(page.layers):
        ET.SubElement(
            stack,
            "layer",
            {
                "name": layer.title,
                "src": _source(layer.key),
                "x": "0",
                "y": "0",
                "opacity": "1.0",
                "visibility": "visible" if layer.visible else "hidden",
                "composite-op": "svg:src-over",
            },
        )
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text


def thumbnail_size(size_px: tuple[int, int]) -> tuple[int, int]:
    """As big as fits in 256 x 256, never larger than the picture, aspect kept.

    Examples
    --------
    >>> thumbnail_size((2063, 3150)), thumbnail_size((4050, 3150)), thumbnail_size((90, 40))
    ((168, 256), (256, 199), (90, 40))
    """
    scale = min(1.0, THUMBNAIL_PX / max(size_px))
    width, height = (max(1, round(v * scale)) for v in size_px)
    return width, height


def _thumbnail(page: LayeredPage, size_px: tuple[int, int]) -> bytes:
    small: np.ndarray = stack_bands(merged_bands(page, thumbnail_size(size_px)))
    return png_of(small)


def _zipped(files: dict[str, bytes]) -> bytes:
    """The container: mimetype first, everything stored (PNGs are compressed already)."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr(_entry("mimetype"), MIMETYPE)
        for name, data in files.items():
            kind = zipfile.ZIP_DEFLATED if name.endswith(".xml") else zipfile.ZIP_STORED
            archive.writestr(_entry(name), data, compress_type=kind)
    return buffer.getvalue()


def _entry(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, date_time=_FIXED_DATE)
    info.create_system = 3
    info.external_attr = 0o644 << 16
    return info
