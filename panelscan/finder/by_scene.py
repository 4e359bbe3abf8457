"""Pages whose grid carries a scene's beats on one page, in order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from panelscan.errors import NothingFound
from panelscan.finder.beat_match import match_page, scene_costs
from panelscan.finder.beats import Beat
from panelscan.finder.fit import FitWeights
from panelscan.finder.hits import Hit
from panelscan.finder.index import GridIndex
from panelscan.finder.page_reasons import clarity_reason, page_gives, page_reasons
from panelscan.finder.room import lettering_advice, page_advice

CHUNK = 20_000  # pages costed at a time, to bound memory


def scene_scores(
    index: GridIndex,
    beats: Sequence[Beat],
    among: np.ndarray | None = None,
    weights: FitWeights | None = None,
) -> np.ndarray:
    """Cost of laying all beats on each page, infinite where they cannot be; shape (G,).

    Parameters
    ----------
    index : GridIndex
    beats : sequence of Beat
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    weights : FitWeights, optional

    Raises
    ------
    NothingFound
        If no single page can carry the beats, whatever its grid.
    """
    late = next((k for k, b in enumerate(beats) if b.reveal and k), None)
    if late is not None:
        where = f" (line {beats[late].line})" if beats[late].line else ""
        raise NothingFound(
            f"Beat {late + 1}{where} is to be revealed after a page turn, so these beats need "
            "more than one page.",
            "Use `panelscan plan`, or take the mark away.",
        )
    costs = np.full(len(index), np.inf)
    fewest = -(-len(beats) // 2)  # a panel takes two beats at most
    for count in range(fewest, 2 * len(beats) + 3):
        pages = index.coarse.page[index.coarse.rows_of_count(count)]
        if among is not None:
            pages = pages[among[pages]]
        for start in range(0, len(pages), CHUNK):
            part = pages[start : start + CHUNK]
            shelf = index.shelf(part)
            costs[part] = scene_costs(beats, shelf, np.arange(len(part)), weights)
    return costs


def find_scene(
    index: GridIndex,
    beats: Sequence[Beat],
    *,
    count: int = 10,
    among: np.ndarray | None = None,
    weights: FitWeights | None = None,
) -> tuple[Hit, ...]:
    """The pages whose grids carry the beats best, best first."""
    costs = scene_scores(index, beats, among, weights)
    best = np.argsort(costs, kind="stable")[:count]
    return tuple(scene_hit(index, int(p), beats, weights) for p in best if np.isfinite(costs[p]))


def scene_hit(
    index: GridIndex, page: int, beats: Sequence[Beat], weights: FitWeights | None = None
) -> Hit:
    """A page with its beats laid in, and why."""
    shelf = index.shelf(np.array([page]))
    cost, placed = match_page(beats, shelf, 0, weights)
    return Hit(
        page=page,
        page_id=index.pages.id(page),
        name=index.pages.name(page),
        score=cost,
        placements=placed,
        reasons=(
            *page_reasons(beats, placed, shelf, 0),
            *clarity_reason(float(shelf.clarity[0])),
        ),
        gives=page_gives(beats, placed, shelf, 0),
    )


def scene_notes(beats: Sequence[Beat]) -> tuple[str, ...]:
    """What a letterer would say of these beats on one page."""
    return (*lettering_advice(tuple(beats)), *page_advice(tuple(beats), "The page"))
