"""A layered page as pixels, band by band, so that a page of any resolution needs little memory.

Bands whose rows are all alike (most of a page of straight panels) are kept as one row.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.ops import substring, unary_union

from panelscan.model.units import MM_PER_INCH
from panelscan.templates.coverage import Coverage
from panelscan.templates.layers import (
    MITRE_LIMIT,
    Colour,
    Fill,
    Layer,
    LayeredPage,
    Mark,
    Picture,
    Stroke,
)

BAND_ROWS = 64
Band = tuple[int, np.ndarray]


@dataclass(frozen=True, eq=False)
class Step:
    """Something laid on a band of rows.

    Parameters
    ----------
    left : int
        First column.
    cover : ndarray of uint8, shape (deep or 1, K)
        How much of each pixel it covers, 0..255.
    rgb : ndarray of uint8, shape (3,) or (deep, K, 3)
        Its colour.
    """

    left: int
    cover: np.ndarray
    rgb: np.ndarray


class LayerPainter:
    """Draws one layer at one size, any band of rows.

    Parameters
    ----------
    layer : Layer
        What to draw.
    size_mm : tuple of float
        Of the sheet.
    size_px : tuple of int
        Width and height of the picture.
    ppi : float, optional
        Pixels per inch; if not given, the sheet is stretched to the picture. A sheet that
        ends within the last pixel fills it.
    """

    def __init__(
        self,
        layer: Layer,
        size_mm: tuple[float, float],
        size_px: tuple[int, int],
        ppi: float | None = None,
    ) -> None:
        self.width, self.height = size_px
        self._size_mm = np.array(size_mm)
        per_mm = None if ppi is None else ppi / MM_PER_INCH
        self._scale = (per_mm or size_px[0] / size_mm[0], per_mm or size_px[1] / size_mm[1])
        self._steps: list[tuple[Colour, Coverage] | Picture] = []
        for group in _groups(layer.marks):
            if isinstance(group, Picture):
                self._steps.append(group)
            else:
                colour, marks = group
                rings = [self._in_px(r) for m in marks for r in _mark_rings(m)]
                self._steps.append((colour, Coverage(rings, *size_px)))

    def _in_px(self, ring: np.ndarray) -> np.ndarray:
        at_end = ring >= self._size_mm - 1e-6
        return np.where(at_end, (self.width, self.height), ring * self._scale)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is drawn."""
        return not self._steps

    def steps(self, top: int, deep: int) -> list[Step]:
        """What the layer lays on these rows, in order."""
        found = []
        for step in self._steps:
            if isinstance(step, Picture):
                rgb, cover = self._picture(step, top, deep)
                found.append(Step(0, cover, rgb))
                continue
            colour, shape = step
            part = shape.band(top, deep)
            if part is not None:
                found.append(Step(part[0], part[1], np.array(colour, dtype=np.uint8)))
        return found

    def rgba(self, top: int, deep: int) -> np.ndarray:
        """Rows of the layer as RGBA, straight alpha; shape (deep or 1, width, 4)."""
        return rgba_of(self.steps(top, deep), deep, self.width)

    def _picture(self, picture: Picture, top: int, deep: int) -> tuple[np.ndarray, np.ndarray]:
        """The band of a picture, and where it lies."""
        import cv2

        x0, y0, x1, y1 = picture.box
        rows, columns = picture.pixels.shape[:2]
        sx, sy = self._scale
        # From band pixel centres to picture pixel centres.
        ax, ay = columns / ((x1 - x0) * sx), rows / ((y1 - y0) * sy)
        matrix = np.array(
            [
                [ax, 0, (0.5 - x0 * sx) * ax - 0.5],
                [0, ay, (top + 0.5 - y0 * sy) * ay - 0.5],
            ]
        )
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        rgb = cv2.warpAffine(
            picture.pixels,
            matrix,
            (self.width, deep),
            flags=flags,
            borderMode=cv2.BORDER_REPLICATE,
        )
        if rgb.ndim == 2:
            rgb = np.repeat(rgb[..., None], 3, axis=2)
        corners = np.array(picture.box).reshape(2, 2) * self._scale - (0, top)
        (a, b), (c, d) = np.round(corners).astype(int)
        alpha = np.zeros((deep, self.width), dtype=np.uint8)
        alpha[max(b, 0) : max(d, 0), max(a, 0) : max(c, 0)] = 255
        return rgb, alpha


def bands(height: int, deep: int = BAND_ROWS) -> Iterator[tuple[int, int]]:
    """First row and number of rows of each band of a picture."""
    for top in range(0, height, deep):
        yield top, min(deep, height - top)


def painters(
    page: LayeredPage, size_px: tuple[int, int], ppi: float | None = None
) -> list[LayerPainter]:
    """One painter per layer, bottom first."""
    return [LayerPainter(layer, page.size_mm, size_px, ppi) for layer in page.layers]


def rgba_of(steps: Sequence[Step], deep: int, width: int) -> np.ndarray:
    """Steps on a clear ground as RGBA with straight alpha; shape (deep or 1, width, 4)."""
    out = np.zeros((1, width, 4), dtype=np.uint8)
    for step in steps:
        cover = step.cover
        if cover.shape[0] > 1:
            out = _tall(out, deep)
        elif out.shape[0] > 1:
            cover = _tall(cover, deep)
        part = out[:, step.left : step.left + cover.shape[1]]
        rows, columns = np.nonzero(cover)
        above = cover[rows, columns].astype(np.float32)[:, None] / 255.0
        colour = step.rgb if step.rgb.ndim == 1 else step.rgb[rows, columns]
        below = part[rows, columns].astype(np.float32)
        rest = below[:, 3:] / 255.0 * (1.0 - above)
        total = above + rest
        part[rows, columns, :3] = np.round((colour * above + below[:, :3] * rest) / total)
        part[rows, columns, 3:] = np.round(total * 255.0)
    return out


