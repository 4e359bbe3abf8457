from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from panelscan.templates.coverage import Coverage


def painted(coverage, band):
    out = np.zeros((coverage.height, coverage.width), np.uint8)
    for top in range(0, coverage.height, band):
        deep = min(band, coverage.height - top)
        part = coverage.band(top, deep)
        if part is not None:
            left, cover = part
            out[top : top + deep, left : left + cover.shape[1]] = cover
    return out


corner = st.floats(-6, 26).map(lambda v: round(v, 3))


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(corner, corner), min_size=3, max_size=3, unique=True), st.integers(1, 20))
def test_coverage_is_the_exact_area(points, band):
    # Shapely's exact intersection of the triangle with each pixel.
    triangle = Polygon(points)
    if triangle.area < 0.05:
        return
    found = painted(Coverage([np.array(points)], 20, 16), band)
    exact = [
        [triangle.intersection(box(x, y, x + 1, y + 1)).area for x in range(20)] for y in range(16)
    ]
    assert np.abs(found - 255 * np.array(exact)).max() <= 1.0


def test_hole_and_overlap():
    def ring(x0, y0, x1, y1, hole=False):
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        return np.array(corners[::-1] if hole else corners, float)

    found = painted(Coverage([ring(1, 1, 9, 9), ring(3, 3, 7, 7, True)], 10, 10), 4)
    assert found[5, 5] == 0
    assert found[2, 5] == 255
    twice = painted(Coverage([ring(0, 0, 6, 6), ring(4, 4, 10, 10)], 10, 10), 3)
    assert twice[5, 5] == 255
    assert set(np.unique(twice)) == {0, 255}


def test_nothing_to_draw():
    assert Coverage([], 5, 5).band(0, 5) is None
    outside = np.array([(-9.0, -9.0), (-4, -9), (-4, -4)])
    assert Coverage([outside], 5, 5).band(0, 5) is None


def test_straight_sides_are_kept_as_one_row():
    shape = Coverage([np.array([(2.25, -5), (6, -5), (6, 50), (2.25, 50)], float)], 8, 40)
    left, cover = shape.band(8, 16)
    assert cover.shape[0] == 1
    assert (left, cover[0, :4].tolist()) == (2, [191, 255, 255, 255])


@pytest.mark.parametrize("turn", [1, -1])
def test_either_winding(turn):
    ring = np.array([(1, 1), (4, 1), (4, 4), (1, 4)], float)[::turn]
    assert painted(Coverage([ring], 5, 5), 5)[2, 2] == 255
