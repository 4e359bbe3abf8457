"""Which gutters to make even and which sides to put in line, and the shifts that do it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from panelscan.layout.sides import Facing, PanelSide, lines_of_sides, measure_gap
from panelscan.model.grid import Grid, GutterKind
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.templates.moving import bleed_side, is_free_form, outward
from panelscan.templates.place import WIDEST_SHARE, gutter_pairs

if TYPE_CHECKING:
    from panelscan.templates.regularize import Tolerances

_SHARED_MM = 0.4
_FREE = 100.0  # how much cheaper it is to change a usual gutter than to move a side


@dataclass(frozen=True)
class Wish:
    """One equation wanted: factors on sides' shifts, on a usual gutter, and the value."""

    terms: tuple[tuple[int, float], ...]
    value: float
    gutter: GutterKind | None = None


@dataclass(frozen=True)
class Wishes:
    """All that is wanted, and how far each side may go.

    Parameters
    ----------
    wishes : tuple of Wish
        Equations; met where the limits allow.
    low, high : ndarray of shape (N,)
        Least and greatest shift of each side, outward positive.
    gutters : dict of GutterKind to list of Facing
        Gutters meant to be even.
    usual_mm : dict of GutterKind to float
        Their median, from which the common width may depart.
    fixed : frozenset of GutterKind
        Kinds whose width is given.
    """

    wishes: tuple[Wish, ...]
    low: np.ndarray
    high: np.ndarray
    gutters: dict[GutterKind, list[Facing]]
    usual_mm: dict[GutterKind, float]
    fixed: frozenset[GutterKind]


def wishes_of(
    grid: Grid,
    outlines: Sequence[Outline],
    sides: Sequence[PanelSide],
    size: tuple[float, float],
    bleed_mm: float,
    allowed: Tolerances,
    targets: dict[GutterKind, float | None],
    used: Sequence[float] = (),
) -> Wishes:
    """What cleaning wants of a page, in mm.

    Parameters
    ----------
    grid : Grid
        For hosts and bleeds.
    outlines : sequence of Outline
        Panels in mm.
    sides : sequence of PanelSide
        Their sides after squaring.
    size : tuple of float
        Width and height of the page.
    bleed_mm : float
        How far past the trim bleeding sides go.
    allowed : Tolerances
        Limits.
    targets : dict of GutterKind to float or None
        Gutters asked for.
    used : sequence of float
        What straightening has taken of each panel's tolerance already.
    """
    reach = _reach(outlines, sides, allowed.move_mm, used)
    low, high = -reach, reach.copy()
    wishes: list[Wish] = []
    bleeding = _bleeds(grid, sides, size, bleed_mm, wishes, low, high)
    gutters, usual = _gutters(outlines, sides, size, allowed, targets, wishes)
    _alignments(grid, outlines, sides, allowed.align_mm, bleeding, wishes)
    fixed = frozenset(k for k, v in targets.items() if v is not None)
    return Wishes(tuple(wishes), low, high, gutters, usual, fixed)


def _reach(
    outlines: Sequence[Outline],
    sides: Sequence[PanelSide],
    move_mm: float,
    used: Sequence[float],
) -> np.ndarray:
    """How far each side may still move, its turn taken off; nothing for free forms."""
    reach = np.zeros(len(sides))
    for n, side in enumerate(sides):
        if is_free_form(outlines[side.panel]):
            continue
        ends = [
            abs(side.normal[0] * x + side.normal[1] * y - side.offset)
            for x, y in (side.start, side.end)
        ]
        taken = used[side.panel] if used else 0.0
        reach[n] = max(0.0, move_mm - taken - max(ends))
    return reach


def _bleeds(
    grid: Grid,
    sides: Sequence[PanelSide],
    size: tuple[float, float],
    bleed_mm: float,
    wishes: list[Wish],
    low: np.ndarray,
    high: np.ndarray,
) -> set[int]:
    """Bleeding sides go to the bleed line, however far that is; returns which they are."""
    found = set()
    limits = {
        PageEdge.LEFT: bleed_mm,
        PageEdge.TOP: bleed_mm,
        PageEdge.RIGHT: size[0] + bleed_mm,
        PageEdge.BOTTOM: size[1] + bleed_mm,
    }
    for i, panel in enumerate(grid.panels):
        own = [n for n, s in enumerate(sides) if s.panel == i]
        for edge in panel.bleed:
            k = bleed_side(panel, [sides[n] for n in own], edge)
            if k is None:
                continue
            n = own[k]
            ex, ey = outward(edge)
            x, y = sides[n].middle
            shift = limits[edge] - (x * ex + y * ey)
            found.add(n)
            low[n] = min(low[n], shift)
            high[n] = max(high[n], shift)
            wishes.append(Wish(((n, 1.0),), shift))
    return found


