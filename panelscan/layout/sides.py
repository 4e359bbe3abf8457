"""Sides of panels as lines: which face each other across a gutter, which lie in one line.

Works in any frame with equal units along both axes (millimetres or pixels). Used where a
grid is moved side by side: cleaning, placing on a page format, checking.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from panelscan.model.grid import GutterKind
from panelscan.model.outline import Outline, Point

FACING_DEG = 12.0
LEAST_SHARED = 0.15


@dataclass(frozen=True, slots=True)
class PanelSide:
    """One side of a panel, with the line it lies on.

    Parameters
    ----------
    panel, index : int
        Which panel, and which side of its outline (from corner ``index`` to the next).
    start, end : tuple of float
        Its corners, in ring order.
    normal : tuple of float
        Unit vector across the side, pointing out of the panel.
    offset : float
        ``normal . p`` for every point p of the line.
    """

    panel: int
    index: int
    start: Point
    end: Point
    normal: Point
    offset: float

    @property
    def length(self) -> float:
        """Length of the side."""
        return math.dist(self.start, self.end)

    @property
    def middle(self) -> Point:
        """Point half way along."""
        return (self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2

    @property
    def tilt_deg(self) -> float:
        """Angle against the nearer page axis, -45 to 45; positive turns clockwise to the eye."""
        dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
        return (math.degrees(math.atan2(dy, dx)) + 45.0) % 90.0 - 45.0

    @property
    def kind(self) -> GutterKind:
        """Tier for a side that runs across, column for one that runs down."""
        return GutterKind.TIER if abs(self.normal[1]) >= abs(self.normal[0]) else GutterKind.COLUMN


@dataclass(frozen=True, slots=True)
class Facing:
    """Two sides that face each other with nothing between.

    Parameters
    ----------
    first, second : int
        Places in the list of sides.
    gap, gap_min, gap_max : float
        Distance between the sides over their common stretch: mean, least, greatest.
    shared : float
        Length of the common stretch.
    place : tuple of float
        Middle of the strip between them.
    """

    first: int
    second: int
    gap: float
    gap_min: float
    gap_max: float
    shared: float
    place: Point


def panel_sides(outlines: Sequence[Outline]) -> list[PanelSide]:
    """All sides of all panels, panel by panel in ring order.

    Examples
    --------
    >>> top = panel_sides([Outline.box(0, 0, 30, 20)])[0]
    >>> top.normal, top.offset, top.length
    ((0.0, -1.0), 0.0, 30.0)
    """
    return [
        side_between(p, i, start, end)
        for p, outline in enumerate(outlines)
        for i, (start, end) in enumerate(outline.edges())
    ]


def side_between(panel: int, index: int, start: Point, end: Point) -> PanelSide:
    """The side from one corner to the next of a ring that encloses a positive area."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy) or 1.0
    normal = (dy / length, 0.0 - dx / length)
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    return PanelSide(
        panel, index, start, end, normal, normal[0] * middle[0] + normal[1] * middle[1]
    )


def facing_sides(
    outlines: Sequence[Outline], widest: float, sides: Sequence[PanelSide] | None = None
) -> list[Facing]:
    """Pairs of sides of different panels that face each other across at most `widest`.

    Parameters
    ----------
    outlines : sequence of Outline
        The panels.
    widest : float
        Greatest gap that still counts as a gutter.
    sides : sequence of PanelSide, optional
        From `panel_sides`, to save time.

    Notes
    -----
    Two sides face each other when their outward normals are opposite within 12 degrees,
    they share a stretch of at least 15 % of the shorter one, and no third panel covers more
    than a tenth of the strip between. Sides that overlap by up to a fifth of `widest` count
    with a negative gap.

    Examples
    --------
    >>> pair = facing_sides([Outline.box(0, 0, 10, 10), Outline.box(13, 0, 20, 10)], 5)[0]
    >>> pair.gap, pair.shared
    (3.0, 10.0)
    """
    sides = panel_sides(outlines) if sides is None else sides
    found = []
    for i, j in _opposite(sides):
        facing = measure_gap(i, j, sides[i], sides[j])
        if facing is None or not -widest / 5 <= facing.gap <= widest or facing.gap_max > 2 * widest:
            continue
        if not _blocked(facing, sides, outlines):
            found.append(facing)
    return found


def _opposite(sides: Sequence[PanelSide]) -> list[tuple[int, int]]:
    """Pairs of sides of different panels whose outward normals are opposite."""
    if not sides:
        return []
    normals = np.array([s.normal for s in sides])
    panels = np.array([s.panel for s in sides])
    against = normals @ normals.T < -math.cos(math.radians(FACING_DEG))
    against &= panels[:, None] < panels[None, :]
    return [(int(i), int(j)) for i, j in np.argwhere(against)]


