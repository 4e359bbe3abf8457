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
    better: dict[int, Cell] = {}
    for number, (index, panel) in enumerate(zip(written, drawing.panels, strict=True)):
        if panel.host is None:
            target = grid.panels[index].outline.array() * scale
            better[number] = _cell_for(target, panel)
    return replace(page, body=_replaced(page.body, better, [0]))


def _cell_for(target: np.ndarray, panel: DrawnPanel) -> Cell:
    if ring_iou(target, panel.ring) >= CLOSE_ENOUGH:
        return Cell()
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
    first, second = shapely.make_valid(shapely.polygons(np.stack([_padded(a, b), _padded(b, a)])))
    union = float(shapely.area(shapely.union(first, second)))
    return float(shapely.area(shapely.intersection(first, second))) / union if union > 0 else 0.0


def _padded(ring: np.ndarray, other: np.ndarray) -> np.ndarray:
    missing = max(0, len(other) - len(ring))
    return np.vstack([ring, np.repeat(ring[-1:], missing, axis=0), ring[:1]])
