"""Straight and square: needless corners dropped, near-level sides levelled, slants paired."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from panelscan.layout.sides import PanelSide
from panelscan.model.outline import Outline, Point
from panelscan.templates.moving import is_free_form
from panelscan.templates.place import gutter_pairs

MOST_BEND_DEG = 25.0
PARALLEL_DEG = 4.0
WIDEST_MM = 30.0


def without_needless_corners(outline: Outline, straight_mm: float) -> Outline:
    """Drop corners that lie on the line between their neighbours, or nearly so.

    Parameters
    ----------
    outline : Outline
        In mm.
    straight_mm : float
        Greatest distance from that line.

    Returns
    -------
    Outline
        With at least three corners; a real corner (bend above 25 degrees, unless one of
        its sides is shorter than twice `straight_mm`) stays.

    Examples
    --------
    >>> bent = Outline.of([(0, 0), (50, 0.3), (100, 0), (100, 80), (0, 80)])
    >>> len(without_needless_corners(bent, 0.5).points)
    4
    """
    if is_free_form(outline):
        return outline
    ring = list(outline.points)
    while len(ring) > 3:
        scored = [
            (_off_line(ring[i - 1], ring[i], ring[(i + 1) % len(ring)]), i)
            for i in range(len(ring))
            if _is_needless(ring[i - 1], ring[i], ring[(i + 1) % len(ring)], straight_mm)
        ]
        if not scored:
            break
        del ring[min(scored)[1]]
    if len(ring) == len(outline.points):
        return outline
    try:
        return Outline(tuple(ring))
    except ValueError:
        return outline


def _off_line(a: Point, b: Point, c: Point) -> float:
    """Distance of b from the line through a and c."""
    length = math.dist(a, c)
    if length == 0:
        return math.dist(a, b)
    return abs((c[0] - a[0]) * (b[1] - a[1]) - (c[1] - a[1]) * (b[0] - a[0])) / length


def _is_needless(a: Point, b: Point, c: Point, straight_mm: float) -> bool:
    if _off_line(a, b, c) > straight_mm:
        return False
    bend = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]) - math.atan2(c[1] - b[1], c[0] - b[0]))
    bend = abs((bend + 180) % 360 - 180)
    return bend <= MOST_BEND_DEG or min(math.dist(a, b), math.dist(b, c)) <= 2 * straight_mm


def squared(
    outlines: Sequence[Outline],
    sides: Sequence[PanelSide],
    square_deg: float,
    move_mm: float,
) -> list[PanelSide]:
    """Sides with their directions cleaned; each still goes through its own middle.

    Parameters
    ----------
    outlines : sequence of Outline
        In mm.
    sides : sequence of PanelSide
        Of `outlines`.
    square_deg : float
        Sides this nearly level or upright are made so.
    move_mm : float
        No end of a side may move farther than this.
    """
    cleaned = [
        _turned(s, _axis(s)) if _may_turn(s, abs(s.tilt_deg), square_deg, move_mm) else s
        for s in sides
    ]
    free = {i for i, o in enumerate(outlines) if is_free_form(o)}
    cleaned = [old if old.panel in free else new for old, new in zip(sides, cleaned, strict=True)]
    for f in gutter_pairs(outlines, WIDEST_MM):
        a, b = cleaned[f.first], cleaned[f.second]
        if _is_square(a) or _is_square(b):
            continue
        nx, ny = a.normal[0] - b.normal[0], a.normal[1] - b.normal[1]
        size = math.hypot(nx, ny)
        mean = (nx / size, ny / size)
        turn = math.degrees(math.acos(min(1.0, a.normal[0] * mean[0] + a.normal[1] * mean[1])))
        if all(_may_turn(s, turn, PARALLEL_DEG / 2, move_mm) for s in (a, b)):
            cleaned[f.first] = _turned(a, mean)
            cleaned[f.second] = _turned(b, (-mean[0], -mean[1]))
    return cleaned


def _may_turn(side: PanelSide, by_deg: float, most_deg: float, move_mm: float) -> bool:
    """Whether the turn is small in angle, and at the side's ends."""
    at_end = side.length / 2 * math.sin(math.radians(by_deg))
    return by_deg <= most_deg and at_end <= 0.75 * move_mm


def _axis(side: PanelSide) -> Point:
    """The axis direction nearest to the side's normal."""
    x, y = side.normal
    if abs(x) > abs(y):
        return (math.copysign(1.0, x), 0.0)
    return (0.0, math.copysign(1.0, y))


def _is_square(side: PanelSide) -> bool:
    return min(abs(side.normal[0]), abs(side.normal[1])) < 1e-9


def _turned(side: PanelSide, normal: Point) -> PanelSide:
    """The side turned about its middle."""
    x, y = side.middle
    return replace(side, normal=normal, offset=normal[0] * x + normal[1] * y)
