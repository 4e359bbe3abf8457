"""Clean cuts through a group of panels: level ones between tiers, upright ones between columns.

A cut may lean with the panels' own sides, so slanted pages are cut like straight ones, and
a panel may cross it by a small share of its size, as hand-ruled panels do.

References
----------
G. Nagy and S. Seth, "Hierarchical representation of optically scanned documents", ICPR
1984 (recursive X-Y cut; cited from memory). Cutting along tilted lines: the idea is older
than this code; the tolerance and the choice of angles are our own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

import numpy as np

from panelscan.layout.sheet import Sheet

CROSSING = 0.12
"""Share of the smaller panel's extent by which a cut may be crossed."""
MOST_LEAN_DEG = 38.0
ANGLE_STEP_DEG = 1.5
MOST_ANGLES = 9
LEAN_COST = 1e-5
"""Width, as a share of the page and per radian, that a leaning cut must gain on a straight one."""


@dataclass(frozen=True)
class Cut:
    """One straight cut through a group.

    Parameters
    ----------
    before, after : tuple of int
        Panels on the near side (above, or left) and on the far side.
    gap : float
        Free width across the cut; negative where panels cross it.
    crossing : float
        Greatest crossing as a share of the smaller panel's extent, 0 for a free cut.
    lean_deg : float
        Turn of the cut from level (upright).
    """

    before: tuple[int, ...]
    after: tuple[int, ...]
    gap: float
    crossing: float
    lean_deg: float


@dataclass(frozen=True, eq=False)
class Cutter:
    """Finds clean cuts through groups of a sheet's panels.

    Parameters
    ----------
    sheet : Sheet
        The panels laid flat.
    """

    sheet: Sheet

    @cached_property
    def _leans(self) -> tuple[np.ndarray, np.ndarray]:
        """Directions to try, in radians: of level cuts and of upright cuts."""
        rings = self.sheet.rings
        sides = np.roll(rings, -1, axis=1) - rings
        lengths = np.hypot(sides[..., 0], sides[..., 1])
        span = self.sheet.boxes[:, 2:] - self.sheet.boxes[:, :2]
        level = np.arctan(_ratio(sides[..., 1], sides[..., 0]))
        upright = np.arctan(_ratio(sides[..., 0], sides[..., 1]))
        long_level = lengths >= 0.5 * span[:, :1]
        long_upright = lengths >= 0.5 * span[:, 1:]
        return _angles(level, lengths, long_level), _angles(upright, lengths, long_upright)

    @cached_property
    def _extents(self) -> dict[bool, _Reach]:
        """For level (True) and upright cuts: least and greatest reach by angle and panel."""
        found = {}
        for rows, leans in zip((True, False), self._leans, strict=True):
            along = np.stack(
                [-np.sin(leans), np.cos(leans)] if rows else [np.cos(leans), -np.sin(leans)], axis=1
            )
            reach = np.einsum("nvd,kd->knv", self.sheet.rings, along)
            found[rows] = _Reach(reach.min(axis=2), reach.max(axis=2), leans.tolist())
        return found

    @cached_property
    def _known(self) -> dict[tuple[frozenset[int], bool, float], Cut | None]:
        return {}

    def best_cut(self, group: Sequence[int], rows: bool, tolerance: float = CROSSING) -> Cut | None:
        """Widest clean cut through a group, straight ones preferred.

        Parameters
        ----------
        group : sequence of int
            Panels to part.
        rows : bool
            True for a level cut (between tiers), False for an upright one.
        tolerance : float
            Share of the smaller panel that may cross the cut.

        Returns
        -------
        Cut or None
            None where no clean cut exists.
        """
        if len(group) < 2:
            return None
        key = (frozenset(group), rows, tolerance)
        if key not in self._known:
            self._known[key] = self._find(sorted(group), rows, tolerance)
        return self._known[key]

    def _find(self, group: Sequence[int], rows: bool, tolerance: float) -> Cut | None:
        reach = self._extents[rows]
        least = -1e-9 * max(self.sheet.width, self.sheet.height)
        best: tuple[float, Cut] | None = None
        for k in reach.worth_trying(group, tolerance):
            lean = reach.leans[k]
            found = _widest(group, reach.lows[k], reach.highs[k], tolerance)
            if found is not None:
                gap, crossing, before, after = found
                value = gap - LEAN_COST * self.sheet.width * abs(lean)
                if best is None or value > best[0]:
                    best = (value, Cut(before, after, gap, crossing, math.degrees(lean)))
            if lean == 0.0 and best is not None and best[0] >= least:
                break
        return best[1] if best else None

    def split(
        self, group: Sequence[int], rows: bool, tolerance: float = CROSSING
    ) -> list[tuple[int, ...]]:
        """All parts of a group between clean cuts of one kind, near side first.

        Returns
        -------
        list of tuple of int
            One part where there is no clean cut.
        """
        if len(group) < 2:
            return [tuple(group)]
        reach = self._extents[rows]
        free = _free_parts(group, reach.lows[0], reach.highs[0])
        if len(free) > 1:
            # Straight free cuts stay free in every part: no need to find them one by one.
            return [part for each in free for part in self.split(each, rows, tolerance)]
        cut = self.best_cut(group, rows, tolerance)
        if cut is None:
            return [tuple(group)]
        return [*self.split(cut.before, rows, tolerance), *self.split(cut.after, rows, tolerance)]


