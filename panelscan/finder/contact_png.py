"""A contact sheet as one PNG, drawn twice as fine as it is read."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from panelscan.finder.colours import PAPER
from panelscan.finder.contact_fonts import letters
from panelscan.finder.contact_marks import Image, Marks, Shape, Words

if TYPE_CHECKING:
    from PIL import Image as Pictures
    from PIL import ImageDraw

SCALE = 2
SMOOTH = 2  # drawn finer still and shrunk, since shapes are drawn without soft edges
MOST_PIXELS = 120_000_000


def png_of(sheet: Marks) -> bytes:
    """PNG bytes of a sheet at twice its size in pixels.

    Raises
    ------
    ValueError
        If the sheet would be too large for one picture.
    """
    from PIL import Image as Pictures
    from PIL import ImageDraw

    fine = SCALE * SMOOTH
    size = (round(sheet.width * fine), round(sheet.height * fine))
    if size[0] * size[1] > MOST_PIXELS:
        raise ValueError("too many pages for one PNG; write SVG or HTML")
    shapes = Pictures.new("RGB", size, PAPER)
    draw = ImageDraw.Draw(shapes)
    for mark in sheet.marks:
        if isinstance(mark, Shape):
            points = [(x * fine, y * fine) for x, y in mark.points]
            draw.polygon(points, fill=mark.fill)
            draw.line(
                [*points, points[0]],
                fill=mark.stroke,
                width=round(mark.width * fine),
                joint="curve",
            )
    picture = shapes.resize((size[0] // SMOOTH, size[1] // SMOOTH), Pictures.Resampling.BOX)
    draw = ImageDraw.Draw(picture)
    for mark in sheet.marks:
        if isinstance(mark, Words):
            _write(draw, mark)
        elif isinstance(mark, Image):
            _paste(picture, mark)
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=True)
    return out.getvalue()


def _write(draw: ImageDraw.ImageDraw, mark: Words) -> None:
    text, font = letters(mark.text, mark.size * SCALE)
    anchor = "ms" if mark.middle else "ls"
    draw.text(
        (mark.x * SCALE, mark.y * SCALE),
        text,
        fill=mark.fill,
        font=font,
        anchor=anchor,
        stroke_width=0.5 if mark.bold else 0,
    )


def _paste(picture: Pictures.Image, mark: Image) -> None:
    from PIL import Image as Pictures
    from PIL import ImageOps

    with Pictures.open(io.BytesIO(mark.data)) as own:
        box = (max(1, round(mark.width * SCALE)), max(1, round(mark.height * SCALE)))
        small = ImageOps.contain(own.convert("RGB"), box, Pictures.Resampling.LANCZOS)
        picture.paste(small, (round(mark.x * SCALE), round(mark.y * SCALE)))
