"""Grids like a given one: a fast first look by vector, then exact distances."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.finder.hits import Hit, Likeness
from panelscan.finder.index import GridIndex
from panelscan.finder.panel_tables import distances_to, rows_of_pages
from panelscan.layout.distance import SAME, PanelPair, matched
from panelscan.layout.fields import panel_rows
from panelscan.layout.signature import grid_vector
from panelscan.model.grid import Grid

RERANKED = 200
NEAR = 0.12
"""Distance up to which a grid is called near."""
MIRROR_STEP = 0.05
"""A mirror image ranks as if it were this much farther."""


@dataclass(frozen=True, eq=False)
class Neighbour:
    """Pages near a grid, and how far; parallel arrays, nearest first.

    Parameters
    ----------
    pages : ndarray of int, shape (N,)
    distances : ndarray of float, shape (N,)
        To the grid itself, or to its mirror image where that is nearer.
    mirrored : ndarray of bool, shape (N,)
    """

    pages: np.ndarray
    distances: np.ndarray
    mirrored: np.ndarray


def neighbours(
    index: GridIndex,
    grid: Grid,
    *,
    among: np.ndarray | None = None,
    mirrors: bool = True,
    reranked: int = RERANKED,
) -> Neighbour:
    """Pages near a grid by exact distance.

    Parameters
    ----------
    index : GridIndex
    grid : Grid
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    mirrors : bool
        Also look for the grid's mirror image.
    reranked : int
        Pages of the first look that are compared exactly.
    """
    found = [_nearest(index, grid, among, reranked, False)]
    if mirrors:
        found.append(_nearest(index, grid.mirrored(), among, reranked, True))
    pages, distances, mirrored = (np.concatenate(part) for part in zip(*found, strict=True))
    order = np.lexsort((pages, mirrored, distances + MIRROR_STEP * mirrored))
    _, first = np.unique(pages[order], return_index=True)
    kept = order[np.sort(first)]
    return Neighbour(pages[kept], distances[kept], mirrored[kept])


def _nearest(
    index: GridIndex, grid: Grid, among: np.ndarray | None, reranked: int, mirrored: bool
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    query = grid_vector(grid).astype(np.float32)
    pages = index.coarse.nearest(index.arrays.vectors, query, reranked, among)
    rows, starts = rows_of_pages(index.arrays, pages)
    return pages, distances_to(panel_rows(grid), rows, starts), np.full(len(pages), mirrored)


def find_like(
    index: GridIndex,
    grid: Grid,
    *,
    count: int = 10,
    among: np.ndarray | None = None,
    mirrors: bool = True,
) -> tuple[Hit, ...]:
    """The pages whose grids are most like `grid`, nearest first.

    Parameters
    ----------
    index : GridIndex
    grid : Grid
        With at least one panel.
    count : int
        Pages wanted.
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    mirrors : bool
        Whether mirror images count, named as such.

    Returns
    -------
    tuple of Hit
    """
    near = neighbours(index, grid, among=among, mirrors=mirrors)
    rows = panel_rows(grid)
    mirror_rows = panel_rows(grid.mirrored())
    return tuple(
        _hit(index, int(p), float(d), bool(m), mirror_rows if m else rows)
        for p, d, m in zip(
            near.pages[:count], near.distances[:count], near.mirrored[:count], strict=True
        )
    )


def _hit(index: GridIndex, page: int, distance: float, mirrored: bool, rows: np.ndarray) -> Hit:
    own, _ = rows_of_pages(index.arrays, np.array([page]))
    _, pairs = matched(rows, own)
    return Hit(
        page=page,
        page_id=index.pages.id(page),
        name=index.pages.name(page),
        score=distance + MIRROR_STEP * mirrored,
        likeness=likeness(distance, mirrored),
        distance=distance,
        pairs=pairs,
        reasons=tuple(likeness_reasons(distance, mirrored, pairs, len(rows), len(own))),
    )


def likeness(distance: float, mirrored: bool) -> Likeness:
    """The word for a distance; a mirror image is never called the same grid."""
    if mirrored and distance < NEAR:
        return Likeness.MIRROR
    if distance < SAME:
        return Likeness.SAME
    return Likeness.NEAR if distance < NEAR else Likeness.FAR


def likeness_reasons(
    distance: float,
    mirrored: bool,
    pairs: tuple[PanelPair, ...],
    asked: int,
    found: int,
) -> list[str]:
    """What the two grids share and where they differ, in sentences."""
    exact = sum(p.cost < SAME for p in pairs)
    what = "its mirror image" if mirrored else "it"
    if exact == asked == found:
        return [
            f"All {found} panels stand as in {what}."
            if found > 1
            else f"Its one panel stands as in {what}."
        ]
    reasons = [f"{exact} of {asked} panels stand as in {what}."]
    if found != asked:
        more = abs(found - asked)
        word = "more" if found > asked else "fewer"
        reasons.append(f"It has {more} panel{'s' if more > 1 else ''} {word}.")
    worst = max(pairs, key=lambda p: p.cost, default=None)
    if worst is not None and worst.cost >= SAME and found == asked:
        reasons.append(f"Panel {worst.second + 1} differs most.")
    return reasons
