"""Exports with a file for each page: PAGE XML and SVG.

References
----------
PAGE: S. Pletschacher and A. Antonacopoulos, "The PAGE (Page Analysis and Ground-truth
Elements) format framework", ICPR 2010; element names and their order after the content
schema of 2019-07-15, from memory.
SVG 2 (W3C), chapters "Document structure" and "Basic shapes".
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as ET

import shapely

PAGE_NAMESPACE = "http://schema.primaresearch.org/PAGE/gts/pagecontent/2019-07-15"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
_SVG = "http://www.w3.org/2000/svg"
Row = Mapping[str, Any]


def page_name(page: Row, taken: Collection[str]) -> str:
    """File name for a page, without an ending: readable, and none of those taken.

    Examples
    --------
    >>> page_name({"book": "Salt & Tin", "page_number": 7, "page_id": "ab"}, ())
    'salt-tin-0007'
    """
    text = unicodedata.normalize("NFKD", str(page["book"])).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:60] or "book"
    name = f"{slug}-{int(page['page_number']):04d}"
    return name if name not in taken else f"{name}-{page['page_id']}"


def page_xml(page: Row, panels: Sequence[Row]) -> bytes:
    """PAGE XML of a page: its border, a frame region for each panel, the reading order.

    Parameters
    ----------
    page : mapping
        Row of the pages table.
    panels : sequence of mapping
        Rows of its panels in reading order.

    Returns
    -------
    bytes
        UTF-8. Points are whole pixels of the upright image, as PAGE wants them, clipped to
        the image.
    """
    ET.register_namespace("", PAGE_NAMESPACE)
    root = ET.Element(_q("PcGts"))
    root.set(f"{{{_XSI}}}schemaLocation", f"{PAGE_NAMESPACE} {PAGE_NAMESPACE}/pagecontent.xsd")
    metadata = ET.SubElement(root, _q("Metadata"))
    ET.SubElement(metadata, _q("Creator")).text = "panelscan"
    for name in ("Created", "LastChange"):
        ET.SubElement(metadata, _q(name)).text = _seconds(page["scanned_at"])
    size = int(page["width_px"]), int(page["height_px"])
    sheet = ET.SubElement(
        root,
        _q("Page"),
        imageFilename=_xml_text(str(page["source_path"])),
        imageWidth=str(size[0]),
        imageHeight=str(size[1]),
        readingDirection="right-to-left" if page["direction"] == "rtl" else "left-to-right",
    )
    border = ET.SubElement(sheet, _q("Border"))
    ET.SubElement(border, _q("Coords"), points=_points(page["geometry"], size))
    if panels:
        order = ET.SubElement(ET.SubElement(sheet, _q("ReadingOrder")), _q("OrderedGroup"))
        order.set("id", "panels")
        for k, _ in enumerate(panels):
            ET.SubElement(order, _q("RegionRefIndexed"), index=str(k), regionRef=f"panel{k + 1}")
    for k, panel in enumerate(panels):
        region = ET.SubElement(sheet, _q("GraphicRegion"), id=f"panel{k + 1}", type="frame")
        region.set("custom", f"confidence:{float(panel['confidence']):.3f};")
        ET.SubElement(region, _q("Coords"), points=_points(panel["geometry"], size))
    ET.indent(root)
    return _document(root)


def _document(root: ET.Element) -> bytes:
    text = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'.encode()


def _q(name: str) -> str:
    return f"{{{PAGE_NAMESPACE}}}{name}"


def _seconds(at: str | None) -> str:
    """An xs:dateTime."""
    return at if at and re.fullmatch(r"\d{4}-\d\d-\d\dT[\d:.]+Z", at) else "1970-01-01T00:00:00Z"


def _points(wkb: bytes, size: tuple[int, int]) -> str:
    ring = shapely.get_coordinates(shapely.get_exterior_ring(shapely.from_wkb(wkb)))[:-1]
    spots = (
        (min(max(round(float(x)), 0), size[0] - 1), min(max(round(float(y)), 0), size[1] - 1))
        for x, y in ring
    )
    return " ".join(f"{x},{y}" for x, y in spots)


def _xml_text(text: str) -> str:
    """Text without characters that XML 1.0 cannot hold (clause 2.2)."""
    return re.sub(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "\ufffd", text)


_PALE, _INK, _WARN = "#dfe9f2", "#1f3a5f", "#b4471f"


def page_svg(page: Row, panels: Sequence[Row]) -> bytes:
    """SVG of a page's layout: frame, panels and their numbers, in groups.

    Parameters
    ----------
    page : mapping
        Row of the pages table.
    panels : sequence of mapping
        Rows of its panels in reading order.

    Returns
    -------
    bytes
        UTF-8. One unit is a pixel of the upright source image; where the resolution is known
        the drawing has its true size. Panels under confidence 0.8 are drawn dashed.
    """
    ET.register_namespace("", _SVG)
    width, height = int(page["width_px"]), int(page["height_px"])
    root = ET.Element(f"{{{_SVG}}}svg", viewBox=f"0 0 {width} {height}")
    if page["x_ppi"]:
        root.set("width", f"{width / page['x_ppi']:.4f}in")
        root.set("height", f"{height / page['y_ppi']:.4f}in")
    title = f"{page['book']}, page {page['page_number']}"
    ET.SubElement(root, f"{{{_SVG}}}title").text = _xml_text(title)
    line = max(width, height) / 500
    frame = _group(root, "page", fill="#ffffff", stroke="#9a9a9a", width=line / 2)
    _ring(frame, page["geometry"])
    shapes = _group(root, "panels", fill=_PALE, stroke=_INK, width=line)
    numbers = ET.SubElement(root, f"{{{_SVG}}}g", id="order", fill=_INK)
    numbers.set("font-family", "sans-serif")
    for k, panel in sorted(enumerate(panels), key=lambda pair: int(pair[1]["depth"])):
        ring = _ring(shapes, panel["geometry"])
        ring.set("id", f"panel-{k + 1}")
        if panel["confidence"] < 0.8:
            ring.set("stroke", _WARN)
            ring.set("stroke-dasharray", f"{line * 4:.2f} {line * 2:.2f}")
        _number(numbers, panel, k + 1)
    ET.indent(root)
    return _document(root)


def _group(root: ET.Element, name: str, *, fill: str, stroke: str, width: float) -> ET.Element:
    group = ET.SubElement(root, f"{{{_SVG}}}g", id=name, fill=fill, stroke=stroke)
    group.set("stroke-width", f"{width:.2f}")
    group.set("stroke-linejoin", "miter")
    return group


def _ring(group: ET.Element, wkb: bytes) -> ET.Element:
    ring = shapely.get_coordinates(shapely.get_exterior_ring(shapely.from_wkb(wkb)))[:-1]
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in ring)
    return ET.SubElement(group, f"{{{_SVG}}}polygon", points=points)


def _number(group: ET.Element, panel: Row, number: int) -> None:
    shape = shapely.from_wkb(panel["geometry"])
    spot = shape.representative_point() if not shape.contains(shape.centroid) else shape.centroid
    x0, y0, x1, y1 = shape.bounds
    size = 0.3 * min(x1 - x0, y1 - y0)
    text = ET.SubElement(group, f"{{{_SVG}}}text", x=f"{spot.x:.2f}", y=f"{spot.y + size / 3:.2f}")
    text.set("font-size", f"{size:.2f}")
    text.set("text-anchor", "middle")
    text.text = str(number)
