"""Patterns: a written grid with wildcards, to look for pages by.

``any then any then one`` is a page of three tiers, the last a single panel. ``any`` stands
for one tier (or one column of a row) whatever it holds, ``some`` for one or more, ``two or
three`` for either. Sizes that are written count, with a tolerance; sizes that are not
written are left open. Gutters, margins and slants are never compared.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from panelscan.layout.notation_parse import parse_written
from panelscan.layout.notation_write import Writer
from panelscan.layout.written import Cell, Loose, Part, Split, Wild, WrittenPage
from panelscan.model.grid import Grid
from panelscan.model.page import ReadingDirection

SIZE_TOLERANCE = 0.2
"""Ratio (as a share) by which a size may differ from a written one and still hold."""
HOLDS = 0.999


@dataclass(frozen=True)
class GridPattern:
    """A pattern to hold against grids.

    Parameters
    ----------
    text : str
        As written.
    page : WrittenPage
        Its parts.
    """

    text: str
    page: WrittenPage

    def matches(self, grid: Grid) -> bool:
        """Whether the pattern holds for a grid."""
        return self.score(grid) >= HOLDS

    def score(self, grid: Grid) -> float:
        """How well the pattern holds, from 0 to 1 (it holds).

        Every tier, column or panel too many, missing or of another kind, and every size
        beyond the tolerance, takes its share off.
        """
        return self.score_written(Writer(grid).page()) if grid.panels else 0.0

    def score_written(self, page: WrittenPage) -> float:
        """The same for a grid that is written already, e.g. parsed from the library."""
        body = page.body
        if page.direction is not self.page.direction:
            # a pattern is meant in reading order, whichever way the book runs
            if self.page.direction is ReadingDirection.RTL:
                return 0.0
        return 1.0 - _cost(self.page.body, body, self.page.sized)


def parse_pattern(text: str) -> GridPattern:
    """Pattern from its text.

    Parameters
    ----------
    text : str
        A written grid that may hold ``any``, ``some`` and ``or``.

    Raises
    ------
    NotationError
        Where the text breaks off.

    Examples
    --------
    >>> from panelscan.layout.notation import parse_grid
    >>> pattern = parse_pattern("any then any then one")
    >>> pattern.matches(parse_grid("two then three then one"))
    True
    >>> pattern.matches(parse_grid("two then one"))
    False
    """
    return GridPattern(text, parse_written(text, pattern=True))


def _rows_of(part: Part) -> tuple[tuple[Part, ...], tuple[float, ...]]:
    """Tiers of a part (one tier if it is no stack), with their sizes."""
    if isinstance(part, Split) and part.rows:
        return part.parts, part.sizes
    return (part,), (1.0,)


def _columns_of(part: Part) -> tuple[tuple[Part, ...], tuple[float, ...]]:
    if isinstance(part, Split) and not part.rows:
        return part.parts, part.sizes
    return (part,), (1.0,)


def _cost(wanted: Part, found: Part, sized: bool) -> float:
    """Share of the pattern that fails, 0..1."""
    if isinstance(wanted, Wild) and not wanted.counts:
        return 0.0
    if isinstance(wanted, Wild):
        return min(_cost(_plain_row(count), found, sized) for count in wanted.counts)
    if isinstance(wanted, Split) and wanted.rows:
        return _aligned(wanted.parts, wanted.sizes, *_rows_of(found), sized)
    if isinstance(found, Split) and found.rows:
        # a row or panel is wanted where a stack stands: it answers at best one of its rows
        best = min(_cost(wanted, part, sized) for part in found.parts)
        return 1.0 - (1.0 - best) / len(found.parts)
    if isinstance(wanted, Split):
        return _aligned(wanted.parts, wanted.sizes, *_columns_of(found), sized)
    if isinstance(found, Split):
        best = min(_cost(wanted, part, sized) for part in found.parts)
        return 1.0 - (1.0 - best) / len(found.parts)
    return _leaf_cost(wanted, found)


def _plain_row(count: int) -> Part:
    if count == 1:
        return Cell()
    return Split(False, (Cell(),) * count, (1.0,) * count, ())


def _leaf_cost(wanted: Part, found: Part) -> float:
    if isinstance(wanted, Loose) or isinstance(found, Loose):
        if not (isinstance(wanted, Loose) and isinstance(found, Loose)):
            return 1.0
        more, fewer = len(wanted.cells), len(found.cells)
        return abs(more - fewer) / max(more, fewer)
    if not (isinstance(wanted, Cell) and isinstance(found, Cell)):
        return 1.0
    misses = len(wanted.bleed - found.bleed) / 4
    misses += 0.5 * (wanted.round and not found.round)
    missing = len(wanted.insets) - len(found.insets)
    misses += 0.5 * max(0, missing) / max(1, len(wanted.insets))
    return min(1.0, misses)


def _aligned(
    wanted: Sequence[Part],
    sizes: Sequence[float],
    found: Sequence[Part],
    found_sizes: Sequence[float],
    sized: bool,
) -> float:
    """Least cost of laying two sequences beside each other, per part of the longer one."""
    whole, found_whole = sum(sizes), sum(found_sizes)
    compare = sized and len(set(sizes)) > 1

    def pair(i: int, j: int) -> float:
        cost = _cost(wanted[i], found[j], sized)
        if compare and not isinstance(wanted[i], Wild):
            off = abs(math.log((sizes[i] / whole) / (found_sizes[j] / found_whole)))
            cost = max(cost, min(1.0, max(0.0, off - math.log1p(SIZE_TOLERANCE))))
        return cost

    @cache
    def rest(i: int, j: int) -> float:
        if i == len(wanted):
            return float(len(found) - j)
        here = wanted[i]
        if isinstance(here, Wild) and here.most > 1:
            if j == len(found):
                return 1.0 + rest(i + 1, j)
            return min(rest(i + 1, k) for k in range(j + 1, len(found) + 1))
        if j == len(found):
            return float(len(wanted) - i)
        return min(pair(i, j) + rest(i + 1, j + 1), 1.0 + rest(i + 1, j), 1.0 + rest(i, j + 1))

    return min(1.0, rest(0, 0) / max(len(wanted), len(found)))
