"""From a grid to the parts of a written grid: cuts, sizes, slants and gutters measured.

Where straight cuts part the panels, the text draws the grid again to within rounding;
panels of other shapes get their corners written out. What no cut parts is written panel by
panel.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from panelscan.layout.notation_corners import percent_of
from panelscan.layout.notation_draw import Drawing
from panelscan.layout.regions import centre_span, cut_up, normal_of
from panelscan.layout.shapes import PanelShape, plain_corners, shape_notes
from panelscan.layout.sheet import Sheet, make_sheet
from panelscan.layout.written import (
    DEFAULT_MARGINS,
    Cell,
    Inset,
    Joint,
    Loose,
    Part,
    Split,
    WrittenPage,
)
from panelscan.layout.xy_cut import Cutter
from panelscan.model.grid import Grid
from panelscan.model.page import PageEdge, ReadingDirection

TIGHT, TIGHT_BY_HAND, RELAXED = 0.01, 0.12, 0.3
EVEN = 0.006
"""Sizes that differ by less than this share are written as even."""
SAME_GAP = 0.2
"""Gutters within this many percent of the page's width of the usual one are the usual one."""
STRAIGHT_DEG = 0.6
STRAIGHT_BY_HAND_DEG = 2.5
FACING = 0.04
FILLS = 0.85
LEAST_SIDE = 0.2
"""Least side of a written box, in percent."""
FAR_FROM_EDGE = 0.2
"""Room, in widths of the page, that is no margin any more."""


