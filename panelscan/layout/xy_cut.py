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

import numpy as np

from panelscan.layout.sheet import Sheet

CROSSING = 0.12
"""Share of the smaller panel's extent by which a cut may be crossed."""
MOST_LEAN_DEG = 38.0
ANGLE_STEP_DEG = 1.5
MOST_ANGLES = 9


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
    def _extents(self) -> dict[bool, tuple[np.ndarray, np.ndarray, np.ndarray]]:
        """For level (True) and upright cuts: least and greatest reach, shape (K, N), angles."""
        found = {}
        for rows, leans in zip((True, False), self._leans, strict=True):
            along = np.stack(
                [-np.sin(leans), np.cos(leans)] if rows else [np.cos(leans), -np.sin(leans)], axis=1
            )
            reach = np.einsum("nvd,kd->knv", self.sheet.rings, along)
            found[rows] = (reach.min(axis=2), reach.max(axis=2), leans)
        return found

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
        members = np.asarray(group)
        low_all, high_all, leans = self._extents[rows]
        low, high = low_all[:, members], high_all[:, members]
        sequence = np.argsort(low + high, axis=1, kind="stable")
        low = np.take_along_axis(low, sequence, axis=1)
        high = np.take_along_axis(high, sequence, axis=1)
        reached = np.maximum.accumulate(high, axis=1)[:, :-1]
        ahead = np.minimum.accumulate(low[:, ::-1], axis=1)[:, ::-1][:, 1:]
        gaps = ahead - reached
        crossing = _crossings(low, high, gaps, reached, ahead, tolerance)
        value = np.where(crossing <= tolerance, gaps - 1e-3 * np.abs(leans)[:, None], -np.inf)
        straight = value[0].max()
        least = -1e-9 * max(self.sheet.width, self.sheet.height)
        k = 0 if straight >= least else int(np.argmax(value.max(axis=1)))
        t = int(np.argmax(value[k]))
        if not np.isfinite(value[k, t]):
            return None
        chosen = members[sequence[k]]
        return Cut(
            tuple(int(i) for i in chosen[: t + 1]),
            tuple(int(i) for i in chosen[t + 1 :]),
            float(gaps[k, t]),
            float(crossing[k, t]),
            math.degrees(float(leans[k])),
        )

    def split(
        self, group: Sequence[int], rows: bool, tolerance: float = CROSSING
    ) -> list[tuple[int, ...]]:
        """All parts of a group between clean cuts of one kind, near side first.

        Returns
        -------
        list of tuple of int
            One part where there is no clean cut.
        """
        cut = self.best_cut(group, rows, tolerance)
        if cut is None:
            return [tuple(group)]
        return [*self.split(cut.before, rows, tolerance), *self.split(cut.after, rows, tolerance)]


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
    for b, turn, length in zip(bins, turns[keep], lengths[keep], strict=True):
        weight[int(b)] = weight.get(int(b), 0.0) + float(length)
        total[int(b)] = total.get(int(b), 0.0) + float(length * turn)
    weight.pop(0, None)
    best = sorted(weight, key=lambda b: (-weight[b], b))[: MOST_ANGLES - 1]
    return np.array([0.0, *(total[b] / weight[b] for b in best)])


def _crossings(
    low: np.ndarray,
    high: np.ndarray,
    gaps: np.ndarray,
    reached: np.ndarray,
    ahead: np.ndarray,
    tolerance: float,
) -> np.ndarray:
    """Greatest crossing of each cut as a share of the smaller panel that crosses.

    Cuts that cannot come under the tolerance are set to infinity without a closer look.
    """
    extent = np.maximum(high - low, 1e-12)
    over_at_least = -gaps / extent.max(axis=1, keepdims=True)
    result = np.where(gaps >= 0, 0.0, np.inf)
    for k, t in zip(*np.nonzero((gaps < 0) & (over_at_least <= tolerance)), strict=True):
        over = high[k, : t + 1] > ahead[k, t]
        under = low[k, t + 1 :] < reached[k, t]
        small = min(
            extent[k, : t + 1][over].min(initial=np.inf),
            extent[k, t + 1 :][under].min(initial=np.inf),
        )
        result[k, t] = -gaps[k, t] / small
    return result
