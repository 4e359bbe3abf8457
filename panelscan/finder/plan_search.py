"""Page breaks and grids chosen together: dynamic programming over beats, pages and last grids.

The state is (pages laid, beats laid, the last grids); what pages cost beside each other and
the rule against a grid that comes back too soon need no more than that. Of each (pages,
beats) the cheapest histories are kept, and a relaxation without those two gives a bound that
no plan can beat, so the loss is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.finder.beats import Beat
from panelscan.finder.plan_candidates import Candidates
from panelscan.finder.plan_types import PlanOptions, follows_turn


@dataclass(frozen=True, slots=True)
class Route:
    """One way through the scene: per page the first beat, beats taken and candidate grid."""

    cost: float
    pages: tuple[tuple[int, int, int], ...]


@dataclass(eq=False)
class _Node:
    """Histories that end after some pages and beats; parallel arrays, cheapest first."""

    cost: np.ndarray
    last: np.ndarray  # (W, apart or 1) candidate grids, latest first, -1 before the scene
    came_from: np.ndarray  # (W,) first beat of the latest page
    row: np.ndarray  # (W,) history there
    grid: np.ndarray  # (W,) grid of the latest page


def page_may_start(beats: Sequence[Beat], beat: int, number: int, is_first: bool) -> bool:
    """Whether page `number` may begin with this beat: reveals and kept beats allow it.

    A reveal begins a page that follows a page turn; between a beat kept with its next and
    that next no page turn may fall.
    """
    if beats[beat].reveal and not follows_turn(number):
        return False
    turns_here = follows_turn(number)
    return is_first or not (turns_here and beats[beat - 1].keep_with_next)


def page_range(beat_count: int, options: PlanOptions) -> tuple[int, int]:
    """Fewest and most pages that the plan may take."""
    if options.pages is not None:
        return options.pages, options.pages
    least = max(1, int(beat_count // (options.pace + 1)))
    return least, max(least, int(-(-beat_count // max(options.pace - 1, 1))))


def least_cost_to_go(beats: Sequence[Beat], least: np.ndarray, options: PlanOptions) -> np.ndarray:
    """Least cost from (pages laid, beats laid) to the end when pages ignore each other.

    Returns
    -------
    ndarray of float, shape (P + 1, B + 1)
        P is the most pages allowed; infinite where the end cannot be reached by the rules.
    """
    fewest, most = page_range(len(beats), options)
    count = len(beats)
    go = np.full((most + 1, count + 1), np.inf)
    go[fewest:, count] = 0.0
    longest = least.shape[1] - 1
    for page in range(most - 1, -1, -1):
        for beat in range(count):
            if page_may_start(beats, beat, options.first_page + page, page == 0):
                reach = min(longest, count - beat)
                ways = least[beat, 1 : reach + 1] + go[page + 1, beat + 1 : beat + reach + 1]
                go[page, beat] = ways.min(initial=np.inf)
    return go


def find_routes(
    beats: Sequence[Beat], candidates: Candidates, options: PlanOptions, go: np.ndarray
) -> list[Route]:
    """Cheapest ways through the scene, best first; empty where the rules allow none."""
    count, most = len(beats), go.shape[0] - 1
    width = max(options.apart, 1)
    start = _Node(
        np.zeros(1), np.full((1, width), -1), np.zeros(1, int), np.zeros(1, int), np.full(1, -1)
    )
    layers: list[dict[int, _Node]] = [{0: start}]
    ends: list[tuple[float, int, int]] = []
    for page in range(most):
        arrived: dict[int, list[_Node]] = {}
        for beat, node in layers[page].items():
            if beat < count and np.isfinite(go[page, beat]):
                _extend(page, beat, node, candidates, options, go, arrived)
        layers.append({b: _best(nodes, options.beam) for b, nodes in arrived.items()})
        if count in layers[-1] and np.isfinite(go[page + 1, count]):
            ends += [(float(c), page + 1, r) for r, c in enumerate(layers[-1][count].cost)]
    return [Route(cost, _way(layers, page, count, row)) for cost, page, row in sorted(ends)]


def _extend(
    page: int,
    beat: int,
    node: _Node,
    candidates: Candidates,
    options: PlanOptions,
    go: np.ndarray,
    arrived: dict[int, list[_Node]],
) -> None:
    """Put all histories that go on from `node` by one page into `arrived`."""
    moves = candidates.moves[beat]
    usable = np.isfinite(go[page + 1, beat + moves.taken])
    taken, grid = moves.taken[usable], moves.grid[usable]
    total = node.cost[:, None] + moves.cost[usable][None, :]
    if page:
        faces = not follows_turn(options.first_page + page)
        beside = candidates.facing if faces else candidates.following
        total = total + beside[node.last[:, 0][:, None], grid[None, :]]
        if faces:
            total += candidates.following[node.last[:, 0][:, None], grid[None, :]]
    for back in range(min(options.apart, page)):
        total[candidates.same[node.last[:, back][:, None], grid[None, :]]] = np.inf
    for e in np.unique(taken):
        of_run = taken == e
        part = total[:, of_run]
        row, column = np.nonzero(np.isfinite(part))
        if len(row):
            chosen = grid[of_run][column]
            last = np.concatenate([chosen[:, None], node.last[row, :-1]], axis=1)
            cost = part[row, column]
            arrived.setdefault(beat + int(e), []).append(
                _Node(cost, last, np.full(len(row), beat), row, chosen)
            )


def _best(nodes: list[_Node], beam: int) -> _Node:
    """The cheapest `beam` histories; of equal last grids only the cheapest."""
    cost = np.concatenate([n.cost for n in nodes])
    last = np.concatenate([n.last for n in nodes])
    order = np.argsort(cost, kind="stable")[: 8 * beam]
    _, first = np.unique(last[order], axis=0, return_index=True)
    kept = order[np.sort(first)[:beam]]
    came, row, grid = (
        np.concatenate([getattr(n, name) for n in nodes])[kept]
        for name in ("came_from", "row", "grid")
    )
    return _Node(cost[kept], last[kept], came, row, grid)


def _way(
    layers: list[dict[int, _Node]], page: int, beat: int, row: int
) -> tuple[tuple[int, int, int], ...]:
    """Pages of a history, first to last."""
    pages = []
    while page:
        node = layers[page][beat]
        start = int(node.came_from[row])
        pages.append((start, beat - start, int(node.grid[row])))
        page, beat, row = page - 1, start, int(node.row[row])
    return tuple(reversed(pages))
