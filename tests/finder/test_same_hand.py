from __future__ import annotations

import numpy as np

from panelscan.finder.index import GridIndex
from panelscan.finder.retrieval import average_precision
from panelscan.finder.same_hand import find_same_hand, style_distances, style_table
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
