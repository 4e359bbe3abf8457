"""Small redrawn grids, diagrams of a page's margins and bleeds, and the gutter map."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from panelscan.study.drawing import BAND, FILL_2, INK, PALE, PAPER, QUIET, Picture, blended

PAGE_HEIGHT = 150.0


def grid_picture(
    title: str,
    panels: Sequence[Sequence[Sequence[float]]],
    aspect: float,
    numbered: bool = True,
    height: float = PAGE_HEIGHT,
    marked: frozenset[int] = frozenset(),
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
    marked : frozenset of int
        Numbers (from 1) of panels to draw in a colour.
    """
    width = height * aspect
    many = "one panel" if len(panels) == 1 else f"{len(panels)} panels"
    picture = Picture(width + 4, height + 4, title, f"A page of {many}.")
    picture.mark("rect", x=1, y=1, width=width + 2, height=height + 2, fill=PALE, stroke=QUIET)
    for number, ring in enumerate(panels, start=1):
        corners = [
            (2 + min(max(x, 0.0), 1.0) * width, 2 + min(max(y, 0.0), 1.0) * height) for x, y in ring
        ]
        fill = BAND if number in marked else PAPER
        picture.polygon(corners, fill=fill, stroke=INK, stroke_width=1.2)
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


def heat_picture(
    title: str, description: str, cells: np.ndarray, aspect: float, levels: int = 10
) -> Picture:
    """A page in cells, the darker the greater the value.

    Parameters
    ----------
    cells : ndarray, shape (R, C)
        0 or more; the greatest value is drawn darkest.
    levels : int
        Steps of darkness.
    """
    height = 300.0
    width = height * aspect
    picture = Picture(width + 4, height + 4, title, description)
    rows, columns = cells.shape
    step_x, step_y = width / columns, height / rows
    shade = np.rint(levels * cells / (float(cells.max()) or 1.0)).astype(int)
    # Each level is drawn with all darker ones, so that no light shows between cells.
    for level in range(1, levels + 1):
        path = ""
        for row, start, end in _stretches(shade >= level):
            x, y = 2 + start * step_x, 2 + row * step_y
            path += f"M{x:.1f} {y:.1f}h{(end - start) * step_x:.1f}v{step_y + 0.3:.1f}H{x:.1f}z"
        if path:
            picture.mark("path", d=path, fill=blended(level / levels))
    picture.mark("rect", x=1, y=1, width=width + 2, height=height + 2, fill="none", stroke=INK)
    return picture


def _stretches(cells: np.ndarray) -> Iterator[tuple[int, int, int]]:
    """Row, start and end of each run of cells that hold."""
    edges = np.diff(np.pad(cells.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    for row in range(len(cells)):
        starts, ends = np.flatnonzero(edges[row] == 1), np.flatnonzero(edges[row] == -1)
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
            yield row, start, end


def edges_picture(
    title: str,
    description: str,
    pages: Sequence[tuple[str, Mapping[str, str], Mapping[str, float]]],
    aspect: float,
) -> Picture:
    """Pages side by side, a figure at each edge, the edge drawn the heavier the greater.

    Parameters
    ----------
    pages : sequence of (name, texts by edge, weights by edge)
        Edges are called left, top, right, bottom; weights 0..1.
    """
    height, pad = 200.0, 58.0
    width = height * aspect
    step = width + 2 * pad
    picture = Picture(step * len(pages), height + 88, title, description)
    for index, (name, values, weights) in enumerate(pages):
        _page_edges(picture, index * step + pad, (width, height), values, weights)
        picture.text(index * step + step / 2, height + 82, name, text_anchor="middle", fill=QUIET)
    return picture


def _page_edges(
    picture: Picture,
    x0: float,
    size: tuple[float, float],
    values: Mapping[str, str],
    weights: Mapping[str, float],
) -> None:
    y0, x1 = 32.0, x0 + size[0]
    y1 = y0 + size[1]
    picture.mark("rect", x=x0, y=y0, width=size[0], height=size[1], fill=PAPER, stroke=PALE)
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
    picture.text(x0 - 8, middle_y, values.get("left", ""), text_anchor="end")
    picture.text(x1 + 8, middle_y, values.get("right", ""))
    picture.text(middle_x, y0 - 12, values.get("top", ""), text_anchor="middle")
    picture.text(middle_x, y1 + 22, values.get("bottom", ""), text_anchor="middle")
