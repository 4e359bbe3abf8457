"""Small redrawn grids, diagrams of a page's margins and bleeds, and the gutter map."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from panelscan.study.drawing import FILL, FILL_2, INK, PALE, PAPER, QUIET, Picture

PAGE_HEIGHT = 150.0


def grid_picture(
    title: str,
    panels: Sequence[Sequence[Sequence[float]]],
    aspect: float,
    numbered: bool = True,
    height: float = PAGE_HEIGHT,
) -> Picture:
    """A page's grid redrawn small.

    Parameters
    ----------
    title : str
        Name of the page or grid.
    panels : sequence of rings
        Corners in page-relative units, in reading order.
    aspect : float
        Width of the page divided by its height.
    numbered : bool
        Whether the reading order is written in.
    """
    width = height * aspect
    picture = Picture(width + 4, height + 4, title, f"A page of {len(panels)} panels.")
    picture.mark("rect", x=1, y=1, width=width + 2, height=height + 2, fill=PALE, stroke=QUIET)
    for number, ring in enumerate(panels, start=1):
        corners = [
            (2 + min(max(x, 0.0), 1.0) * width, 2 + min(max(y, 0.0), 1.0) * height) for x, y in ring
        ]
        picture.polygon(corners, fill=PAPER, stroke=INK, stroke_width=1.2)
        if numbered:
            xs, ys = zip(*corners, strict=True)
            picture.text(
                (min(xs) + max(xs)) / 2,
                (min(ys) + max(ys)) / 2 + 4,
                str(number),
                text_anchor="middle",
                font_size=11,
                fill=QUIET,
            )
    return picture


def rings_of(geometry: Sequence[bytes]) -> list[list[tuple[float, float]]]:
    """Corners of WKB polygons, without the repeated last one."""
    shapes = shapely.from_wkb(np.asarray(geometry, dtype=object))
    return [[(x, y) for x, y in shape.exterior.coords[:-1]] for shape in shapes]


def heat_picture(title: str, description: str, cells: np.ndarray, aspect: float) -> Picture:
    """Gutter map: dark where panels leave the page free on many pages.

    Parameters
    ----------
    cells : ndarray, shape (R, C)
        Share of pages that are free there, 0..1.
    """
    height = 300.0
    width = height * aspect
    picture = Picture(width + 4, height + 4, title, description)
    rows, columns = cells.shape
    top = float(cells.max()) or 1.0
    for row in range(rows):
        for column in range(columns):
            share = float(cells[row, column]) / top
            if share < 0.02:
                continue
            picture.mark(
                "rect",
                x=2 + column * width / columns,
                y=2 + row * height / rows,
                width=width / columns + 0.2,
                height=height / rows + 0.2,
                fill=FILL,
                fill_opacity=round(share, 2),
            )
    picture.mark("rect", x=1, y=1, width=width + 2, height=height + 2, fill="none", stroke=INK)
    return picture


def edges_picture(
    title: str,
    description: str,
    values: Mapping[str, str],
    weights: Mapping[str, float],
    aspect: float,
) -> Picture:
    """A page with a figure written at each edge and the edge drawn the heavier the greater.

    Parameters
    ----------
    values : mapping of edge name to text
        What is written at the left, top, right and bottom.
    weights : mapping of edge name to float
        0..1.
    """
    height, pad = 220.0, 84.0
    width = height * aspect
    picture = Picture(width + 2 * pad, height + 60, title, description)
    x0, y0, x1, y1 = pad, 30.0, pad + width, 30.0 + height
    picture.mark("rect", x=x0, y=y0, width=width, height=height, fill=PAPER, stroke=PALE)
    ends = {
        "left": (x0, y0, x0, y1),
        "top": (x0, y0, x1, y0),
        "right": (x1, y0, x1, y1),
        "bottom": (x0, y1, x1, y1),
    }
    for name, (ax, ay, bx, by) in ends.items():
        heavy = 1.0 + 9.0 * min(max(weights.get(name, 0.0), 0.0), 1.0)
        picture.line(ax, ay, bx, by, stroke=FILL_2 if heavy > 1.5 else QUIET, stroke_width=heavy)
    middle_x, middle_y = (x0 + x1) / 2, (y0 + y1) / 2
    picture.text(x0 - 12, middle_y, values.get("left", ""), text_anchor="end")
    picture.text(x1 + 12, middle_y, values.get("right", ""))
    picture.text(middle_x, y0 - 12, values.get("top", ""), text_anchor="middle")
    picture.text(middle_x, y1 + 22, values.get("bottom", ""), text_anchor="middle")
    return picture