@dataclass(eq=False)
class Writer:
    """Measures one grid; ``written`` is filled with panel indices in written order."""

    grid: Grid
    written: list[int] = field(default_factory=list)
    gaps: dict[bool, list[float]] = field(default_factory=lambda: {True: [], False: []})

    def __post_init__(self) -> None:
        scale = np.array([1.0, 1.0 / self.grid.aspect])
        self.raw = [p.outline.array() * scale for p in self.grid.panels]
        self.notes = shape_notes(self.raw)
        self.rings = [
            _box_corners(ring) if note.shape is PanelShape.ROUND else plain_corners(ring)
            for ring, note in zip(self.raw, self.notes, strict=True)
        ]
        by_hand = any(len(ring) > 12 for ring in self.raw)
        self.straight_deg = STRAIGHT_BY_HAND_DEG if by_hand else STRAIGHT_DEG
        self.tight = TIGHT_BY_HAND if by_hand else TIGHT
        hosts = [p.host for p in self.grid.panels]
        self.sheet: Sheet = make_sheet(self.rings, 1.0, 1.0 / self.grid.aspect, False, hosts)
        self.cutter = Cutter(self.sheet)
        self.sides = [np.stack([r, np.roll(r, -1, axis=0)], axis=1) for r in self.rings]

    def page(self) -> WrittenPage:
        """The grid as a written page."""
        margins = self._margins()
        page = WrittenPage(
            Cell(),
            aspect=round(self.grid.aspect, 4) if abs(self.grid.aspect - 2 / 3) > 5e-4 else 2 / 3,
            margins=margins,
            direction=self.grid.direction,
            fold=None if self.grid.fold is None else round(self.grid.fold * 100, 1),
        )
        region = Drawing(page).live
        body = self._part(self.sheet.tops, region)
        across, down = (self._usual(rows) for rows in (False, True))
        page = replace(page, gutters=(across, down))
        return replace(page, body=_settled(body, page))

    def _margins(self) -> tuple[float, float, float, float]:
        found = []
        boxes = self.sheet.boxes
        ends = (0.0, 0.0, 1.0, self.sheet.height)
        for k, edge in enumerate(PageEdge):
            free = [i for i in self.sheet.tops if edge not in self.grid.panels[i].bleed]
            rooms = np.abs(boxes[free, k] - ends[k])
            if not free or (len(free) < len(boxes) and rooms.min() > FAR_FROM_EDGE):
                found.append(DEFAULT_MARGINS[k])
                continue
            outer = rooms[rooms <= rooms.min() + 0.015]
            found.append(min(45.0, max(0.0, round(float(np.median(outer)) * 100, 1))))
        return found[0], found[1], found[2], found[3]

    def _usual(self, rows: bool) -> float:
        return round(float(np.median(self.gaps[rows])), 1) if self.gaps[rows] else 2.0

    # -- parts -----------------------------------------------------------------------------

    def _part(self, group: Sequence[int], region: np.ndarray) -> Part:
        if len(group) == 1:
            return self._cell(group[0])
        for tolerance in (self.tight, RELAXED):
            for rows in (True, False):
                parts = self.cutter.split(group, rows, tolerance)
                if len(parts) > 1 and (tolerance < RELAXED or self._fills(rows, parts)):
                    return self._split(rows, parts, region)
        return self._loose(group, region)

    def _fills(self, rows: bool, parts: Sequence[tuple[int, ...]]) -> bool:
        """Whether every part runs along the whole cut; else boxes say more than cuts do."""
        axis, boxes = (0 if rows else 1), self.sheet.boxes
        spans = [
            (boxes[list(part), axis].min(), boxes[list(part), axis + 2].max()) for part in parts
        ]
        whole = max(high for _, high in spans) - min(low for low, _ in spans)
        return all(high - low >= FILLS * whole for low, high in spans)

    def _split(self, rows: bool, parts: Sequence[tuple[int, ...]], region: np.ndarray) -> Part:
        cuts = [
            self._cut(rows, before, after, region) for before, after in itertools.pairwise(parts)
        ]
        rings = cut_up(region, rows, cuts)
        if any(len(ring) < 3 for ring in rings):
            return self._loose([i for part in parts for i in part], region)
        start, end, _ = centre_span(region, rows)
        sizes, at = [], start
        for place, slant, gap in cuts:
            wide = gap / math.cos(math.radians(slant))
            sizes.append(place - wide / 2 - at)
            at = place + wide / 2
        sizes.append(end - at)
        if min(sizes) <= 0:
            return self._loose([i for part in parts for i in part], region)
        joints = [Joint(gap * 100, slant) for _, slant, gap in cuts]
        self.gaps[rows] += [gap * 100 for _, _, gap in cuts]
        pairs = list(zip(parts, rings, strict=True))
        if not rows and self.grid.direction is ReadingDirection.RTL:
            pairs.reverse()
            sizes.reverse()
            joints.reverse()
        children = tuple(self._part(part, ring) for part, ring in pairs)
        return Split(rows, children, tuple(sizes), tuple(joints))

    def _cut(
        self, rows: bool, before: Sequence[int], after: Sequence[int], region: np.ndarray
    ) -> tuple[float, float, float]:
        """Place on the region's centre line, slant and gap of the gutter between two parts."""
        cut = self.cutter.best_cut((*before, *after), rows, 1.0)
        lean = cut.lean_deg if cut is not None and set(cut.before) == set(before) else 0.0
        first = lean if rows else -lean
        near, far = (
            _facing(np.concatenate([self.sides[i] for i in g]), rows, first, ahead)
            for g, ahead in ((before, True), (after, False))
        )
        slant = _mean_slant(rows, np.concatenate([near, far]), first, self.straight_deg)
        normal = np.array(normal_of(rows, slant))
        low = _mean_reach(self.rings, before, near, normal, True)
        high = _mean_reach(self.rings, after, far, normal, False)
        _, _, at = centre_span(region, rows)
        along, across = (1, 0) if rows else (0, 1)
        place = ((low + high) / 2 - normal[across] * at) / normal[along]
        return float(place), slant, float(high - low)

    def _cell(self, panel: int) -> Cell:
        self.written.append(panel)
        insets = self._insets(panel)
        return Cell(self.grid.panels[panel].bleed, False, None, insets)

    def _insets(self, host: int) -> tuple[Inset, ...]:
        found = []
        for inset in sorted(self.sheet.insets_of(host)):
            self.written.append(inset)
            ring, note = self.raw[inset], self.notes[inset]
            is_round = note.shape is PanelShape.ROUND
            is_box = is_round or note.shape is PanelShape.RECTANGLE
            shown = _box_corners(ring) if is_box else plain_corners(ring)
            corners = percent_of(shown, self.raw[host])
            found.append(Inset(corners, is_box, is_round, self._insets(inset)))
        return tuple(found)

    def _loose(self, group: Sequence[int], region: np.ndarray) -> Part:
        cells, boxes = [], []
        for panel in sorted(group):
            box = percent_of(_box_corners(self.rings[panel]), region)
            cells.append(self._cell(panel))
            boxes.append((box[0], box[1], box[4], box[5]))
        return Loose(tuple(cells), tuple(boxes))


