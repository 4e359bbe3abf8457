"""Panel borders as pen lines: mitred, left open where a panel bleeds, hidden behind insets."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import LineString, MultiLineString, Polygon
from shapely.ops import linemerge, unary_union

from panelscan.model.outline import Point
from panelscan.templates.layers import Stroke
from panelscan.templates.placement import PlacedPanel


def border_strokes(panels: Sequence[PlacedPanel], width_mm: float) -> list[Stroke]:
    """Pen lines of all borders, in the trim's frame.

    Sides that bleed get no line; their neighbours run on past the bleed line. Where a panel
    lies in front of another, the one behind loses its line there.

    Parameters
    ----------
    panels : sequence of PlacedPanel
        In reading order.
    width_mm : float
        Weight; the line's middle runs on the panel's outline.
    """
    if width_mm <= 0:
        return []
    strokes = []
    for panel in panels:
        in_front = [
            p.outline.shape
            for p in panels
            if p.depth > panel.depth and p.outline.shape.intersects(panel.outline.shape)
        ]
        cover = unary_union(in_front) if in_front else None
        for points, closed in _runs(panel, width_mm):
            strokes += _visible(points, closed, cover, width_mm)
    return strokes


def _runs(panel: PlacedPanel, width_mm: float) -> list[tuple[tuple[Point, ...], bool]]:
    """Corners of each stretch of border between bleeding sides, and whether it closes."""
    points, count = panel.outline.points, len(panel.outline.points)
    drawn = [i for i in range(count) if i not in panel.bleed_sides]
    if len(drawn) == count:
        return [(points, True)]
    runs = []
    for start in drawn:
        if (start - 1) % count in drawn:
            continue
        run = [points[start]]
        i = start
        while i in drawn:
            run.append(points[(i + 1) % count])
            i = (i + 1) % count
        runs.append((_lengthened(run, 2 * width_mm), False))
    return runs


def _lengthened(run: list[Point], by: float) -> tuple[Point, ...]:
    """The run with both ends carried on in their own direction."""

    def beyond(end: Point, before: Point) -> Point:
        dx, dy = end[0] - before[0], end[1] - before[1]
        length = (dx * dx + dy * dy) ** 0.5
        return end[0] + dx / length * by, end[1] + dy / length * by

    return (beyond(run[0], run[1]), *run[1:-1], beyond(run[-1], run[-2]))


def _visible(
    points: tuple[Point, ...], closed: bool, cover: Polygon | None, width_mm: float
) -> list[Stroke]:
    """The stretch as pen lines, what lies behind another panel taken out."""
    line = LineString([*points, points[0]] if closed else points)
    if cover is None or not line.intersects(cover.buffer(-1e-6)):
        return [Stroke(points, width_mm, closed=closed)]
    rest = line.difference(cover.buffer(-1e-6))
    if isinstance(rest, MultiLineString):
        rest = linemerge(rest)
    parts = [p for p in getattr(rest, "geoms", [rest]) if p.length > 1e-6]
    return [Stroke(tuple((x, y) for x, y in p.coords), width_mm) for p in parts]