class _Reach:
    """How far panels reach across each direction of cuts, straight first.

    ``lows[k][i]`` and ``highs[k][i]`` are the least and greatest reach of panel i across
    direction k, which leans by ``leans[k]`` radians.
    """

    def __init__(self, low: np.ndarray, high: np.ndarray, leans: list[float]) -> None:
        # Panels first: a group's rows are then picked in one go.
        self._low, self._high = low.T.copy(), high.T.copy()
        self._extent = self._high - self._low
        self.lows: list[list[float]] = low.tolist()
        self.highs: list[list[float]] = high.tolist()
        self.leans = leans

    def worth_trying(self, group: Sequence[int], tolerance: float) -> list[int]:
        """Directions in which some cut might pass: not all panels stand across it too far.

        Where even the panel that ends first reaches well past the start of the one that
        begins last, every cut is crossed by at least as much.
        """
        if len(self.leans) == 1:
            return [0]
        if len(group) == 2:  # by far the most frequent case
            a, b = group
            common = np.minimum(self._high[a], self._high[b])
            common = common - np.maximum(self._low[a], self._low[b])
            most = np.maximum(self._extent[a], self._extent[b])
        else:
            own = np.array(group)
            common = self._high[own].min(axis=0) - self._low[own].max(axis=0)
            most = self._extent[own].max(axis=0)
        return [k for k, might in enumerate((common <= tolerance * most).tolist()) if might]


def _free_parts(
    group: Sequence[int], low: Sequence[float], high: Sequence[float]
) -> list[tuple[int, ...]]:
    """Parts of a group between all places that no panel covers."""
    ranked = sorted(group, key=lambda i: low[i] + high[i])
    ahead = list(accumulate((low[i] for i in reversed(ranked)), min))[::-1]
    parts, start, reached = [], 0, -math.inf
    for t in range(1, len(ranked)):
        reached = max(reached, high[ranked[t - 1]])
        if ahead[t] >= reached:
            parts.append(tuple(ranked[start:t]))
            start = t
    parts.append(tuple(ranked[start:]) if start else tuple(group))
    return parts


def _widest(
    group: Sequence[int], low: Sequence[float], high: Sequence[float], tolerance: float
) -> tuple[float, float, tuple[int, ...], tuple[int, ...]] | None:
    """Widest cut across one direction: gap, crossing, and the panels on either side."""
    ranked = sorted(group, key=lambda i: low[i] + high[i])
    n = len(ranked)
    ahead = [0.0] * n
    nearest = math.inf
    for t in range(n - 1, 0, -1):
        nearest = min(nearest, low[ranked[t]])
        ahead[t] = nearest
    most = max(high[i] - low[i] for i in ranked)
    best: tuple[float, float, int] | None = None
    reached = -math.inf
    for t in range(1, n):
        reached = max(reached, high[ranked[t - 1]])
        gap = ahead[t] - reached
        if best is not None and gap <= best[0]:
            continue
        crossing = 0.0
        if gap < 0:
            if -gap > tolerance * most:
                continue
            crossing = -gap / _smallest_crossing(ranked, t, low, high, reached, ahead[t])
            if crossing > tolerance:
                continue
        best = (gap, crossing, t)
    if best is None:
        return None
    gap, crossing, t = best
    return gap, crossing, tuple(ranked[:t]), tuple(ranked[t:])


def _smallest_crossing(
    ranked: Sequence[int],
    at: int,
    low: Sequence[float],
    high: Sequence[float],
    reached: float,
    ahead: float,
) -> float:
    """Extent of the smallest panel that crosses a cut."""
    over = [high[i] - low[i] for i in ranked[:at] if high[i] > ahead]
    under = [high[i] - low[i] for i in ranked[at:] if low[i] < reached]
    return max(min([*over, *under]), 1e-12)


def _ratio(over: np.ndarray, under: np.ndarray) -> np.ndarray:
    return over / np.where(np.abs(under) < 1e-12, 1e-12, under)


def _angles(turns: np.ndarray, lengths: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Level first, then the most drawn other directions, in radians."""
    keep = wanted & (np.abs(turns) <= math.radians(MOST_LEAN_DEG)) & (lengths > 0)
    step = math.radians(ANGLE_STEP_DEG)
    bins = np.round(turns[keep] / step).astype(int)
    if not bins.size or not bins.any():
        return np.zeros(1)
    weight: dict[int, float] = {}
    total: dict[int, float] = {}
    for b, turn, length in zip(
        bins.tolist(), turns[keep].tolist(), lengths[keep].tolist(), strict=True
    ):
        weight[b] = weight.get(b, 0.0) + length
        total[b] = total.get(b, 0.0) + length * turn
    weight.pop(0, None)
    best = sorted(weight, key=lambda b: (-weight[b], b))[: MOST_ANGLES - 1]
    return np.array([0.0, *(total[b] / weight[b] for b in best)])
