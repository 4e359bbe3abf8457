"""Matching, areas and error names against known answers, Shapely and a raster count."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.draw import polygon2mask

from panelscan.layout.agreement import (
    Counts,
    corner_errors,
    counts_at,
    frame_jaccard,
    hausdorff,
    iou_table,
    match_panels,
    name_errors,
    outline_distance,
    page_exact,
    panel_quality,
)
from panelscan.model.outline import Outline

COCO_STEPS = [0.5 + 0.05 * k for k in range(10)]


def turned_square(turn_deg: float, side: float = 1.0) -> Outline:
    base = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * side / 2
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return Outline.of((base @ np.array([[c, s], [-s, c]])).tolist())


@pytest.mark.parametrize(("d", "iou"), [(0.1, 0.8182), (0.2, 0.6667), (1 / 3, 0.5), (0.5, 0.3333)])
def test_a_slid_box(d: float, iou: float) -> None:
    # Source: arithmetic, (1 - d) / (1 + d).
    table = iou_table([Outline.box(0, 0, 1, 1)], [Outline.box(d, 0, 1 + d, 1)])
    assert table[0, 0] == pytest.approx(iou, abs=5e-5)


def test_a_panel_found_ten_pixels_too_big_all_round() -> None:
    # Source: arithmetic, wh / ((w + 2t)(h + 2t)); nine of the ten COCO steps (Lin et al. 2014).
    table = iou_table([Outline.box(0, 0, 1000, 500)], [Outline.box(-10, -10, 1010, 510)])
    assert table[0, 0] == pytest.approx(0.94268, abs=5e-6)
    assert page_exact(table, 0.9)
    assert not page_exact(table, 0.95)
    assert sum(counts_at(table, t).hits for t in COCO_STEPS) == 9


def test_a_square_turned_by_45_degrees() -> None:
    # Source: geometry; overlap is a regular octagon, IoU 1/sqrt(2); boxes alone would say 0.5.
    upright, turned = turned_square(0), turned_square(45)
    assert iou_table([upright], [turned])[0, 0] == pytest.approx(0.70711, abs=5e-6)
    assert hausdorff(upright, turned) == pytest.approx(0.207107, abs=5e-7)
    assert hausdorff(upright, turned) == pytest.approx(
        shapely.hausdorff_distance(upright.shape, turned.shape)  # Source: Shapely
    )
    boxes = [Outline.box(*o.bounds) for o in (upright, turned)]
    assert boxes[0].iou(boxes[1]) == pytest.approx(0.5)


def test_a_two_by_one_turned_by_90_degrees() -> None:
    # Source: arithmetic: overlap 1, union 3.
    lying, upright = Outline.box(-1, -0.5, 1, 0.5), Outline.box(-0.5, -1, 0.5, 1)
    assert iou_table([lying], [upright])[0, 0] == pytest.approx(1 / 3)


def test_iou_against_a_raster_count() -> None:
    # Source: scikit-image's polygon2mask, counting pixel centres.
    a = Outline.of([(20, 30), (380, 60), (350, 420), (40, 380)])
    b = Outline.of([(35, 20), (390, 90), (340, 400), (60, 400)])
    masks = [
        polygon2mask((440, 440), np.array([(y - 0.5, x - 0.5) for x, y in o.points]))
        for o in (a, b)
    ]
    counted = (masks[0] & masks[1]).sum() / (masks[0] | masks[1]).sum()
    assert iou_table([a], [b])[0, 0] == pytest.approx(counted, abs=2e-3)


def test_matching_takes_the_best_total_not_the_first_best_pair() -> None:
    table = np.array([[0.9, 0.8], [0.85, 0.1]])
    pairs = [(m.true, m.found) for m in match_panels(table, 0.5)]
    assert pairs == [(0, 1), (1, 0)]


def test_matching_against_scipy_on_random_tables() -> None:
    # Source: SciPy's linear_sum_assignment by hand with a penalty instead of a mask.
    from scipy.optimize import linear_sum_assignment

    rng = np.random.default_rng(3)
    for _ in range(20):
        table = rng.random((5, 7))
        rows, columns = linear_sum_assignment(-np.where(table >= 0.5, table, 0))
        best = sum(table[r, c] for r, c in zip(rows, columns, strict=True) if table[r, c] >= 0.5)
        assert sum(m.iou for m in match_panels(table, 0.5)) == pytest.approx(best)


def test_merge_split_and_miss_are_named() -> None:
    # Source: error classes of Clausner, Pletschacher and Antonacopoulos 2011.
    true = [
        Outline.box(0, 0, 100, 100),  # merged with the next
        Outline.box(100, 0, 200, 100),
        Outline.box(0, 120, 200, 220),  # split in two
        Outline.box(0, 240, 200, 340),  # missed
        Outline.box(0, 360, 200, 460),  # found in part
    ]
    found = [
        Outline.box(0, 0, 200, 100),
        Outline.box(0, 120, 80, 220),
        Outline.box(80, 120, 200, 220),
        Outline.box(0, 360, 200, 430),
        Outline.box(300, 0, 400, 50),  # answers to nothing
    ]
    errors = name_errors(true, found)
    assert errors.merges == (0,)
    assert errors.splits == (2,)
    assert errors.misses == (3,)
    assert errors.partial == (4,)
    assert errors.false_detections == (4,)


def test_an_inset_found_right_does_not_split_its_host() -> None:
    page = [Outline.box(0, 0, 100, 100), Outline.box(50, 50, 95, 95)]
    errors = name_errors(page, page)
    assert (errors.splits, errors.merges, errors.misses) == ((), (), ())


def test_an_empty_page_left_empty_is_right() -> None:
    table = iou_table([], [])
    assert page_exact(table, 0.9)
    assert panel_quality(table) == 1.0
    assert counts_at(iou_table([Outline.box(0, 0, 1, 1)], []), 0.5) == Counts(0, 0, 1)


def test_panel_quality_by_hand() -> None:
    # Source: definition of Kirillov et al. 2019: 0.8 / (1 + 1/2 + 0).
    table = np.array([[0.8, 0.1]])
    assert panel_quality(table) == pytest.approx(0.8 / 1.5)


def test_corners_are_aligned_around_the_ring() -> None:
    a = Outline.box(0, 0, 100, 50)
    b = Outline(((101.0, 0.0), (101.0, 50.0), (0.0, 50.0), (0.0, 0.0)))
    assert corner_errors(a, b) == pytest.approx((0, 1, 1, 0))
    assert corner_errors(a, Outline.of([(0, 0), (9, 0), (0, 9)])) is None


def test_outline_distance_of_a_grown_square() -> None:
    # Source: arithmetic: every side lies 2 away, only the corners more.
    d = outline_distance(Outline.box(0, 0, 100, 100), Outline.box(-2, -2, 102, 102), step=0.5)
    assert d.mean == pytest.approx(2.0, abs=0.02)
    assert d.greatest == pytest.approx(math.hypot(2, 2), abs=1e-6)


def test_frame_jaccard_does_not_depend_on_the_camera() -> None:
    # Source: SmartDoc 2015: the measure is taken in the page's own frame.
    flat = Outline.of([(0.1, 0), (1, 0), (1, 1), (0.1, 1)])
    seen = [(100, 80), (700, 120), (640, 900), (60, 860)]
    import cv2

    h = cv2.getPerspectiveTransform(np.float32([(0, 0), (1, 0), (1, 1), (0, 1)]), np.float32(seen))
    carried = cv2.perspectiveTransform(flat.array()[None].astype(np.float64), h)[0]
    assert frame_jaccard(Outline.of(seen), Outline.of(carried.tolist())) == pytest.approx(
        0.9, abs=1e-4
    )


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 50), st.integers(0, 50), st.integers(1, 40), st.integers(1, 40)),
        max_size=6,
    )
)
def test_a_page_agrees_with_itself(boxes: list[tuple[int, int, int, int]]) -> None:
    page = [Outline.box(x, y, x + w, y + h) for x, y, w, h in boxes]
    table = iou_table(page, page)
    assert page_exact(table, 0.98)
    assert panel_quality(table) == pytest.approx(1.0)
