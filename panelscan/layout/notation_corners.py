"""Panels whose place in a written grid does not give their shape: their own corners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from panelscan.layout.notation_draw import Drawing, DrawnPanel
from panelscan.layout.shapes import PanelShape, plain_corners, shape_notes
from panelscan.layout.written import Cell, Inset, Loose, Part, Split, WrittenPage
from panelscan.model.grid import Grid

CLOSE_ENOUGH = 0.96
"""IoU from which a panel's place stands for the panel itself."""


def percent_of(ring: np.ndarray, host: np.ndarray) -> tuple[float, ...]:
    """Corners of a ring in percent of another ring's box, x and y in turn."""
    low, high = host.min(axis=0), host.max(axis=0)
    shares = (ring - low) / np.maximum(high - low, 1e-12) * 100
    return tuple(round(float(v), 1) for v in shares.ravel())


def with_corners(page: WrittenPage, grid: Grid, written: Sequence[int]) -> WrittenPage:
    """The page with the corners of those panels written out that their places do not give.

    Parameters
    ----------
    page : WrittenPage
        As measured.
    grid : Grid
        What it stands for.
    written : sequence of int
        Panels of the grid in written order.
    """
    drawing = Drawing(page)
    drawing.part(page.body, drawing.live)
    scale = np.array([1.0, 1.0 / grid.aspect])
    pairs = [
        (number, grid.panels[index].outline.array() * scale, panel)
        for number, (index, panel) in enumerate(zip(written, drawing.panels, strict=True))
        if panel.host is None
    ]
    ious = ring_ious([target for _, target, _ in pairs], [panel.ring for *_, panel in pairs])
    better = {
        number: Cell() if iou >= CLOSE_ENOUGH else _cell_for(target, panel)
        for (number, target, panel), iou in zip(pairs, ious, strict=True)
    }
    return replace(page, body=_replaced(page.body, better, [0]))


def _cell_for(target: np.ndarray, panel: DrawnPanel) -> Cell:
    note = shape_notes([target])[0]
    if note.shape is PanelShape.ROUND:
        low, high = target.min(axis=0), target.max(axis=0)
        size = high - low
        if np.abs(panel.ring.min(axis=0) - low).max() < 0.01 * size.max() and (
            np.abs(panel.ring.max(axis=0) - high).max() < 0.01 * size.max()
        ):
            return Cell(round=True)
    corners = target if len(target) <= 12 else plain_corners(target)
    return Cell(corners=percent_of(corners, panel.ring))


def _replaced(part: Part, better: dict[int, Cell], at: list[int]) -> Part:
    """The part with cells changed, counted in written order."""
    if isinstance(part, Cell):
        found = better.get(at[0], Cell())
        at[0] += 1 + sum(_count(i) for i in part.insets)
        return replace(part, round=found.round, corners=found.corners)
    if isinstance(part, Loose):
        cells = tuple(_replaced(c, better, at) for c in part.cells)
        return replace(part, cells=tuple(c for c in cells if isinstance(c, Cell)))
    if isinstance(part, Split):
        return replace(part, parts=tuple(_replaced(p, better, at) for p in part.parts))
    return part


def _count(inset: Inset) -> int:
    return 1 + sum(_count(i) for i in inset.insets)


def ring_iou(a: np.ndarray, b: np.ndarray) -> float:
    """Intersection over union of two rings."""
    return ring_ious([a], [b])[0]


def ring_ious(first: Sequence[np.ndarray], second: Sequence[np.ndarray]) -> list[float]:
    """Intersection over union of each ring of one list with its partner in the other."""
    if not first:
        return []
    longest = max(len(ring) for ring in (*first, *second))
    rings = np.stack([_padded(ring, longest) for ring in (*first, *second)])
    low, high = rings.min(axis=1), rings.max(axis=1)
    areas, size = np.abs(_shoelace(rings)), (high - low).prod(axis=1)
    a, b = np.arange(len(first)), np.arange(len(first), len(rings))
    common = np.maximum(np.minimum(high[a], high[b]) - np.maximum(low[a], low[b]), 0).prod(axis=1)
    is_box = np.abs(areas - size) <= 1e-12 * size
    other = np.flatnonzero(~(is_box[a] & is_box[b]))
    if len(other):
        shapes = shapely.make_valid(shapely.polygons(rings[[*other, *(other + len(first))]]))
        one, two = shapes[: len(other)], shapes[len(other) :]
        common[other] = shapely.area(shapely.intersection(one, two))
        areas[a[other]], areas[b[other]] = shapely.area(one), shapely.area(two)
    union = areas[a] + areas[b] - common
    ious: list[float] = np.where(union > 0, common / np.maximum(union, 1e-300), 0.0).tolist()
    return ious


def _shoelace(rings: np.ndarray) -> np.ndarray:
    x, y = rings[..., 0], rings[..., 1]
    cross = x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y
    result: np.ndarray = cross.sum(axis=1) / 2
    return result


def _padded(ring: np.ndarray, count: int) -> np.ndarray:
    return np.vstack([ring, np.repeat(ring[-1:], count - len(ring), axis=0)])
