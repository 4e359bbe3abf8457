"""All ways of finding together: likeness, written grid, requirements, scene, filter, liking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pyarrow as pa

from panelscan.corpus.labels import labels_now
from panelscan.corpus.select import select_pages
from panelscan.corpus.store import Library
from panelscan.errors import InputError
from panelscan.finder.by_brief import Labels, Screening, screen
from panelscan.finder.by_grid import NEARLY, WrittenQuery, parse_query, pattern_scores
from panelscan.finder.by_scene import scene_notes
from panelscan.finder.combine import each_grid_once, found_hits
from panelscan.finder.index import GridIndex
from panelscan.finder.query import Answer, Query
from panelscan.finder.ranking import BEAT_SCALE, Liking, likings, ranked
from panelscan.layout.grid_pattern import HOLDS

__all__ = ["Answer", "Query", "search", "search_index"]


def search(library: Library, query: Query, index: GridIndex | None = None) -> Answer:
    """Find pages of a library.

    Parameters
    ----------
    library : Library
    query : Query
    index : GridIndex, optional
        Opened before; opened now otherwise.

    Raises
    ------
    NotationError
        If the written grid or the filter cannot be understood.
    InputError
        If the example has no panel.
    NothingFound
        If no single page can carry the beats, or the page whose hand is asked for is not
        indexed.
    """
    index = index or GridIndex.open(library)
    said = labels_now(library.place)
    chosen = None
    if query.where:
        ids = select_pages(library, query.where, ["page_id"]).pages["page_id"].to_pylist()
        chosen = np.zeros(len(index), dtype=bool)
        chosen[index.pages.places(ids)] = True
    names = [*query.brief.labels, *(["rating"] if query.brief.rating else [])]
    labels: dict[str, pa.Array] = {}
    if names:
        ids_column = pa.chunked_array([pa.array(index.arrays.ids).cast(pa.string())])
        books = pa.chunked_array(
            [pa.array(index.books, pa.string()).take(pa.array(index.arrays.book))]
        )
        labels = {name: said.column(name, ids_column, books) for name in names}
    liked = likings(said) if query.use_liking else {}
    return search_index(index, query, liked=liked, labels=labels, chosen=chosen)


def search_index(
    index: GridIndex,
    query: Query,
    *,
    liked: Mapping[str, Liking] | None = None,
    labels: Labels | None = None,
    chosen: np.ndarray | None = None,
) -> Answer:
    """Find pages of an index; parameters that a library gives are handed in.

    Parameters
    ----------
    index : GridIndex
    query : Query
        Its ``where`` counts only through `chosen`.
    liked : mapping of page id to Liking, optional
    labels : mapping of str to pyarrow.Array, optional
        As for `by_brief.screen`.
    chosen : ndarray of bool, shape (G,), optional
        Pages that the filter lets through.
    """
    if query.like is not None and not len(query.like):
        raise InputError(
            "The page asked for has no panel that could be found.",
            "Put its panels right in `panelscan review`, or write the grid with --grid.",
        )
    written = parse_query(query.written) if query.written else None
    screening = _screened(index, query, written, labels, chosen)
    meeting = int(screening.passes.sum())
    among = screening.passes
    skipped = index.pages.places(query.skip)
    if len(skipped):
        among = among.copy()
        among[skipped] = False
    hits = found_hits(index, query, written, among)
    scale = BEAT_SCALE if query.scene is not None else 1.0
    hits = ranked(hits, liked or {}, scale)
    by_page = query.like is not None or bool(query.hand)
    once = not by_page if query.each_grid_once is None else query.each_grid_once
    if once:
        hits = each_grid_once(index, hits, among, query.count)
    return Answer(
        hits=tuple(
            replace(h, grid=index.grid(h.page), target=index.pages.target(h.page))
            for h in hits[: query.count]
        ),
        looked_at=len(index),
        meeting=meeting,
        excluded=tuple(screening.excluded()) if not hits else (),
        notes=scene_notes(query.scene.beats) if query.scene else (),
        query=query,
    )


def _screened(
    index: GridIndex,
    query: Query,
    written: WrittenQuery | None,
    labels: Labels | None,
    chosen: np.ndarray | None,
) -> Screening:
    """Pages that meet the brief, the filter, and a pattern with wildcards."""
    found = screen(index, query.brief, labels)
    masks = dict(found.by_requirement)
    if chosen is not None:
        masks[f"where {query.where}"] = chosen
    if written is not None and written.grid is None:
        scores = pattern_scores(index, written)
        masks[f"the grid “{written.text}”"] = scores >= (NEARLY if query.near else HOLDS)
    everything = np.ones(len(index), dtype=bool)
    return Screening(np.logical_and.reduce([everything, *masks.values()]), masks)