def _gutters(
    outlines: Sequence[Outline],
    sides: Sequence[PanelSide],
    size: tuple[float, float],
    allowed: Tolerances,
    targets: dict[GutterKind, float | None],
    wishes: list[Wish],
) -> tuple[dict[GutterKind, list[Facing]], dict[GutterKind, float]]:
    """Gutters near the usual width are wanted even; sides that touch are wanted shared."""
    pairs: dict[GutterKind, list[Facing]] = {kind: [] for kind in GutterKind}
    for f in gutter_pairs(outlines, WIDEST_SHARE * size[1]):
        now = measure_gap(f.first, f.second, sides[f.first], sides[f.second])
        if now is None:
            continue
        if abs(now.gap) <= _SHARED_MM:
            wishes.append(Wish(((f.first, 1.0), (f.second, 1.0)), now.gap))
        elif now.gap > 0:
            pairs[sides[f.first].kind].append(now)
    even: dict[GutterKind, list[Facing]] = {}
    usual: dict[GutterKind, float] = {}
    for kind, found in pairs.items():
        if not found:
            continue
        middle = median(f.gap for f in found)
        target = targets[kind]
        usual[kind] = middle if target is None else target
        even[kind] = [f for f in found if abs(f.gap - middle) <= allowed.gutter_mm]
        for f in even[kind]:
            terms = ((f.first, 1.0), (f.second, 1.0))
            wishes.append(Wish(terms, f.gap - usual[kind], kind))
    return even, usual


def _alignments(
    grid: Grid,
    outlines: Sequence[Outline],
    sides: Sequence[PanelSide],
    align_mm: float,
    bleeding: set[int],
    wishes: list[Wish],
) -> None:
    """Sides nearly in one line are wanted in line with the longest of them."""
    for group in lines_of_sides(sides, align_mm, 0.5):
        members = [n for n in group if n not in bleeding and not _is_free(outlines, sides[n])]
        if len(members) < 2:
            continue
        lead = max(members, key=lambda n: sides[n].length)
        for n in members:
            if n == lead or not _same_level(grid, sides[n], sides[lead]):
                continue
            x, y = sides[n].middle
            a = sides[lead]
            off = a.normal[0] * x + a.normal[1] * y - a.offset
            if abs(off) <= align_mm:
                wishes.append(Wish(((lead, 1.0), (n, -1.0)), off))


def _is_free(outlines: Sequence[Outline], side: PanelSide) -> bool:
    return is_free_form(outlines[side.panel])


def _same_level(grid: Grid, a: PanelSide, b: PanelSide) -> bool:
    """An inset is not put in line with its host."""
    p, q = grid.panels[a.panel], grid.panels[b.panel]
    return p.host != b.panel and q.host != a.panel


def settle(wanted: Wishes) -> list[float]:
    """Shifts of all sides, outward positive.

    A linear programme (HiGHS through SciPy) finds which wishes can be met within the
    limits, losing as little as possible of the rest; the smallest shifts that meet those
    are then taken if they keep the limits, else those of the programme itself.
    """
    count = len(wanted.low)
    if not wanted.wishes:
        return [0.0] * count
    kinds = [k for k in wanted.usual_mm if k not in wanted.fixed]
    matrix, values = _matrix(wanted, count, kinds)
    first = _programme(wanted, matrix, values, count)
    if first is None:
        return [0.0] * count
    met = np.abs(matrix @ first - values) < 1e-6
    small = _least(matrix[met], values[met], count)
    inside = (small[:count] >= wanted.low - 1e-7) & (small[:count] <= wanted.high + 1e-7)
    chosen = small if inside.all() else first
    return [0.0 if math.isclose(v, 0.0, abs_tol=1e-12) else float(v) for v in chosen[:count]]


def _matrix(wanted: Wishes, count: int, kinds: list[GutterKind]) -> tuple[np.ndarray, np.ndarray]:
    """Equations on shifts, then on the departures of the usual gutters."""
    matrix = np.zeros((len(wanted.wishes), count + len(kinds)))
    for r, wish in enumerate(wanted.wishes):
        for side, factor in wish.terms:
            matrix[r, side] += factor
        if wish.gutter in kinds:
            matrix[r, count + kinds.index(wish.gutter)] = 1.0
    return matrix, np.array([w.value for w in wanted.wishes])


def _programme(
    wanted: Wishes, matrix: np.ndarray, values: np.ndarray, count: int
) -> np.ndarray | None:
    """Least sum of misses, then of moves, within the limits."""
    from scipy.optimize import linprog

    rows, width = matrix.shape
    # Unknowns: shifts and departures, their sizes, and misses either way.
    cost = np.concatenate([np.zeros(width), np.full(width, 1e-3), np.ones(2 * rows)])
    equal = np.hstack([matrix, np.zeros((rows, width)), np.eye(rows), -np.eye(rows)])
    eye, none = np.eye(width), np.zeros((width, 2 * rows))
    sizes = np.vstack([np.hstack([eye, -eye, none]), np.hstack([-eye, -eye, none])])
    free = [(-20.0, 20.0)] * (width - count)
    bounds = [*zip(wanted.low, wanted.high, strict=True), *free]
    bounds += [(0.0, None)] * (width + 2 * rows)
    found = linprog(
        cost, A_ub=sizes, b_ub=np.zeros(2 * width), A_eq=equal, b_eq=values, bounds=bounds
    )
    return np.asarray(found.x[:width]) if found.success else None


def _least(matrix: np.ndarray, values: np.ndarray, count: int) -> np.ndarray:
    """Smallest shifts that meet the equations; departures of gutters cost little."""
    weights = np.ones(matrix.shape[1])
    weights[count:] = _FREE
    solution, *_ = np.linalg.lstsq(matrix * weights, values, rcond=1e-9)
    return np.asarray(solution * weights)
