"""A layered page as PDF: one optional content group per layer, with trim and bleed boxes.

ISO 32000: clause 8.11 (optional content), 14.11.2 (page boxes). Marks are written as
vectors; only a rough underneath is an image. No ``/Usage /View`` is written: some readers
let it override the lists of layers switched on and off.
"""

from __future__ import annotations

import io

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name

from panelscan.model.formats import Box
from panelscan.model.units import mm_to_pt
from panelscan.templates.layers import (
    MITRE_LIMIT,
    Colour,
    Fill,
    Layer,
    LayeredPage,
    Picture,
    Stroke,
)


def pdf_bytes(page: LayeredPage) -> bytes:
    """The page as a PDF file's bytes; the same bytes every time."""
    with pikepdf.new() as pdf:
        add_page(pdf, page)
        with pdf.open_metadata(set_pikepdf_as_editor=False) as metadata:
            metadata["dc:title"] = page.title
        buffer = io.BytesIO()
        pdf.save(buffer, deterministic_id=True, compress_streams=True)
    return buffer.getvalue()


def add_page(pdf: pikepdf.Pdf, page: LayeredPage) -> None:
    """Put a layered page at the end of a PDF, its layers added to the document's."""
    groups = [_group(pdf, layer) for layer in page.layers]
    resources = Dictionary(Properties=Dictionary(), XObject=Dictionary())
    content = [_to_millimetres(page)]
    for n, (layer, group) in enumerate(zip(page.layers, groups, strict=True)):
        resources.Properties[f"/L{n}"] = group
        content.append(f"/OC /L{n} BDC q\n{_marks(pdf, layer, n, resources)}Q EMC\n")
    w, h = (mm_to_pt(v) for v in page.size_mm)
    sheet = Array([0, 0, _point(w), _point(h)])
    pdf.pages.append(
        pikepdf.Page(
            pdf.make_indirect(
                Dictionary(
                    Type=Name.Page,
                    MediaBox=sheet,
                    CropBox=sheet,
                    BleedBox=_box(page.bleed_box, page.size_mm[1]),
                    TrimBox=_box(page.trim_box, page.size_mm[1]),
                    Resources=resources,
                    Contents=pdf.make_stream("".join(content).encode("ascii")),
                )
            )
        )
    )
    _declare(pdf, page, groups)


def _group(pdf: pikepdf.Pdf, layer: Layer) -> pikepdf.Object:
    """The layer's optional content group; helpers are marked as not printing."""
    group = Dictionary(Type=Name.OCG, Name=layer.title)
    if not layer.prints:
        group.Usage = Dictionary(Print=Dictionary(Subtype=Name.Guides, PrintState=Name.OFF))
    return pdf.make_indirect(group)


def _declare(pdf: pikepdf.Pdf, page: LayeredPage, groups: list[pikepdf.Object]) -> None:
    """List the groups in the catalog: all of them, their order (top first), what is off."""
    shown = zip(page.layers, groups, strict=True)
    hidden = [g for layer, g in shown if not layer.visible]
    silent = [g for layer, g in zip(page.layers, groups, strict=True) if not layer.prints]
    if "/OCProperties" not in pdf.Root:
        pdf.Root.OCProperties = Dictionary(
            OCGs=Array(),
            D=Dictionary(
                Name="Layers", BaseState=Name.ON, ON=Array(), OFF=Array(), Order=Array(), AS=Array()
            ),
        )
    listed = pdf.Root.OCProperties
    for group in groups:
        listed.OCGs.append(group)
        if group not in hidden:
            listed.D.ON.append(group)
    for group in hidden:
        listed.D.OFF.append(group)
    for group in reversed(groups):
        listed.D.Order.append(group)
    if silent:
        listed.D.AS.append(
            Dictionary(Event=Name.Print, Category=Array([Name.Print]), OCGs=Array(silent))
        )


def _to_millimetres(page: LayeredPage) -> str:
    """Matrix from our frame (mm, y down) to the page's (points, y up)."""
    scale = mm_to_pt(1.0)
    return f"{scale:.9f} 0 0 {-scale:.9f} 0 {mm_to_pt(page.size_mm[1]):.6f} cm\n"


def _point(value: float) -> float:
    return round(value, 4)


def _box(b: Box, height_mm: float) -> Array:
    """A box in points with y up."""
    x0, y0, x1, y1 = b
    corners = (x0, height_mm - y1, x1, height_mm - y0)
    return Array([_point(mm_to_pt(v)) for v in corners])


def _marks(pdf: pikepdf.Pdf, layer: Layer, n: int, resources: Dictionary) -> str:
    """Drawing operators of one layer."""
    parts = []
    for k, mark in enumerate(layer.marks):
        if isinstance(mark, Fill):
            paths = "".join(_path(ring, True) for ring in mark.rings)
            parts.append(f"{_rgb(mark.colour)} rg\n{paths}f*\n")
        elif isinstance(mark, Stroke):
            parts.append(_stroke(mark))
        else:
            name = f"/I{n}x{k}"
            resources.XObject[name] = _image(pdf, mark)
            x0, y0, x1, y1 = mark.box
            matrix = f"{x1 - x0:.4f} 0 0 {y0 - y1:.4f} {x0:.4f} {y1:.4f}"
            parts.append(f"q {matrix} cm {name} Do Q\n")
    return "".join(parts)


def _stroke(mark: Stroke) -> str:
    dash = "[] 0 d" if mark.dash_mm is None else f"[{mark.dash_mm[0]:g} {mark.dash_mm[1]:g}] 0 d"
    return (
        f"{_rgb(mark.colour)} RG {mark.width_mm:.4f} w 0 J 0 j {MITRE_LIMIT:g} M {dash}\n"
        f"{_path(mark.points, mark.closed)}S\n"
    )


def _path(points: tuple[tuple[float, float], ...], closed: bool) -> str:
    (x, y), *rest = points
    lines = "".join(f"{a:.4f} {b:.4f} l\n" for a, b in rest)
    return f"{x:.4f} {y:.4f} m\n{lines}{'h ' if closed else ''}"


def _rgb(colour: Colour) -> str:
    return " ".join(f"{v / 255:.5f}" for v in colour)


def _image(pdf: pikepdf.Pdf, mark: Picture) -> pikepdf.Object:
    """The rough as a JPEG image object: it is only traced from."""
    import cv2

    pixels = mark.pixels
    gray = pixels.ndim == 2
    data = pixels if gray else cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    done, jpeg = cv2.imencode(".jpg", np.ascontiguousarray(data), [cv2.IMWRITE_JPEG_QUALITY, 90])
    if not done:
        raise ValueError("the rough cannot be stored as an image")
    image = pdf.make_stream(jpeg.tobytes())
    image.Type, image.Subtype = Name.XObject, Name.Image
    image.Width, image.Height = pixels.shape[1], pixels.shape[0]
    image.ColorSpace = Name.DeviceGray if gray else Name.DeviceRGB
    image.BitsPerComponent = 8
    image.Filter = Name.DCTDecode
    return image
