from __future__ import annotations

import numpy as np
import pytest

from panelscan.errors import NothingFound
from panelscan.finder.brief import Brief
from panelscan.finder.index import GridIndex
from panelscan.finder.query import Query
from panelscan.finder.retrieval import average_precision
from panelscan.finder.same_hand import (
    FACING,
    WIDEST_GUTTER,
    _gaps,
    find_same_hand,
    style_distances,
    style_table,
)
from panelscan.finder.search import search_index
from panelscan.layout.notation import parse_grid
from tests.finder.drawn import draw_book


def test_same_hand_is_found_better_than_by_counting_panels():
    books = [draw_book(12, seed) for seed in range(40, 48)]
    grids = [g for b in books for g in b]
    owner = np.repeat(np.arange(len(books)), 12)
    index = GridIndex.of_grids(grids, measured=False)
    table = style_table(index)
    counts = index.panel_count
    by_hand, by_count = [], []
    for k in range(len(grids)):
        others = np.flatnonzero(np.arange(len(grids)) != k)
        same = owner[others] == owner[k]
        far = style_distances(index, k, table)[others]
        by_hand.append(average_precision(same[np.argsort(far, kind="stable")]))
        order = np.random.default_rng(k).permutation(len(others))
        apart = np.abs(counts[others] - counts[k])[order]
        by_count.append(average_precision(same[order][np.argsort(apart, kind="stable")]))
    assert np.mean(by_hand) > np.mean(by_count) + 0.2


def test_margins_and_gutters_are_measured():
    texts = ["margin 4, gutter 2; two then two", "margin 9, gutter 2; two then two",
             "margin 4, gutter 2; three then one then two"]  # fmt: skip
    index = GridIndex.of_grids([parse_grid(t) for t in texts], measured=False)
    first = find_same_hand(index, 0)[0]
    assert first.page == 2 and "margin" in first.reasons[0]
    assert len(style_table(GridIndex.of_grids([]))) == 0


def gap_of_one(boxes, low):
    """The same by NumPy's median, one page at a time."""
    high, side_low, side_high = low + 2, 1 - low, 3 - low
    gaps = []
    for one in boxes:
        for other in boxes:
            gap = other[low] - one[high]
            facing = min(one[side_high], other[side_high]) - max(one[side_low], other[side_low])
            size = min(b[side_high] - b[side_low] for b in (one, other))
            if facing > FACING * size and abs(gap) < WIDEST_GUTTER:
                gaps.append(gap)
    return np.median(gaps) if gaps else np.nan


def test_gutters_of_many_pages_at_once_are_those_of_each():
    rng = np.random.default_rng(0)
    for count in (1, 2, 4, 7):
        boxes = rng.random((30, count, 4))
        boxes[..., 2:] = boxes[..., :2] + 0.05 + 0.4 * boxes[..., 2:]
        for low in (0, 1):
            expected = [gap_of_one(page, low) for page in boxes]
            np.testing.assert_allclose(_gaps(boxes, low), expected)


def test_a_hand_is_asked_for_alone_and_with_other_wishes():
    books = [draw_book(12, seed) for seed in (40, 41, 42)]
    index = GridIndex.of_grids([g for b in books for g in b], measured=False)
    me = index.pages.id(3)
    alone = search_index(index, Query(hand=me, skip=(me,), count=5))
    assert [h.page for h in alone.hits] == [h.page for h in find_same_hand(index, 3, 5)]
    assert alone.hits[0].reasons[0].startswith("Most alike in")
    few = search_index(index, Query(hand=me, skip=(me,), brief=Brief(panels=(4, 5))))
    assert few.hits and all(4 <= len(h.grid) <= 5 for h in few.hits)
    both = search_index(index, Query(like=index.grid(3), hand=me, skip=(me,)))
    assert all(h.reasons[-1].endswith("usual spreads away in hand.") for h in both.hits)
    with pytest.raises(NothingFound, match="hand"):
        search_index(index, Query(hand="nobody"))
