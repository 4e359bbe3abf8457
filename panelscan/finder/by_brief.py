"""Pages that meet requirements: exact yes-or-no columns over the whole index."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.labels import as_numbers
from panelscan.errors import NothingFound
from panelscan.finder.brief import Brief, Span
from panelscan.finder.fit import TALL_UP_TO, WIDE_FROM
from panelscan.finder.index import GridIndex
from panelscan.finder.index_arrays import SIDES, unpack
from panelscan.finder.neighbours import SAME_WITHIN
from panelscan.finder.room import room_words

BIG_FROM = 0.25  # share of the page's panel area
SLANT_DEG = 2.0  # as in the library's own word "slanted"
FULL_WIDTH = 0.9  # share of the width that the page's panels take up
FORMAT_WITHIN = 0.05

Labels = Mapping[str, pa.Array]


@dataclass(frozen=True, eq=False)
class Screening:
    """Which pages meet a brief, and what each requirement leaves out.

    Parameters
    ----------
    passes : ndarray of bool, shape (G,)
    by_requirement : dict of str to ndarray of bool, shape (G,)
        In words for a person, in the order asked.
    """

    passes: np.ndarray
    by_requirement: dict[str, np.ndarray]

    def excluded(self) -> list[tuple[str, int, int]]:
        """Requirement, pages it leaves out, and pages that would be left without it.

        The one whose absence leaves most comes first, then the one that leaves out most.
        """
        told = []
        for name, own in self.by_requirement.items():
            others = [m for n, m in self.by_requirement.items() if n != name]
            without = np.logical_and.reduce(others) if others else np.ones_like(own)
            told.append((name, int((~own).sum()), int(without.sum())))
        return sorted(told, key=lambda t: (-t[2], -t[1]))


def screen(index: GridIndex, brief: Brief, labels: Labels | None = None) -> Screening:
    """Hold every page against a brief.

    Parameters
    ----------
    index : GridIndex
    brief : Brief
    labels : mapping of str to pyarrow.Array of string, length G, optional
        Values of labels per page, null where there is none; needed where the brief asks for
        labels or a rating.
    """
    found: dict[str, np.ndarray] = {}
    for name in brief.asked:
        for words, mask in _CHECKS[name](index, brief, labels or {}):
            found[words] = mask
    everything = np.ones(len(index), dtype=bool)
    return Screening(np.logical_and.reduce([everything, *found.values()]), found)


Checked = list[tuple[str, np.ndarray]]


def _span_words(span: Span, what: str) -> str:
    least, most = span
    if least == most:
        return f"{least} {what}"
    if most is None:
        return f"at least {least} {what}"
    return f"at most {most} {what}" if least is None else f"{least} to {most} {what}"


def _in_span(values: np.ndarray, span: Span) -> np.ndarray:
    least, most = span
    inside = np.ones(len(values), dtype=bool)
    if least is not None:
        inside &= values >= least
    if most is not None:
        inside &= values <= most
    return inside


def _panels(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    span = brief.panels or (None, None)
    return [(_span_words(span, "panels"), _in_span(index.panel_count, span))]


def _tiers(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    span = brief.tiers or (None, None)
    return [(_span_words(span, "tiers"), _in_span(index.arrays.tiers, span))]


def _at(index: GridIndex, place: int, of_panel: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """Whether the panel at a place (from 1) passes a test of panels; False without such a panel."""
    passes = np.zeros(len(index), dtype=bool)
    has = np.flatnonzero(index.panel_count >= place)
    passes[has] = of_panel(index.arrays.starts[has] + place - 1)
    return passes


def panel_shares(index: GridIndex, panels: np.ndarray) -> np.ndarray:
    """Share of some panels in their page's panel area."""
    owner = np.searchsorted(index.arrays.starts, panels, side="right") - 1
    shares: np.ndarray = index.arrays.areas[panels] / _page_areas(index)[owner]
    return shares


def _page_areas(index: GridIndex) -> np.ndarray:
    return np.add.reduceat(index.arrays.areas, index.arrays.starts[:-1], dtype=np.float64)


