"""Quick ways through the geometry give what the plain, slow ways give."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.layout.frame import as_outline, as_outlines
from panelscan.layout.group_order import exact_order
from panelscan.layout.notation_corners import ring_ious
from panelscan.layout.sheet import Sheet, make_sheet
from panelscan.layout.slip import slip_of, slips_along
from panelscan.layout.structure import covered_area, symmetry
from panelscan.layout.xy_cut import Cutter
from tests.samples import Box
from tests.strategies import HEIGHT, PHASES, WIDTH, DrawnPage, any_page

many = settings(max_examples=40, deadline=None, derandomize=True, phases=PHASES)


def sheet_of(page: DrawnPage, mirrored: bool = False) -> Sheet:
    return make_sheet([o.array() for o in page.outlines], WIDTH, HEIGHT, mirrored)


def score(odds: np.ndarray, order: tuple[int, ...]) -> float:
    return float(np.triu(odds[np.ix_(order, order)], 1).sum())


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(1, 6), st.integers(0, 2**32 - 1), st.sampled_from([0.0, 0.5, 2.0]))
def test_the_order_found_in_sets_is_the_best_of_all(count: int, seed: int, step: float):
    # Source: all permutations tried. Whole steps make ties, which go to the first by index.
    odds = np.random.default_rng(seed).normal(size=(count, count)) * 2
    odds = np.round(odds / step) * step if step else odds
    odds = np.triu(odds, 1) - np.triu(odds, 1).T
    found = exact_order(odds)
    best = max(score(odds, order) for order in permutations(range(count)))
    assert score(odds, found) == pytest.approx(best)


def test_panels_that_beat_each_other_in_a_ring_are_searched_together():
    # 0 before 1 before 2 before 0, all before 3: one set of three, then one of one.
    odds = np.zeros((4, 4))
    for first, second, value in (
        (0, 1, 3.0),
        (1, 2, 2.0),
        (2, 0, 1.0),
        (0, 3, 1),
        (1, 3, 1),
        (2, 3, 1),
    ):
        odds[first, second], odds[second, first] = value, -value
    assert exact_order(odds) == (0, 1, 2, 3)


def test_sixteen_panels_in_one_great_ring():
    # Each beats the eight that follow it round the ring; the last is far behind them all.
    ring = np.sign(8 - (np.arange(16)[None, :] - np.arange(16)[:, None]) % 16).astype(float)
    odds = np.triu(ring, 1) - np.triu(ring, 1).T
    order = exact_order(odds)
    shifted = (*order[1:], order[0])
    assert sorted(order) == list(range(16))
    assert score(odds, order) >= max(score(odds, shifted), score(odds, order[::-1]))


@many
@given(any_page())
def test_slips_of_a_whole_group_are_those_of_every_line(page: DrawnPage):
    boxes = sheet_of(page).boxes
    ranked = sorted(range(len(boxes)), key=lambda i: (boxes[i, 1] + boxes[i, 3], boxes[i, 0]))
    slips = slips_along(boxes, ranked)
    for start in (0, len(ranked) // 3):
        for t in range(start + 1, len(ranked)):
            plain = slip_of(boxes, ranked[start:t], ranked[t:])
            assert slips[start:t, t].max() == pytest.approx(plain, abs=1e-12)


@many
@given(any_page(), st.booleans(), st.sampled_from([0.0, 0.12]))
def test_a_group_is_split_as_by_one_cut_after_the_other(page, rows, tolerance):
    cutter = Cutter(sheet_of(page))

    def one_by_one(group: tuple[int, ...]) -> list[tuple[int, ...]]:
        cut = cutter.best_cut(group, rows, tolerance)
        if cut is None:
            return [group]
        return [*one_by_one(cut.before), *one_by_one(cut.after)]

    group = tuple(range(len(page.outlines)))
    found = cutter.split(group, rows, tolerance)
    assert [sorted(part) for part in found] == [sorted(part) for part in one_by_one(group)]


@many
@given(any_page())
def test_the_best_partners_in_the_mirror_are_the_best_of_all(page: DrawnPage):
    # Source: Shapely, every pair.
    sheet = sheet_of(page)
    plain = shapely.polygons(sheet.rings)
    turned = sheet.rings.copy()
    turned[:, :, 0] = WIDTH - turned[:, :, 0]
    common = shapely.area(shapely.intersection(plain[:, None], shapely.polygons(turned)[None, :]))
    iou = common / (sheet.areas[:, None] + sheet.areas - common)
    wanted = (iou.max(axis=1) * sheet.areas).sum() / sheet.areas.sum()
    assert symmetry(sheet) == pytest.approx(wanted, abs=1e-9)


@many
@given(any_page(), st.booleans())
def test_covered_area_is_that_of_the_union(page: DrawnPage, as_boxes: bool):
    # Source: Shapely's union. Overlaps below a millionth of the page do not count as such.
    sheet = sheet_of(page)
    if as_boxes:
        corners = [np.array(box_corners(tuple(box))) for box in sheet.boxes.tolist()]
        sheet = make_sheet(corners, WIDTH, HEIGHT, mirrored=False)
    wanted = shapely.area(shapely.union_all(shapely.polygons(sheet.rings)))
    slack = 1e-6 * WIDTH * HEIGHT * len(sheet) ** 2
    assert covered_area(sheet) == pytest.approx(wanted, abs=slack)


def box_corners(box: Box) -> list[tuple[float, float]]:
    x0, y0, x1, y1 = box
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


@many
@given(any_page(), any_page())
def test_rings_are_compared_as_polygons_are(first: DrawnPage, second: DrawnPage):
    # Source: Shapely, through Outline.iou.
    pairs = list(zip(first.outlines, second.outlines, strict=False))
    found = ring_ious([a.array() for a, _ in pairs], [b.array() for _, b in pairs])
    assert found == pytest.approx([a.iou(b) for a, b in pairs], abs=1e-9)


@many
@given(any_page())
def test_outlines_made_at_once_are_those_made_one_by_one(page: DrawnPage):
    rings = np.array([o.array()[::-1] for o in page.outlines if len(o.points) == 4])
    if len(rings):
        assert as_outlines(rings) == [as_outline(ring) for ring in rings]
