"""The order in which a page's panels are read, other orders, and where readers part.

The rules, from what people did with pages of empty panels: finish a group before leaving
it; keep to a smooth path; never jump over a panel; leave nothing behind. Groups come from
clean cuts. Where level cuts and upright cuts compete (a grid, a stagger, a tall panel that
closes a stack) both readings are kept, weighted by the published shares.

References
----------
N. Cohn 2013, doi 10.3389/fpsyg.2013.00186; N. Cohn and H. Campbell 2015, doi
10.1002/acp.3086. The shares stand in ``clarity``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from statistics import median

import numpy as np

from panelscan.layout import clarity
from panelscan.layout.choices import (
    Parse,
    divide,
    in_sequence,
    joined,
    kept,
    led_by,
    mixed,
)
from panelscan.layout.group_order import MOST_EXACT, best_orders
from panelscan.layout.gutters import Strip, strips_of
from panelscan.layout.overlaps import with_overlaps
from panelscan.layout.sheet import Sheet
from panelscan.layout.slip import Rows, parted_rows, slip_of, slips_along
from panelscan.layout.xy_cut import Cutter
from panelscan.model.grid import CutNode, GutterKind

LEAST_GUTTER = 0.006
"""Gutters thinner than this share of the page's width all count as touching."""
FREE_COLUMN = 0.04
"""Crossing up to which an upright gutter through several tiers invites reading down it."""
ENTRY_CORNER = (0.08, 0.25)
"""Where an inset stops, and has stopped, competing with its host, in shares of the host."""
WHOLE_HEIGHT = 0.85
"""Share of the panels' whole height from which a gutter counts as unbroken."""


