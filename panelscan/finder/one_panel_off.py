"""Pages that hold the grid asked for but for one panel, cut in two or joined from two."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.finder.index import GridIndex
from panelscan.finder.joins import cut, join_pairs, joined
from panelscan.finder.panel_tables import distances_to, rows_of_pages, spans
from panelscan.finder.vectors import vectors_of_rows

LOOKED_AT = 80  # pages of each kind that are compared exactly
FEW = 4  # panels up to which a cut is tried in three places: each is large, so it matters more
FEW_SHARES, MANY_SHARES = (0.35, 0.5, 0.65), (0.5,)


@dataclass(frozen=True, eq=False)
class OneOff:
    """Pages with one panel more or fewer; parallel arrays.

    Parameters
    ----------
    pages : ndarray of int, shape (N,)
    distances : ndarray of float, shape (N,)
        Distance once the two panels are joined.
    pairs : ndarray of int, shape (N, 2)
        The two panels, of the page found where `found_has_more`, else of the grid asked for.
    found_has_more : ndarray of bool, shape (N,)
    """

    pages: np.ndarray
    distances: np.ndarray
    pairs: np.ndarray
    found_has_more: np.ndarray


def one_panel_off(
    index: GridIndex, rows: np.ndarray, among: np.ndarray | None = None, best: int | None = None
) -> OneOff:
    """Pages that hold a grid but for one panel.

    Parameters
    ----------
    index : GridIndex
    rows : ndarray, shape (N, 14)
        Panels of the grid asked for.
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    best : int, optional
        As for `panel_tables.distances_to`.
    """
    fewer, more = _with_fewer(index, rows, among, best), _with_more(index, rows, among, best)
    return OneOff(
        *(
            np.concatenate([getattr(fewer, name), getattr(more, name)])
            for name in ("pages", "distances", "pairs", "found_has_more")
        )
    )


def _none() -> OneOff:
    return OneOff(np.arange(0), np.zeros(0), np.zeros((0, 2), int), np.zeros(0, bool))


def _with_fewer(
    index: GridIndex, rows: np.ndarray, among: np.ndarray | None, best: int | None
) -> OneOff:
    """Pages with one panel fewer: two panels of the grid asked for are joined."""
    which_grid, first, second = join_pairs(rows[None])
    if not len(first):
        return _none()
    variants = joined(rows[None], which_grid, first, second)
    pages, which = _first_look(index, variants, among)
    others, starts = rows_of_pages(index.arrays, pages)
    distances = np.empty(len(pages))
    for k in np.unique(which):
        own = np.flatnonzero(which == k)
        panels, own_starts = spans(starts, own)
        distances[own] = distances_to(variants[k], others[panels], own_starts, best)
    pairs = np.column_stack([first[which], second[which]])
    return OneOff(pages, distances, pairs, np.zeros(len(pages), bool))


def _with_more(
    index: GridIndex, rows: np.ndarray, among: np.ndarray | None, best: int | None
) -> OneOff:
    """Pages with one panel more: two of their panels are joined, wherever they were cut."""
    shares = FEW_SHARES if len(rows) <= FEW else MANY_SHARES
    variants = np.array(
        [
            cut(rows, panel, across, share)
            for panel in range(len(rows))
            for across in (False, True)
            for share in shares
        ]
    )
    pages, _ = _first_look(index, variants, among)
    others, _ = rows_of_pages(index.arrays, pages)
    others = others.reshape(len(pages), len(rows) + 1, others.shape[1])
    whose, first, second = join_pairs(others)
    if not len(whose):
        return _none()
    tried = joined(others, whose, first, second)
    starts = np.arange(len(tried) + 1) * len(rows)
    # A page is found by its best join, so as many joins as a page can have stand for one page.
    many = None if best is None else best * (len(rows) + 1)
    distances = distances_to(rows, tried.reshape(-1, tried.shape[2]), starts, many)
    order = np.lexsort((distances, whose))
    top = order[np.unique(whose[order], return_index=True)[1]]
    pairs = np.column_stack([first[top], second[top]])
    return OneOff(pages[whose[top]], distances[top], pairs, np.ones(len(top), bool))


def _first_look(
    index: GridIndex, variants: np.ndarray, among: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray]:
    """Pages nearest to any of the variants by vector, and to which; all have as many panels."""
    many, count, width = variants.shape
    queries = vectors_of_rows(variants.reshape(-1, width), np.arange(many + 1) * count)
    return index.coarse.scan(queries, LOOKED_AT, index.coarse.rows_of_count(count), among)
