"""Grids by the written notation: a whole grid, exact or near, or a pattern with wildcards."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from panelscan.errors import NotationError
from panelscan.finder.by_example import find_like
from panelscan.finder.hits import Hit, Likeness
from panelscan.finder.index import GridIndex
from panelscan.finder.spoken_grid import spoken_grid
from panelscan.layout.grid_pattern import HOLDS, GridPattern, parse_pattern
from panelscan.layout.notation import parse_grid
from panelscan.layout.notation_parse import parse_written
from panelscan.model.grid import Grid

NEARLY = 0.7
"""Score from which a page that misses a pattern is shown as a near miss."""
CLOSELY_READ = 300
"""Pages that are held against a pattern with sizes, one by one."""


@dataclass(frozen=True, eq=False)
class WrittenQuery:
    """What was written: a whole grid, or a pattern.

    Parameters
    ----------
    text : str
    grid : Grid or None
        None where the text holds wildcards.
    pattern : GridPattern
    """

    text: str
    grid: Grid | None
    pattern: GridPattern

    @cached_property
    def has_sizes(self) -> bool:
        """Whether sizes were written that count."""
        return bool(self.pattern.page.sized)


def parse_query(text: str) -> WrittenQuery:
    """A written grid or pattern, or a sentence that means one (see `spoken_grid`).

    Raises
    ------
    NotationError
        With the place where reading stopped.

    Examples
    --------
    >>> parse_query("two then one").grid is None, parse_query("any then one").grid is None
    (False, True)
    """
    meant = spoken_grid(text)
    pattern = parse_pattern(meant)
    try:
        return WrittenQuery(text, parse_grid(meant), pattern)
    except NotationError:
        return WrittenQuery(text, None, pattern)


def find_grid(
    index: GridIndex,
    text: str,
    *,
    count: int = 10,
    among: np.ndarray | None = None,
    near: bool = True,
) -> tuple[Hit, ...]:
    """Pages that a written grid or pattern means, best first.

    Parameters
    ----------
    index : GridIndex
    text : str
        See `panelscan.layout.notation` and `panelscan.layout.grid_pattern`.
    count : int
        Pages wanted.
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    near : bool
        Also pages that come near, named as such.

    Raises
    ------
    NotationError
        With the place where reading stopped.
    """
    query = parse_query(text)
    if query.grid is not None and len(query.grid):
        hits = find_like(index, query.grid, count=count, among=among)
        return hits if near else tuple(h for h in hits if h.likeness is Likeness.SAME)
    scores = pattern_scores(index, query, among)
    order = np.lexsort((np.arange(len(scores)), -scores))
    least = NEARLY if near else HOLDS
    return tuple(_hit(index, int(p), float(scores[p])) for p in order[:count] if scores[p] >= least)


def pattern_scores(
    index: GridIndex, query: WrittenQuery, among: np.ndarray | None = None
) -> np.ndarray:
    """How well a pattern holds for each page, 0..1 (1 it holds), shape (G,).

    Patterns without sizes are held against the forms of the library's grids; where sizes
    count, the pages whose form fits best are read one by one, `CLOSELY_READ` at most.
    """
    a = index.arrays
    of_form = np.array([_form_score(query.pattern, f) for f in index.names.forms] or [0.0])
    scores = np.where(a.form >= 0, of_form[np.maximum(a.form, 0)], 0.0)
    if among is not None:
        scores = np.where(among, scores, 0.0)
    unknown = np.flatnonzero(a.form < 0)
    closely = unknown if among is None else unknown[among[unknown]]
    if query.has_sizes:
        fits = np.flatnonzero(scores >= NEARLY)
        fits = fits[np.argsort(-scores[fits], kind="stable")]
        scores[fits[CLOSELY_READ:]] *= NEARLY  # not looked at closely: near misses at best
        closely = np.concatenate([closely, fits[:CLOSELY_READ]])
    for page in closely:
        scores[page] = query.pattern.score(index.grid(int(page)))
    return scores


def _form_score(pattern: GridPattern, form: str) -> float:
    try:
        return pattern.score_written(parse_written(form))
    except NotationError:  # a form that no longer reads as a grid by itself
        return 0.0


def _hit(index: GridIndex, page: int, score: float) -> Hit:
    holds = score >= HOLDS
    return Hit(
        page=page,
        page_id=index.pages.id(page),
        name=index.pages.name(page),
        score=1.0 - score,
        likeness=Likeness.ASKED if holds else Likeness.NEAR,
        reasons=("As written.",) if holds else (f"Nearly as written ({100 * score:.0f} %).",),
    )