@dataclass(frozen=True, eq=False)
class Reader:
    """Reads the panels of one sheet.

    Parameters
    ----------
    sheet : Sheet
        The panels laid flat, x growing in the direction of reading.
    fold : float or None
        Where the fold of facing pages lies, in the sheet's x.
    """

    sheet: Sheet
    fold: float | None = None

    @cached_property
    def cutter(self) -> Cutter:
        """Finder of clean cuts."""
        return Cutter(self.sheet)

    def read(self) -> Parse:
        """How the whole page is read; an empty page gives an empty order."""
        if not len(self.sheet):
            return Parse(CutNode("group", ()), ((1.0, ()),))
        tops = self.sheet.tops
        parse = self._facing(tops) if self.fold is not None else self._group(tops)
        return with_overlaps(parse, self.sheet)

    @cached_property
    def _known(self) -> dict[frozenset[int], Parse]:
        return {}

    def _group(self, group: Sequence[int]) -> Parse:
        key = frozenset(group)
        if key not in self._known:
            self._known[key] = self._parse(sorted(group))
        return self._known[key]

    def _parse(self, group: Sequence[int]) -> Parse:
        if len(group) == 1:
            return self._panel(group[0])
        rows = self.cutter.split(group, rows=True)
        if len(rows) > 1:
            return self._tiers(rows)
        columns = self.cutter.split(group, rows=False)
        if len(columns) > 1:
            return self._columns(columns)
        return self._heap(group)

    def _panel(self, panel: int) -> Parse:
        """One panel, then what is inset in it."""
        leaf = CutNode("panel", (panel,))
        insets = self.sheet.insets_of(panel)
        if not insets:
            return Parse(leaf, ((1.0, (panel,)),))
        inner = self._group(insets)
        host_first = Parse(leaf, ((1.0, (panel,)),))
        options = in_sequence([host_first, inner])
        inset_first = in_sequence([inner, host_first])
        share = self._host_first_share(panel, inner.order[0])
        tree = CutNode("insets", (panel, *inner.order), (leaf, inner.tree))
        mark = divide(options[0][1], inset_first[0][1], "inset", 1 - share)
        return Parse(tree, mixed(share, options, inset_first), mark + inner.divides)

    def _host_first_share(self, host: int, inset: int) -> float:
        """An inset at the host's entry corner competes with it; elsewhere it hardly does."""
        box, own = self.sheet.boxes[host], self.sheet.boxes[inset]
        away = float(((own[:2] - box[:2]) / np.maximum(box[2:] - box[:2], 1e-12)).max())
        certain = 1 - (1 - clarity.INSET.rows_share) / 3
        return float(np.interp(away, ENTRY_CORNER, (clarity.INSET.rows_share, certain)))

    def _tiers(self, rows: Sequence[tuple[int, ...]]) -> Parse:
        """Tiers from top to bottom; neighbours that form a grid may also be read in columns."""
        parts, start = [], 0
        while start < len(rows):
            end = start + 1
            union = rows[start]
            while end < len(rows) and len(rows[end]) > 1 and len(rows[start]) > 1:
                wider = (*union, *rows[end])
                if self.cutter.best_cut(wider, rows=False, tolerance=FREE_COLUMN) is None:
                    break
                union, end = wider, end + 1
            run = rows[start:end]
            parts.append(self._grid_block(run) if len(run) > 1 else self._group(run[0]))
            start = end
        return _sequence("rows", parts)

    def _grid_block(self, rows: Sequence[tuple[int, ...]]) -> Parse:
        """Tiers that an upright gutter crosses: row by row, or column by column."""
        by_rows = _sequence("rows", [self._group(row) for row in rows])
        union = [i for row in rows for i in row]
        columns = self.cutter.split(union, rows=False, tolerance=FREE_COLUMN)
        by_columns = _sequence("columns", [self._group(column) for column in columns])
        share, reason = self._grid_share(rows, columns)
        return _choice(share, by_rows, by_columns, reason)

    def _grid_share(
        self, rows: Sequence[tuple[int, ...]], columns: Sequence[tuple[int, ...]]
    ) -> tuple[float, str]:
        boxes, stand = self.sheet.boxes, np.zeros(len(self.sheet), dtype=int)
        for k, column in enumerate(columns):
            stand[list(column)] = k
        pairs = list(pairwise(rows))
        slips = [slip_of(boxes, a, b, stand) for a, b in pairs]
        level = self._gutters(rows, GutterKind.TIER)
        upright = self._gutters(columns, GutterKind.COLUMN)
        least = LEAST_GUTTER * self.sheet.width
        apart = clarity.separated_share(max(*upright, least), max(median(level), least))
        union = [i for row in rows for i in row]
        slipped = clarity.rows_share(max(slips), self._is_whole_height(union))
        if slipped < clarity.GRID.rows_share - 0.005:
            return min(slipped, apart), "stagger" if slipped <= apart else "separation"
        return apart, "separation" if apart < clarity.GRID.rows_share - 0.05 else "grid"

    @cached_property
    def strips(self) -> tuple[Strip, ...]:
        """Room between the panels that face each other."""
        return strips_of(self.sheet)

    def _gutters(self, parts: Sequence[Sequence[int]], kind: GutterKind) -> list[float]:
        """Usual width of the gutter between each part and the next."""
        home = {panel: k for k, part in enumerate(parts) for panel in part}
        widths: list[list[float]] = [[] for _ in parts[1:]]
        for strip in self.strips:
            if strip.kind is kind and strip.near in home and strip.far in home:
                near, far = sorted((home[strip.near], home[strip.far]))
                if far == near + 1:
                    widths[near].append(strip.width)
        axis, boxes = (1 if kind is GutterKind.TIER else 0), self.sheet.boxes
        return [
            median(known)
            if known
            else max(0.0, float(boxes[list(b), axis].min() - boxes[list(a), axis + 2].max()))
            for known, (a, b) in zip(widths, pairwise(parts), strict=True)
        ]

    def _columns(self, columns: Sequence[tuple[int, ...]]) -> Parse:
        """Columns side by side with no clean level cut through all of them."""
        blocks = self._blocks(columns)
        by_columns = _sequence("columns", [self._group(block) for block in blocks])
        lines = [line for block in blocks if len(block) > 1 for line in self._lines(block)]
        group = [i for block in blocks for i in block]
        rows = parted_rows(self.sheet.boxes, group, blocks, lines)
        if rows is None:
            return by_columns
        by_rows = _sequence("rows", [self._group(rows.above), self._group(rows.below)])
        share, reason = self._slip_share(rows, group)
        return _choice(share, by_rows, by_columns, reason)

    def _slip_share(self, rows: Rows, group: Sequence[int]) -> tuple[float, str]:
        if rows.tall_between:
            return clarity.TALL_BETWEEN.rows_share, "blockage"
        share = clarity.rows_share(rows.slip, self._is_whole_height(group))
        return share, "blockage" if rows.blocked else "stagger"

    def _blocks(self, columns: Sequence[tuple[int, ...]]) -> list[tuple[int, ...]]:
        """Neighbouring columns that share a level cut belong together."""
        blocks, start = [], 0
        while start < len(columns):
            block, end = columns[start], start + 1
            while end < len(columns):
                wider = (*block, *columns[end])
                if self.cutter.best_cut(wider, rows=True) is None:
                    break
                block, end = wider, end + 1
            blocks.append(block)
            start = end
        return blocks

    def _lines(self, block: Sequence[int]) -> list[float]:
        """Heights of the level cuts inside a block."""
        parts = self.cutter.split(block, rows=True)
        boxes = self.sheet.boxes
        return [
            float(boxes[list(a), 3].max() + boxes[list(b), 1].min()) / 2 for a, b in pairwise(parts)
        ]

    def _is_whole_height(self, group: Sequence[int]) -> bool:
        boxes = self.sheet.boxes
        own = boxes[list(group), 3].max() - boxes[list(group), 1].min()
        return bool(own >= WHOLE_HEIGHT * (boxes[:, 3].max() - boxes[:, 1].min()))

    def _heap(self, group: Sequence[int]) -> Parse:
        """Panels that no clean cut parts: the best linear order by pairs."""
        if len(group) > MOST_EXACT:
            return self._large_heap(group)
        parts = {i: self._panel(i) for i in group}
        orders = best_orders(self.sheet.boxes, tuple(group))
        options = kept(
            (p * q, o) for p, order in orders for q, o in in_sequence([parts[i] for i in order])
        )
        best = orders[0][1]
        own = set(best)
        crossed = any(i in own and j in own for i, j in self.sheet.overlaps)
        reason = "overlap" if crossed else "stagger"
        marks = [m for p, o in orders[1:] if p > 0.1 for m in divide(best, o, reason, p)]
        inner = [m for i in best for m in parts[i].divides]
        tree = CutNode("group", options[0][1], tuple(parts[i].tree for i in best))
        return Parse(tree, options, (*marks, *inner))

    def _large_heap(self, group: Sequence[int]) -> Parse:
        """More panels than the exact search takes: part them where least is crossed."""
        boxes = self.sheet.boxes
        ranked = sorted(group, key=lambda i: (boxes[i, 1] + boxes[i, 3], boxes[i, 0]))
        quarter = len(ranked) // 4
        step = max(1, quarter // 4)
        slips = slips_along(boxes, ranked)
        at = min(range(quarter + 1, 3 * quarter + 1, step), key=lambda t: slips[:t, t].max())
        return _sequence("group", [self._group(ranked[:at]), self._group(ranked[at:])])

    def _facing(self, tops: Sequence[int]) -> Parse:
        """Facing pages: tiers that a panel carries over the fold are read across."""
        rows = self.cutter.split(tops, rows=True)
        parts: list[Parse] = []
        waiting: list[tuple[int, ...]] = []
        for row in [*rows, ()]:
            if row and not self._crosses_fold(row):
                waiting.append(row)
                continue
            if waiting:
                parts.append(self._two_pages(waiting))
            if row:
                parts.append(self._group(row))
            waiting = []
        return _sequence("rows", parts)

    def _crosses_fold(self, row: Sequence[int]) -> bool:
        boxes, fold = self.sheet.boxes[list(row)], self.fold or 0.0
        slack = 0.02 * self.sheet.width
        return bool(((boxes[:, 0] < fold - slack) & (boxes[:, 2] > fold + slack)).any())

    def _two_pages(self, rows: Sequence[tuple[int, ...]]) -> Parse:
        group = [i for row in rows for i in row]
        middle = self.sheet.boxes[:, [0, 2]].mean(axis=1)
        pages = [
            [i for i in group if middle[i] < (self.fold or 0.0)],
            [i for i in group if middle[i] >= (self.fold or 0.0)],
        ]
        by_page = _sequence("pages", [self._group(page) for page in pages if page])
        if len(rows) == 1 or not all(pages):
            return by_page
        across = _sequence("rows", [self._group(row) for row in rows])
        return _choice(1 - clarity.FOLD.rows_share, across, by_page, "fold")


def _sequence(cut: str, parts: Sequence[Parse]) -> Parse:
    if len(parts) == 1:
        return parts[0]
    marks = tuple(m for part in parts for m in part.divides)
    return Parse(joined(cut, parts), in_sequence(parts), marks)


def _choice(share: float, first: Parse, second: Parse, reason: str) -> Parse:
    """Two ways to read the same panels; the likelier one gives tree and partings."""
    if first.order == second.order:
        return first if share >= 0.5 else second
    options = mixed(share, first.options, second.options)
    leads = share * first.options[0][0] >= (1 - share) * second.options[0][0]
    best, other = (first, second) if leads else (second, first)
    options = led_by(best.order, options)
    mark = divide(best.order, other.order, reason, 1 - share if leads else share)
    return Parse(best.tree, options, mark + best.divides)