def measure_gap(i: int, j: int, a: PanelSide, b: PanelSide) -> Facing | None:
    """Gap over the stretch that both sides share, measured across the mean direction."""
    nx, ny = a.normal[0] - b.normal[0], a.normal[1] - b.normal[1]
    size = math.hypot(nx, ny)
    nx, ny = nx / size, ny / size
    tx, ty = -ny, nx

    def along(p: Point) -> float:
        return p[0] * tx + p[1] * ty

    low = max(min(along(a.start), along(a.end)), min(along(b.start), along(b.end)))
    high = min(max(along(a.start), along(a.end)), max(along(b.start), along(b.end)))
    if high - low < LEAST_SHARED * min(a.length, b.length) or high - low <= 0:
        return None
    ends = [
        (_across(b, t, (tx, ty), (nx, ny)), _across(a, t, (tx, ty), (nx, ny))) for t in (low, high)
    ]
    gaps = [far - near for far, near in ends]
    depth = sum(far + near for far, near in ends) / 4
    t = (low + high) / 2
    place = (t * tx + depth * nx, t * ty + depth * ny)
    return Facing(i, j, sum(gaps) / 2, min(gaps), max(gaps), high - low, place)


def _across(side: PanelSide, t: float, along: Point, across: Point) -> float:
    """How far along `across` the side's line lies at position `t` along `along`."""
    ax, ay = side.normal
    part = ax * across[0] + ay * across[1]
    return (side.offset - t * (ax * along[0] + ay * along[1])) / part


def _blocked(facing: Facing, sides: Sequence[PanelSide], outlines: Sequence[Outline]) -> bool:
    """Whether a third panel lies in the strip between the two sides."""
    if facing.gap_max <= 0:
        return False
    a, b = sides[facing.first], sides[facing.second]
    strip = Polygon([a.start, a.end, b.start, b.end])
    if not strip.is_valid or strip.area <= 0:
        strip = strip.buffer(0)
    x0, y0, x1, y1 = strip.bounds if not strip.is_empty else (0.0, 0.0, 0.0, 0.0)
    for k, other in enumerate(outlines):
        if k in (a.panel, b.panel):
            continue
        ox0, oy0, ox1, oy1 = other.bounds
        if ox1 <= x0 or ox0 >= x1 or oy1 <= y0 or oy0 >= y1:
            continue
        shared_strip = _narrowed(strip, facing, a)
        if shared_strip.intersection(other.shape).area > 0.1 * shared_strip.area:
            return True
    return False


def _narrowed(strip: Polygon, facing: Facing, a: PanelSide) -> Polygon:
    """The strip cut down to the stretch that both sides share."""
    tx, ty = -a.normal[1], a.normal[0]
    reach = facing.gap_max + facing.shared
    half = facing.shared / 2
    cx, cy = facing.place
    nx, ny = a.normal
    window = Polygon(
        [
            (cx + s * half * tx + r * reach * nx, cy + s * half * ty + r * reach * ny)
            for s, r in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
    )
    return strip.intersection(window)


def lines_of_sides(
    sides: Sequence[PanelSide], distance: float, angle_deg: float = 3.0
) -> list[list[int]]:
    """Groups of sides that lie nearly in one line and look the same way.

    Parameters
    ----------
    sides : sequence of PanelSide
        From `panel_sides`.
    distance : float
        Greatest distance across the line between neighbours in a group.
    angle_deg : float
        Greatest difference in direction.

    Returns
    -------
    list of list of int
        Places in `sides`, two or more to a group, each group's offsets chained by at most
        `distance`.

    Examples
    --------
    >>> upper, lower = Outline.box(0, 0, 10, 10), Outline.box(0.4, 12, 10, 20)
    >>> [len(g) for g in lines_of_sides(panel_sides([upper, lower]), 0.5)]
    [2, 2]
    """
    groups: list[list[int]] = []
    used: set[int] = set()
    for i in range(len(sides)):
        if i in used:
            continue
        group, queue = [i], [i]
        used.add(i)
        while queue:
            current = sides[queue.pop()]
            for j, other in enumerate(sides):
                if j not in used and _in_line(current, other, distance, angle_deg):
                    used.add(j)
                    group.append(j)
                    queue.append(j)
        if len(group) > 1:
            groups.append(sorted(group))
    return groups


def _in_line(a: PanelSide, b: PanelSide, distance: float, angle_deg: float) -> bool:
    """Whether two sides look the same way and lie nearly in one line."""
    cosine = a.normal[0] * b.normal[0] + a.normal[1] * b.normal[1]
    if cosine < math.cos(math.radians(angle_deg)) or a.panel == b.panel:
        return False
    return line_distance(a, b) <= distance


def line_distance(a: PanelSide, b: PanelSide) -> float:
    """How far side b's middle lies off side a's line, and a's off b's: the larger.

    Long slanted sides far apart differ much in the line they lie on for a little angle;
    measuring at the middles of both keeps that in hand.
    """
    off_a = abs(a.normal[0] * b.middle[0] + a.normal[1] * b.middle[1] - a.offset)
    off_b = abs(b.normal[0] * a.middle[0] + b.normal[1] * a.middle[1] - b.offset)
    return max(off_a, off_b)
