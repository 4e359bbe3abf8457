"""A contact sheet as one SVG file, with pictures inside it."""

from __future__ import annotations

import base64
from xml.etree import ElementTree as ET

from panelscan.finder.colours import PAPER
from panelscan.finder.contact_marks import Image, Mark, Marks, Shape, Words

SVG = "http://www.w3.org/2000/svg"
FONT = "Helvetica, Arial, 'DejaVu Sans', sans-serif"


def svg_of(sheet: Marks, *, background: bool = True, sized: bool = True) -> str:
    """SVG text of a sheet.

    Parameters
    ----------
    sheet : Marks
    background : bool
        Lay white paper under it.
    sized : bool
        Give width and height in pixels besides the view box.
    """
    attributes = {
        "xmlns": SVG,
        "viewBox": f"0 0 {_n(sheet.width)} {_n(sheet.height)}",
        "role": "img",
        "font-family": FONT,
    }
    if sized:
        attributes |= {"width": _n(sheet.width), "height": _n(sheet.height)}
    root = ET.Element("svg", attributes)
    ET.SubElement(root, "title").text = sheet.title
    ET.SubElement(root, "desc").text = sheet.description
    if background:
        ET.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": PAPER})
    for mark in sheet.marks:
        _draw(root, mark)
    return ET.tostring(root, encoding="unicode")


def _draw(root: ET.Element, mark: Mark) -> None:
    if isinstance(mark, Shape):
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in mark.points)
        ET.SubElement(
            root,
            "polygon",
            {
                "points": points,
                "fill": mark.fill,
                "stroke": mark.stroke,
                "stroke-width": _n(mark.width),
                "stroke-linejoin": "miter",
            },
        )
    elif isinstance(mark, Words):
        attributes = {
            "x": _n(mark.x),
            "y": _n(mark.y),
            "font-size": _n(mark.size),
            "fill": mark.fill,
        }
        if mark.bold:
            attributes["font-weight"] = "bold"
        if mark.middle:
            attributes["text-anchor"] = "middle"
        ET.SubElement(root, "text", attributes).text = _clean(mark.text)
    else:
        _draw_image(root, mark)


def _draw_image(root: ET.Element, mark: Image) -> None:
    image = ET.SubElement(
        root,
        "image",
        {
            "x": _n(mark.x),
            "y": _n(mark.y),
            "width": _n(mark.width),
            "height": _n(mark.height),
            "preserveAspectRatio": "xMinYMin meet",
            "href": data_address(mark.data),
        },
    )
    ET.SubElement(image, "title").text = mark.description


def data_address(picture: bytes) -> str:
    """A picture as an address that needs no file and no network.

    Raises
    ------
    ValueError
        If it is neither PNG nor JPEG.
    """
    if picture.startswith(b"\x89PNG"):
        kind = "png"
    elif picture.startswith(b"\xff\xd8"):
        kind = "jpeg"
    else:
        raise ValueError("a contact sheet's pictures are PNG or JPEG")
    return f"data:image/{kind};base64,{base64.b64encode(picture).decode()}"


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _clean(text: str) -> str:
    """Text without the control characters that XML forbids."""
    return "".join(c for c in text if c.isprintable() or c == " ")