def _wide(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    return [
        (
            f"a wide panel {k}",
            _at(index, k, lambda p: index.arrays.shapes[p] >= np.float32(WIDE_FROM)),
        )
        for k in brief.wide_at
    ]


def _tall(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    return [
        (
            f"a tall panel {k}",
            _at(index, k, lambda p: index.arrays.shapes[p] <= np.float32(TALL_UP_TO)),
        )
        for k in brief.tall_at
    ]


def _big(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    return [
        (f"a big panel {k}", _at(index, k, lambda p: panel_shares(index, p) >= BIG_FROM))
        for k in brief.big_at
    ]


def _full_tier(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    boxes = unpack(index.arrays.boxes)
    starts = index.arrays.starts[:-1]
    left = np.minimum.reduceat(boxes[:, 0], starts)
    right = np.maximum.reduceat(boxes[:, 2], starts)
    spans = (boxes[:, 2] - boxes[:, 0]) >= FULL_WIDTH * (right - left)[index.owner]
    return [
        (f"a full-tier panel {k}", _at(index, k, lambda p: spans[p])) for k in brief.full_tier_at
    ]


def _any_panel(index: GridIndex, panels: np.ndarray) -> np.ndarray:
    """Whether any panel of each page passes."""
    return np.logical_or.reduceat(panels, index.arrays.starts[:-1])


def _wanted(has: np.ndarray, wanted: bool | None, what: str) -> Checked:
    return [(what if wanted else f"no {what}", has if wanted else ~has)]


def _splash(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    return _wanted(index.arrays.splash, brief.splash, "splash")


def _bleeds(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    return _wanted(_any_panel(index, index.arrays.bleeds > 0), brief.bleeds, "bleeds")


def _slants(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    slanted = index.arrays.slants > SLANT_DEG
    return _wanted(_any_panel(index, slanted), brief.slants, "slants")


def _insets(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    return _wanted(_any_panel(index, index.arrays.hosts >= 0), brief.insets, "insets")


def _least_words(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    least = np.minimum.reduceat(index.arrays.areas, index.arrays.starts[:-1])
    room = room_words(least, _page_areas(index))
    words = brief.least_words or 0
    return [(f"room for {words} words in every panel", room >= words)]


def _words_at(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    def holds(words: int) -> Callable[[np.ndarray], np.ndarray]:
        return lambda p: room_words(panel_shares(index, p), 1.0) >= words

    return [
        (f"room for {words} words in panel {k}", _at(index, k, holds(words)))
        for k, words in brief.words_at
    ]


def _free_top(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    least = np.float32(brief.free_top_share or 0.0)
    short = ~(index.arrays.free_tops >= least)  # NaN, where nobody looked, is short too
    words = f"a calm strip of {100 * (brief.free_top_share or 0):.0f} % at the top of every panel"
    return [(words, ~_any_panel(index, short))]


def _side(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    return [(f"a {brief.side}-hand page", index.arrays.side == SIDES.index(brief.side or ""))]


def _clarity(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    least = brief.clarity or 0.0
    return [(f"a reading order that {100 * least:.0f} % follow", index.arrays.clarity >= least)]


def _aspect(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    wanted = brief.aspect or 1.0
    near = np.abs(index.arrays.aspect / wanted - 1) <= FORMAT_WITHIN
    return [(f"pages {wanted:.2f} times as wide as high", near)]


def _size(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    width, height = brief.size_mm or (1.0, 1.0)
    with np.errstate(invalid="ignore"):
        near = np.abs(index.arrays.width_mm / width - 1) <= FORMAT_WITHIN
        near &= np.abs(index.arrays.height_mm / height - 1) <= FORMAT_WITHIN
    return [(f"pages of {width:g} x {height:g} mm", near)]


def _labels(index: GridIndex, brief: Brief, labels: Labels) -> Checked:
    checked = []
    for name, value in brief.labels.items():
        same = pc.equal(pc.utf8_lower(_label(index, labels, name)), value.lower())
        checked.append((f"{name} = {value}", _yes(same)))
    return checked


def _rating(index: GridIndex, brief: Brief, labels: Labels) -> Checked:
    least = brief.rating or 1
    rated = pc.greater_equal(as_numbers(_label(index, labels, "rating")), float(least))
    return [(f"rated {least} or better", _yes(rated))]


def _label(index: GridIndex, labels: Labels, name: str) -> pa.Array:
    return labels.get(name, pa.nulls(len(index), pa.string()))


def _yes(values: pa.Array) -> np.ndarray:
    return np.asarray(pc.fill_null(values, False).to_numpy(zero_copy_only=False), dtype=bool)


def _unused(index: GridIndex, brief: Brief, _: Labels) -> Checked:
    recent = recent_pages(index, brief.unused_in, brief.unused_for or 0, brief.unused_before)
    fresh = np.ones(len(index), dtype=bool)
    for page in recent:
        fresh[same_grids(index, int(page))] = False
    return [(f"a grid not used in the last {brief.unused_for} pages", fresh)]


def recent_pages(index: GridIndex, book: str, count: int, before: int | None) -> np.ndarray:
    """The last `count` pages of a book before a page number.

    Raises
    ------
    NothingFound
        If there is no such book.
    """
    if not len(index):
        return np.arange(0)
    name = book or max(index.books)
    if name not in index.books:
        raise NothingFound(f"There is no book {name}.", f"Books: {', '.join(index.books[:12])}.")
    own = np.flatnonzero(index.arrays.book == index.books.index(name))
    numbers = index.arrays.number[own]
    end = int(numbers.max()) + 1 if before is None else before
    return own[(numbers < end) & (numbers >= end - count)]


def same_grids(index: GridIndex, page: int) -> np.ndarray:
    """Pages with the same grid as `page` (itself too): no side farther off than 3 % of the page."""
    rows = index.coarse.rows_of_count(int(index.panel_count[page]))
    pages = index.coarse.page[rows]
    panels = index.arrays.starts[pages][:, None] + np.arange(index.panel_count[page])
    sides = unpack(index.arrays.boxes[panels])
    own = unpack(index.arrays.boxes[index.arrays.starts[page] : index.arrays.starts[page + 1]])
    apart = np.abs(sides - own).reshape(len(pages), -1).max(axis=1)
    same = (apart <= SAME_WITHIN) & (index.arrays.rtl[pages] == index.arrays.rtl[page])
    return np.asarray(pages[same])


_CHECKS: dict[str, Callable[[GridIndex, Brief, Labels], Checked]] = {
    "panels": _panels,
    "tiers": _tiers,
    "wide_at": _wide,
    "tall_at": _tall,
    "big_at": _big,
    "full_tier_at": _full_tier,
    "splash": _splash,
    "bleeds": _bleeds,
    "slants": _slants,
    "insets": _insets,
    "least_words": _least_words,
    "words_at": _words_at,
    "free_top_share": _free_top,
    "side": _side,
    "clarity": _clarity,
    "aspect": _aspect,
    "size_mm": _size,
    "labels": _labels,
    "rating": _rating,
    "unused_for": _unused,
}
