"""Which grids a plan looks at: the best of each kind for every run of beats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from panelscan.finder.beat_match import page_costs
from panelscan.finder.beats import Beat
from panelscan.finder.fit import FitWeights
from panelscan.finder.neighbours import (
    SAME_WITHIN,
    facing_costs,
    families,
    following_costs,
    side_distances,
)
from panelscan.finder.plan_types import PlanOptions
from panelscan.finder.shelf import Shelf

CHUNK = 2_000  # grids costed at a time, to bound memory


@dataclass(frozen=True, eq=False)
class Moves:
    """Pages that may begin with one beat: M ways to take some beats with some grid.

    Parameters
    ----------
    taken : ndarray of int, shape (M,)
        Beats on the page.
    grid : ndarray of int, shape (M,)
        Place of the grid among the candidates.
    cost : ndarray of float, shape (M,)
    """

    taken: np.ndarray
    grid: np.ndarray
    cost: np.ndarray


@dataclass(frozen=True, eq=False)
class Candidates:
    """The grids a plan looks at, and how they go with each other.

    Parameters
    ----------
    grids : ndarray of int, shape (U,)
        Indices into the shelf.
    moves : tuple of Moves
        One per first beat.
    least : ndarray of float, shape (B, E + 1)
        Least cost of e beats from beat s on any grid of the shelf; for the bound.
    same : ndarray of bool, shape (U, U)
        The same grid, for the rule that it does not come back too soon.
    facing, following : ndarray of float, shape (U, U)
        Cost of two grids on facing pages, and on two pages in a row.
    """

    grids: np.ndarray
    moves: tuple[Moves, ...]
    least: np.ndarray
    same: np.ndarray
    facing: np.ndarray
    following: np.ndarray


def choose_candidates(
    beats: Sequence[Beat], shelf: Shelf, options: PlanOptions, weights: FitWeights
) -> Candidates:
    """Cost every grid for every run of beats and keep the best of each kind.

    For each run the best ``breadth`` grids of different families are kept. With at least
    ``2 * apart + 1`` of them, the pages around can never forbid all, so the rule against
    coming back too soon costs nothing by this choice; only what pages cost beside each
    other can, which the plan's `bound` shows.
    """
    liking = shelf.pages.values(options.ranking)
    kept = thinned(shelf, liking, options.most_grids)
    if len(kept) < len(shelf):
        found = choose_candidates(
            beats, shelf.taken(kept), replace(options, most_grids=len(kept)), weights
        )
        return replace(found, grids=kept[found.grids])
    costs, owner = _all_costs(beats, shelf, weights)
    costs += liking[owner][:, None, None].astype(costs.dtype)
    family = families(shelf)[owner]
    breadth = max(options.breadth, 2 * options.apart + 1)
    rows = _best_rows(costs, family, breadth)
    used = np.unique(np.concatenate([r for s in rows for _, r in s] or [np.arange(0)]))
    place = np.full(len(owner), -1)
    place[used] = np.arange(len(used))
    moves = tuple(_moves(costs, place, s, runs) for s, runs in enumerate(rows))
    grids = owner[used].astype(int)
    chosen = shelf.taken(grids)
    largest, mean = side_distances(chosen)
    return Candidates(
        grids=grids,
        moves=moves,
        least=costs.min(axis=0, initial=np.inf).astype(float),
        same=largest <= SAME_WITHIN,
        facing=facing_costs(chosen),
        following=following_costs(mean),
    )


def thinned(shelf: Shelf, liking: np.ndarray, most: int) -> np.ndarray:
    """Grids worth costing on a large shelf, at most `most`; all of them on a small one.

    Of grids that are the same to the nearest 3 % of the page one is kept, the best liked,
    then the clearest, then the first; of the different ones the same goes by turns through
    the numbers of panels, so that every number stays.
    """
    if len(shelf) <= most:
        return np.arange(len(shelf))
    merit = np.lexsort((np.arange(len(shelf)), -shelf.clarity, liking))
    rank = np.empty(len(shelf), dtype=int)
    rank[merit] = np.arange(len(shelf))
    turns = np.full(len(shelf), np.iinfo(int).max)
    for count in np.unique(shelf.panel_count):
        grids = shelf.of_count(int(count))
        grids = grids[np.argsort(rank[grids])]
        sides = shelf.boxes[shelf.panels_of(grids)].reshape(len(grids), -1)
        steps = np.column_stack([np.rint(sides / SAME_WITHIN), shelf.rtl[grids]]).astype(np.int16)
        _, first = np.unique(steps, axis=0, return_index=True)
        different = grids[np.sort(first)]
        turns[different] = np.arange(len(different))
    order = np.lexsort((rank, turns))
    chosen = order[: min(most, int((turns < np.iinfo(int).max).sum()))]
    return np.sort(chosen)


def _all_costs(
    beats: Sequence[Beat], shelf: Shelf, weights: FitWeights
) -> tuple[np.ndarray, np.ndarray]:
    """Costs of all grids stacked, shape (G, B, E + 1), and the grid of each row."""
    counts = [int(c) for c in np.unique(shelf.panel_count) if c]
    most = min(2 * max(counts, default=0), len(beats))
    parts, owners = [np.zeros((0, len(beats), most + 1), np.float32)], [np.zeros(0, int)]
    for count in counts:
        grids = shelf.of_count(count)
        for start in range(0, len(grids), CHUNK):
            part = grids[start : start + CHUNK]
            found = page_costs(beats, shelf, part, weights)
            full = np.full((len(part), len(beats), most + 1), np.inf, dtype=np.float32)
            full[:, :, : found.shape[2]] = found
            parts.append(full)
            owners.append(part)
    return np.concatenate(parts), np.concatenate(owners)


def _best_rows(
    costs: np.ndarray, family: np.ndarray, breadth: int
) -> list[list[tuple[int, np.ndarray]]]:
    """For each first beat: (beats taken, rows of the best grids of different families)."""
    best = []
    for s in range(costs.shape[1]):
        runs = []
        for e in range(1, costs.shape[2]):
            column = costs[:, s, e]
            rows = _best_of_kinds(column, family, breadth)
            if len(rows):
                runs.append((e, rows))
        best.append(runs)
    return best


def _best_of_kinds(column: np.ndarray, family: np.ndarray, breadth: int) -> np.ndarray:
    """Rows of the lowest finite values, one per family, at most `breadth`, best first."""
    wanted = 4 * breadth
    finite = np.flatnonzero(np.isfinite(column))
    while True:
        if wanted < len(finite):
            rows = finite[np.argpartition(column[finite], wanted)[:wanted]]
        else:
            rows = finite
        rows = rows[np.lexsort((rows, column[rows]))]
        _, first = np.unique(family[rows], return_index=True)
        kept = rows[np.sort(first)[:breadth]]
        if len(kept) == breadth or len(rows) == len(finite):
            return kept
        wanted *= 4


def _moves(
    costs: np.ndarray, place: np.ndarray, s: int, runs: list[tuple[int, np.ndarray]]
) -> Moves:
    taken = np.concatenate([np.full(len(r), e) for e, r in runs] or [np.arange(0)]).astype(int)
    rows = np.concatenate([r for _, r in runs] or [np.arange(0)]).astype(int)
    return Moves(taken, place[rows], costs[rows, s, taken].astype(float))