def merged_rgb(steps: Sequence[Step], deep: int, width: int) -> np.ndarray:
    """Steps laid over each other on white, bottom first; shape (deep or 1, width, 3).

    Each step rounds to 8 bits: ``out = (source * a + below * (255 - a) + 127) // 255``.
    """
    out = np.full((1, width, 3), 255, dtype=np.uint8)
    for step in steps:
        cover = step.cover
        if cover.shape[0] > 1:
            out = _tall(out, deep)
        elif out.shape[0] > 1:
            cover = _tall(cover, deep)
        part = out[:, step.left : step.left + cover.shape[1]]
        rows, columns = np.nonzero(cover)
        alpha = cover[rows, columns].astype(np.uint16)[:, None]
        colour = step.rgb if step.rgb.ndim == 1 else step.rgb[rows, columns]
        mixed = colour * alpha + part[rows, columns] * (255 - alpha)
        part[rows, columns] = (mixed + 127) // 255
    return out


def merged_bands(
    page: LayeredPage, size_px: tuple[int, int], ppi: float | None = None
) -> Iterator[Band]:
    """The page as it shows when opened: rows of each band, and their RGB pixels."""
    drawn = painters(page, size_px, ppi)
    shown = [p for p, layer in zip(drawn, page.layers, strict=True) if layer.visible]
    for top, deep in bands(size_px[1]):
        steps = [step for p in shown for step in p.steps(top, deep)]
        yield deep, merged_rgb(steps, deep, size_px[0])


def stack_bands(parts: Iterator[Band] | Sequence[Band]) -> np.ndarray:
    """Bands put together to one array."""
    return np.concatenate([_tall(rows, deep) for deep, rows in parts])


def gray_of(rgb: np.ndarray) -> np.ndarray:
    """Luma of RGB pixels by the weights of ITU-R BT.601, rounded."""
    weights = np.array([299, 587, 114], dtype=np.uint32)
    return np.asarray(((rgb @ weights + 500) // 1000).astype(np.uint8))


def _tall(rows: np.ndarray, deep: int) -> np.ndarray:
    """One row repeated to the whole band; a band as it is."""
    return rows if rows.shape[0] == deep else np.repeat(rows, deep, axis=0)


def _groups(marks: Sequence[Mark]) -> list[Picture | tuple[Colour, list[Fill | Stroke]]]:
    """Marks in order, neighbours of one colour taken together."""
    groups: list[Any] = []
    for mark in marks:
        if isinstance(mark, Picture):
            groups.append(mark)
        elif groups and not isinstance(groups[-1], Picture) and groups[-1][0] == mark.colour:
            groups[-1][1].append(mark)
        else:
            groups.append((mark.colour, [mark]))
    return groups


def _mark_rings(mark: Fill | Stroke) -> list[np.ndarray]:
    """Rings that a mark covers, in mm: outer ones one way round, holes the other."""
    if isinstance(mark, Fill):
        shape = _filled(mark)
    else:
        shape = stroke_shape(mark)
    rings = []
    for part in getattr(shape, "geoms", [shape]):
        part = shapely.normalize(part) if not part.exterior.is_ccw else part
        rings.append(_turned(part.exterior, True))
        rings += [_turned(hole, False) for hole in part.interiors]
    return rings


def _turned(ring: Any, counterclockwise: bool) -> np.ndarray:
    corners = np.asarray(ring.coords)[:-1, :2]
    return corners if ring.is_ccw == counterclockwise else corners[::-1]


def _filled(mark: Fill) -> Any:
    """Even-odd area of the rings."""
    shape: Any = Polygon(mark.rings[0])
    for ring in mark.rings[1:]:
        shape = shape.symmetric_difference(Polygon(ring))
    return shape


def stroke_shape(mark: Stroke) -> Any:
    """The area a pen line covers: mitred joins, square-cut ends, dashes.

    Mitres longer than ten times the width are cut, as SVG and PDF do with a miter limit
    of 10.
    """
    points = [*mark.points, mark.points[0]] if mark.closed else list(mark.points)
    if mark.dash_mm is not None:
        line = LineString(points)
        return unary_union([_swept(list(d.coords), mark.width_mm) for d in _dashes(line, mark)])
    if mark.closed:
        ring = Polygon(mark.points)
        half = mark.width_mm / 2
        outer = ring.buffer(half, join_style="mitre", mitre_limit=MITRE_LIMIT)
        return outer.difference(ring.buffer(-half, join_style="mitre", mitre_limit=MITRE_LIMIT))
    return _swept(points, mark.width_mm)


def _swept(points: list[Any], width: float) -> Any:
    return LineString(points).buffer(
        width / 2, cap_style="flat", join_style="mitre", mitre_limit=MITRE_LIMIT
    )


def _dashes(line: LineString, mark: Stroke) -> list[LineString]:
    """The line's marks between its gaps, from its start."""
    if mark.dash_mm is None:
        return [line]
    on, off = mark.dash_mm
    starts = np.arange(0.0, line.length, on + off)
    return [substring(line, s, min(s + on, line.length)) for s in starts]
