"""Grids like a given one: a fast first look by vector, then exact distances.

Three kinds of likeness are looked for side by side and never mixed up: the grid itself,
its mirror image, and the grid but for one panel (cut in two, or two joined).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from panelscan.errors import InputError
from panelscan.finder.hits import Hit, Likeness
from panelscan.finder.index import GridIndex
from panelscan.finder.one_panel_off import OneOff, one_panel_off
from panelscan.finder.panel_tables import distances_to, rows_of_pages
from panelscan.finder.vectors import vectors_of_rows
from panelscan.layout.distance import SAME, PanelPair, matched
from panelscan.layout.fields import panel_rows
from panelscan.model.grid import Grid

RERANKED = 200
NEAR = 0.12
"""Distance up to which a grid is called near."""
MIRROR_STEP = 0.05
"""A mirror image ranks as if it were this much farther."""
ONE_OFF_STEP = 0.01
"""A grid that is the same but for one panel ranks as if it were this much farther."""


class Kind(IntEnum):
    """What a found grid was compared with."""

    ITSELF = 0
    ONE_OFF = 1
    MIRROR = 2


STEPS = {Kind.ITSELF: 0.0, Kind.ONE_OFF: ONE_OFF_STEP, Kind.MIRROR: MIRROR_STEP}


@dataclass(frozen=True, eq=False)
class Neighbours:
    """Pages near a grid; parallel arrays, best first, each page once.

    Parameters
    ----------
    pages : ndarray of int, shape (N,)
    distances : ndarray of float, shape (N,)
        As compared: with the grid, with its mirror image, or with one gutter left out.
    kinds : ndarray of int, shape (N,)
    joins : ndarray of int, shape (N, 3)
        For `Kind.ONE_OFF` the two joined panels, and 1 where the page found has more.
    """

    pages: np.ndarray
    distances: np.ndarray
    kinds: np.ndarray
    joins: np.ndarray

    @property
    def scores(self) -> np.ndarray:
        """Distance and the step of the kind, lower is better."""
        steps = np.array([STEPS[k] for k in Kind])
        total: np.ndarray = self.distances + steps[self.kinds]
        return total

    def best(self) -> Neighbours:
        """Each page once, by its best kind, best first."""
        order = np.lexsort((self.pages, self.kinds, self.scores))
        _, first = np.unique(self.pages[order], return_index=True)
        kept = order[np.sort(first)]
        return Neighbours(
            self.pages[kept], self.distances[kept], self.kinds[kept], self.joins[kept]
        )


def neighbours(
    index: GridIndex,
    grid: Grid,
    *,
    among: np.ndarray | None = None,
    mirrors: bool = True,
    one_off: bool = True,
    best: int | None = None,
    reranked: int = RERANKED,
) -> Neighbours:
    """Pages near a grid by exact distance.

    Parameters
    ----------
    index : GridIndex
    grid : Grid
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    mirrors, one_off : bool
        Also look for the grid's mirror image, and for the grid but for one panel.
    best : int, optional
        Only so many of the nearest need to have exact distances and places.
    reranked : int
        Pages of the first look that are compared exactly.
    """
    rows = panel_rows(grid)
    parts = [_plain(index, rows, among, best, reranked, Kind.ITSELF)]
    if one_off:
        parts.append(_one_off(one_panel_off(index, rows, among, best)))
    if mirrors:
        rows = panel_rows(grid.mirrored())
        parts.append(_plain(index, rows, among, best, reranked // 2, Kind.MIRROR))
    return Neighbours(
        *(
            np.concatenate([getattr(p, name) for p in parts])
            for name in ("pages", "distances", "kinds", "joins")
        )
    ).best()


def _plain(
    index: GridIndex,
    rows: np.ndarray,
    among: np.ndarray | None,
    best: int | None,
    reranked: int,
    kind: Kind,
) -> Neighbours:
    query = vectors_of_rows(rows, np.array([0, len(rows)]))[0]
    pages = index.coarse.nearest(index.arrays.vectors, query, reranked, among, len(rows))
    others, starts = rows_of_pages(index.arrays, pages)
    none = np.full((len(pages), 3), -1)
    far = distances_to(rows, others, starts, best)
    return Neighbours(pages, far, np.full(len(pages), int(kind)), none)


def _one_off(found: OneOff) -> Neighbours:
    joins = np.column_stack([found.pairs, found.found_has_more])
    kinds = np.full(len(found.pages), int(Kind.ONE_OFF))
    return Neighbours(found.pages, found.distances, kinds, joins)


def find_like(
    index: GridIndex,
    grid: Grid,
    *,
    count: int = 10,
    among: np.ndarray | None = None,
    mirrors: bool = True,
    one_off: bool = True,
) -> tuple[Hit, ...]:
    """The pages whose grids are most like `grid`, best first.

    Parameters
    ----------
    index : GridIndex
    grid : Grid
        With at least one panel.
    count : int
        Pages wanted.
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    mirrors, one_off : bool
        Whether mirror images and grids that are one panel off count, named as such.

    Returns
    -------
    tuple of Hit

    Raises
    ------
    InputError
        If the grid has no panel.
    """
    if not len(grid):
        raise InputError(
            "The page asked for has no panel that could be found.",
            "Put its panels right in `panelscan review`, or write the grid with --grid.",
        )
    near = neighbours(index, grid, among=among, mirrors=mirrors, one_off=one_off, best=count)
    return hits_of(index, grid, near, range(min(count, len(near.pages))))


def hits_of(
    index: GridIndex, grid: Grid, near: Neighbours, chosen: range | list[int]
) -> tuple[Hit, ...]:
    """Hits for some of the neighbours, with matched panels and reasons."""
    rows, mirror = panel_rows(grid), panel_rows(grid.mirrored())
    scores, places = near.scores, np.array(list(chosen), dtype=int)
    own, starts = rows_of_pages(index.arrays, near.pages[places])
    return tuple(
        _hit(
            index,
            near,
            int(k),
            float(scores[k]),
            matched(mirror if near.kinds[k] == Kind.MIRROR else rows, own[low:high])[1],
            (len(rows), int(high - low)),
        )
        for k, low, high in zip(places, starts[:-1], starts[1:], strict=True)
    )


def _hit(
    index: GridIndex,
    near: Neighbours,
    k: int,
    score: float,
    pairs: tuple[PanelPair, ...],
    counts: tuple[int, int],
) -> Hit:
    page, distance, kind = int(near.pages[k]), float(near.distances[k]), Kind(int(near.kinds[k]))
    if kind is Kind.ONE_OFF:
        reasons = one_off_reasons(distance, *(int(v) for v in near.joins[k]))
    else:
        reasons = likeness_reasons(kind is Kind.MIRROR, pairs, *counts)
    return Hit(
        page=page,
        page_id=index.pages.id(page),
        name=index.pages.name(page),
        score=score,
        likeness=likeness(distance, kind),
        distance=distance,
        pairs=pairs,
        reasons=tuple(reasons),
    )


def likeness(distance: float, kind: Kind) -> Likeness:
    """The word for a distance; only the grid itself is ever called the same."""
    if distance >= NEAR:
        return Likeness.FAR
    if kind is Kind.MIRROR:
        return Likeness.MIRROR
    if kind is Kind.ONE_OFF:
        return Likeness.ONE_OFF
    return Likeness.SAME if distance < SAME else Likeness.NEAR


def likeness_reasons(
    mirrored: bool, pairs: tuple[PanelPair, ...], asked: int, found: int
) -> list[str]:
    """What two grids share and where they differ, in sentences."""
    exact = sum(p.cost < SAME for p in pairs)
    what = "the mirror image" if mirrored else "the grid asked for"
    if exact == asked == found:
        all_of = "All panels stand" if found > 1 else "Its one panel stands"
        return [f"{all_of} as in {what}."]
    reasons = [f"{exact} of {asked} panels stand as in {what}."]
    if found != asked:
        more = abs(found - asked)
        word = "more" if found > asked else "fewer"
        reasons.append(f"It has {more} panel{'s' if more > 1 else ''} {word}.")
    worst = max(pairs, key=lambda p: p.cost, default=None)
    if worst is not None and worst.cost >= SAME and found == asked:
        reasons.append(f"Panel {worst.second + 1} differs most.")
    return reasons


def one_off_reasons(distance: float, first: int, second: int, found_has_more: int) -> list[str]:
    """Which panel is cut or joined."""
    but = "The same" if distance < SAME else "Nearly the same"
    if found_has_more:
        return [f"{but} but for one panel, here cut in two (panels {first + 1} and {second + 1})."]
    return [f"{but} but for panels {first + 1} and {second + 1}, here joined in one."]
