"""A layered page as SVG: one plain group per layer, at physical size, in millimetres.

SVG 2: document order is bottom to top; groups carry unique ids; a hidden layer has
``display="none"``. No attributes beyond the standard's.
"""

from __future__ import annotations

import base64
from xml.etree import ElementTree as ET

from panelscan.model.outline import Point
from panelscan.templates.layers import MITRE_LIMIT, Fill, Layer, LayeredPage, Mark, Picture, Stroke
from panelscan.templates.picture_bytes import png_of

_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"


def svg_bytes(page: LayeredPage) -> bytes:
    """The page as an SVG file's bytes (UTF-8).

    Examples
    --------
    >>> b'width="50mm"' in svg_bytes(LayeredPage((50, 80), (0, 0, 50, 80), (0, 0, 50, 80), ()))
    True
    """
    ET.register_namespace("", _SVG)
    ET.register_namespace("xlink", _XLINK)
    w, h = page.size_mm
    root = ET.Element(
        f"{{{_SVG}}}svg",
        {
            "version": "1.1",
            "width": f"{_number(w)}mm",
            "height": f"{_number(h)}mm",
            "viewBox": f"0 0 {_number(w)} {_number(h)}",
        },
    )
    ET.SubElement(root, f"{{{_SVG}}}title").text = page.title
    for layer in page.layers:
        root.append(_group(layer))
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _group(layer: Layer) -> ET.Element:
    group = ET.Element(f"{{{_SVG}}}g", {"id": layer.key.value})
    if not layer.visible:
        group.set("display", "none")
    ET.SubElement(group, f"{{{_SVG}}}title").text = layer.title
    for mark in layer.marks:
        group.append(_element(mark))
    return group


def _element(mark: Mark) -> ET.Element:
    if isinstance(mark, Fill):
        path = " ".join(_path(ring, True) for ring in mark.rings)
        return ET.Element(
            f"{{{_SVG}}}path", {"d": path, "fill": _colour(mark.colour), "fill-rule": "evenodd"}
        )
    if isinstance(mark, Stroke):
        return _stroke(mark)
    return _image(mark)


def _stroke(mark: Stroke) -> ET.Element:
    element = ET.Element(
        f"{{{_SVG}}}path",
        {
            "d": _path(mark.points, mark.closed),
            "fill": "none",
            "stroke": _colour(mark.colour),
            "stroke-width": _number(mark.width_mm),
            "stroke-linejoin": "miter",
            "stroke-miterlimit": _number(MITRE_LIMIT),
        },
    )
    if mark.dash_mm is not None:
        element.set("stroke-dasharray", " ".join(_number(v) for v in mark.dash_mm))
    return element


def _image(mark: Picture) -> ET.Element:
    x0, y0, x1, y1 = mark.box
    data = base64.b64encode(png_of(mark.pixels)).decode("ascii")
    return ET.Element(
        f"{{{_SVG}}}image",
        {
            "x": _number(x0),
            "y": _number(y0),
            "width": _number(x1 - x0),
            "height": _number(y1 - y0),
            "preserveAspectRatio": "none",
            f"{{{_XLINK}}}href": f"data:image/png;base64,{data}",
        },
    )


def _path(points: tuple[Point, ...], closed: bool) -> str:
    corners = " L ".join(f"{_number(x)} {_number(y)}" for x, y in points)
    return f"M {corners}{' Z' if closed else ''}"


def _number(value: float) -> str:
    """Four decimals of a millimetre are a tenth of a micrometre: finer than any printer."""
    return f"{value:.4f}".rstrip("0").rstrip(".") if value else "0"


def _colour(colour: tuple[int, int, int]) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