def box_by_box(grid: Grid) -> tuple[WrittenPage, tuple[int, ...]]:
    """Every panel by its box alone, for pages that cannot be written otherwise.

    Returns
    -------
    page : WrittenPage
        One loose block over the whole page; insets and bleeds are not told apart.
    written : tuple of int
        Panels in written order: the grid's own.
    """
    boxes = []
    for panel in grid.panels:
        x0, y0, x1, y1 = (100 * v for v in panel.outline.bounds)
        x0, y0 = (round(min(max(v, -900.0), 900.0), 1) for v in (x0, y0))
        x1, y1 = (round(min(v, 999.0), 1) for v in (x1, y1))
        boxes.append((x0, y0, max(x1, x0 + LEAST_SIDE), max(y1, y0 + LEAST_SIDE)))
    aspect = round(min(max(grid.aspect, 0.02), 50.0), 4)
    body = Loose((Cell(),) * len(boxes), tuple(boxes))
    fold = None if grid.fold is None else round(min(max(grid.fold, 0.0), 1.0) * 100, 1)
    margins = (0.0, 0.0, 0.0, 0.0)
    page = WrittenPage(body, aspect, margins, direction=grid.direction, fold=fold)
    return page, tuple(range(len(boxes)))


def _settled(part: Part, page: WrittenPage) -> Part:
    """Sizes in percent or even, gutters only where they differ from the usual one."""
    if not isinstance(part, Split):
        return part
    usual = page.gutters[1 if part.rows else 0]
    joints = tuple(
        Joint(
            None if j.gap is None or abs(j.gap - usual) <= SAME_GAP else round(j.gap, 1),
            j.slant_deg,
        )
        for j in part.joints
    )
    mean = sum(part.sizes) / len(part.sizes)
    if all(abs(s - mean) <= EVEN * mean for s in part.sizes):
        sizes = (1.0,) * len(part.sizes)
    else:
        sizes = tuple(_percent(s / (mean * len(part.sizes))) for s in part.sizes)
    return Split(part.rows, tuple(_settled(p, page) for p in part.parts), sizes, joints)


def _percent(share: float) -> float:
    value = round(100 * share, 1)
    whole = round(value)
    return max(0.1, float(whole) if abs(value - whole) <= 0.1 else value)


def _box_corners(ring: np.ndarray) -> np.ndarray:
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _facing(sides: np.ndarray, rows: bool, slant: float, ahead: bool) -> np.ndarray:
    """Those of the sides, of shape (N, 2, 2), that face a cut."""
    normal = np.array(normal_of(rows, slant))
    along = np.array([normal[1], -normal[0]])
    runs = sides[:, 1] - sides[:, 0]
    # rings are counterclockwise in numbers: the outside lies to the right of a side
    outside = runs[:, 1] * normal[0] - runs[:, 0] * normal[1]
    faces = (np.abs(runs @ along) > np.abs(runs @ normal)) & ((outside > 0) == ahead)
    facing: np.ndarray = sides[faces]
    if not len(facing):
        return facing
    reach = facing.mean(axis=1) @ normal
    near = reach >= reach.max() - FACING if ahead else reach <= reach.min() + FACING
    nearest: np.ndarray = facing[near]
    return nearest


def _mean_slant(rows: bool, sides: np.ndarray, fallback: float, straight_deg: float) -> float:
    if not len(sides):
        return 0.0 if abs(fallback) < straight_deg else round(fallback, 1)
    runs = sides[:, 1] - sides[:, 0]
    lengths = np.hypot(runs[:, 0], runs[:, 1])
    if rows:
        turns = np.degrees(np.arctan(runs[:, 1] / np.where(runs[:, 0] == 0, 1e-12, runs[:, 0])))
    else:
        turns = np.degrees(np.arctan(-runs[:, 0] / np.where(runs[:, 1] == 0, 1e-12, runs[:, 1])))
    slant = float((turns * lengths).sum() / lengths.sum())
    return 0.0 if abs(slant) < straight_deg else round(max(-60.0, min(60.0, slant)), 1)


def _mean_reach(
    rings: Sequence[np.ndarray],
    group: Sequence[int],
    sides: np.ndarray,
    normal: np.ndarray,
    ahead: bool,
) -> float:
    if not len(sides):
        reach = np.concatenate([rings[i] @ normal for i in group])
        return float(reach.max() if ahead else reach.min())
    runs = sides[:, 1] - sides[:, 0]
    lengths = np.hypot(runs[:, 0], runs[:, 1])
    reach = sides.mean(axis=1) @ normal
    return float((reach * lengths).sum() / lengths.sum())
