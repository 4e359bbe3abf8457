"""Several ways of finding at once: one proposes pages, what the others say is added."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from panelscan.errors import NothingFound
from panelscan.finder.beats import Scene
from panelscan.finder.by_brief import same_grids
from panelscan.finder.by_example import RERANKED, hits_of, neighbours
from panelscan.finder.by_grid import WrittenQuery, pattern_scores
from panelscan.finder.by_scene import scene_hit, scene_scores
from panelscan.finder.hits import Hit, Likeness
from panelscan.finder.index import GridIndex
from panelscan.finder.panel_tables import distances_to, rows_of_pages
from panelscan.finder.query import Query
from panelscan.finder.ranking import BEAT_SCALE
from panelscan.finder.same_hand import find_same_hand, style_distances
from panelscan.layout.fields import panel_rows
from panelscan.layout.grid_pattern import HOLDS
from panelscan.model.grid import Grid

HAND_SCALE = 0.1  # distances of hands are about this much larger than those of grids
SPARE = 20  # hits beyond those wanted, so that liking can move some up


def found_hits(
    index: GridIndex, query: Query, written: WrittenQuery | None, among: np.ndarray
) -> list[Hit]:
    """Hits of the first way asked for, with what the other ways say added to their scores."""
    wanted = query.count + SPARE
    grid = written.grid if written else None
    others: list[Callable[[list[Hit]], list[Hit]]] = []
    pattern = written if written is not None and written.grid is None else None
    if pattern is not None:
        others.append(lambda hits: _with_pattern(index, hits, pattern))
    example = query.like if query.like is not None else grid
    if query.like is not None and grid is not None:
        other = grid
        others.append(lambda hits: _with_distance(index, hits, other))
    scene = query.scene
    asked_more = example is not None or scene is not None or pattern is not None
    if query.hand and asked_more:
        others.append(lambda hits: _with_hand(index, hits, query.hand))
    if example is not None:
        if scene is not None:
            others.append(lambda hits: _with_scene(index, hits, scene))
        best = RERANKED if others else wanted
        near = neighbours(index, example, among=among, mirrors=query.mirrors, best=best)
        hits = list(hits_of(index, example, near, range(min(best, len(near.pages)))))
        if query.like is None and not query.near:
            hits = [h for h in hits if h.likeness is Likeness.SAME]
    elif scene is not None:
        hits = _scene_hits(index, scene, among, 10 * wanted)
    elif query.hand and not asked_more:
        hits = list(find_same_hand(index, _place_of(index, query.hand), wanted, among))
    else:
        hits = _plain_hits(index, among, pattern)
    for add in others:
        hits = add(hits)
    return sorted(hits, key=lambda h: (h.score, h.page))


def _scene_hits(index: GridIndex, scene: Scene, among: np.ndarray, count: int) -> list[Hit]:
    costs = scene_scores(index, scene.beats, among)
    best = [int(p) for p in np.argsort(costs, kind="stable")[:count] if np.isfinite(costs[p])]
    return [scene_hit(index, p, scene.beats) for p in best]


def _plain_hits(index: GridIndex, among: np.ndarray, pattern: WrittenQuery | None) -> list[Hit]:
    """Pages that meet all, the clearest first."""
    pages = np.flatnonzero(among)
    unclear = 0.01 * (1 - index.arrays.clarity[pages])
    if pattern is not None:
        unclear = unclear + 1 - pattern_scores(index, pattern, among)[pages]
    order = pages[np.argsort(unclear, kind="stable")][: 20 * RERANKED]
    return [
        Hit(
            int(p),
            index.pages.id(int(p)),
            index.pages.name(int(p)),
            0.01 * (1 - float(index.arrays.clarity[p])),
            reasons=() if pattern is not None else (_meets(float(index.arrays.clarity[p])),),
        )
        for p in order
    ]


def _meets(clarity: float) -> str:
    return f"Meets what was asked; about {100 * clarity:.0f} % of readers follow its order."


def _with_pattern(index: GridIndex, hits: list[Hit], pattern: WrittenQuery) -> list[Hit]:
    among = np.zeros(len(index), dtype=bool)
    among[[h.page for h in hits]] = True
    scores = pattern_scores(index, pattern, among)
    told = []
    for hit in hits:
        score = float(scores[hit.page])
        holds = score >= HOLDS
        likeness = hit.likeness if holds else Likeness.NEAR
        reason = "As written." if holds else f"Nearly as written ({100 * score:.0f} %)."
        told.append(
            replace(
                hit, score=hit.score + 1 - score, likeness=likeness, reasons=(reason, *hit.reasons)
            )
        )
    return told


def _with_distance(index: GridIndex, hits: list[Hit], grid: Grid) -> list[Hit]:
    rows, starts = rows_of_pages(index.arrays, np.array([h.page for h in hits], dtype=int))
    if not hits:
        return []
    far = distances_to(panel_rows(grid), rows, starts)
    return [
        replace(
            h,
            score=h.score + float(d),
            reasons=(*h.reasons, f"{100 * float(d):.0f} % away from the written grid."),
        )
        for h, d in zip(hits, far, strict=True)
    ]


def _place_of(index: GridIndex, page_id: str) -> int:
    place = index.index_of(page_id)
    if place is None:
        raise NothingFound(
            "The page whose hand is asked for has no panels, or counts as another scan of a page.",
            "Name another page of the same hand.",
        )
    return place


def _with_hand(index: GridIndex, hits: list[Hit], page_id: str) -> list[Hit]:
    """Hits with how far each is from a page in margins, gutters and proportions."""
    far = style_distances(index, _place_of(index, page_id))
    return [
        replace(
            h,
            score=h.score + HAND_SCALE * float(far[h.page]),
            reasons=(*h.reasons, f"{float(far[h.page]):.1f} usual spreads away in hand."),
        )
        for h in hits
    ]


def _with_scene(index: GridIndex, hits: list[Hit], scene: Scene) -> list[Hit]:
    told = []
    for hit in hits:
        laid = scene_hit(index, hit.page, scene.beats)
        if np.isfinite(laid.score):
            told.append(
                replace(
                    hit,
                    score=BEAT_SCALE * hit.score + laid.score,
                    placements=laid.placements,
                    gives=laid.gives,
                    reasons=(*hit.reasons, *laid.reasons),
                )
            )
    return told


def each_grid_once(
    index: GridIndex, hits: Sequence[Hit], among: np.ndarray, count: int
) -> list[Hit]:
    """The best page of each grid, with how many others have it."""
    kept: list[Hit] = []
    seen = np.zeros(len(index), dtype=bool)
    for hit in hits:
        if len(kept) == count:
            break
        if seen[hit.page]:
            continue
        same = same_grids(index, hit.page)
        same = same[among[same]]
        seen[same] = True
        reasons = hit.reasons
        if len(same) > 1:
            others = [int(p) for p in same if p != hit.page]
            names = ", ".join(index.pages.name(p) for p in others[:2])
            more = f" and {len(others) - 2} more" if len(others) > 2 else ""
            reasons = (*reasons, f"The same grid: {names}{more}.")
        kept.append(replace(hit, reasons=reasons))
    return kept
