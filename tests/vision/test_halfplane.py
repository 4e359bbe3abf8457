from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from panelscan.vision.halfplane import area_of, chords, clip_convex

SQUARE = np.array([[0.0, 0], [10, 0], [10, 6], [0, 6]])
angles = st.floats(0, 2 * np.pi)
places = st.tuples(st.floats(1, 9), st.floats(1, 5))


@given(place=places, angle=angles)
def test_clipping_agrees_with_shapely(place: tuple[float, float], angle: float) -> None:
    # Outside check: Shapely's intersection with a large half plane.
    normal = np.array([np.cos(angle), np.sin(angle)])
    along = np.array([-normal[1], normal[0]])
    point = np.array(place)
    far = [point + 100 * along, point - 100 * along]
    half = Polygon([*far, far[1] + 100 * normal, far[0] + 100 * normal])
    expected = half.intersection(box(0, 0, 10, 6)).area
    assert area_of(clip_convex(SQUARE, point, normal)) == pytest.approx(expected, abs=1e-6)


@given(place=places, angle=angles)
def test_chords_agree_with_shapely(place: tuple[float, float], angle: float) -> None:
    along = np.array([np.cos(angle), np.sin(angle)])
    point = np.array(place)
    low, high = chords(SQUARE, point[None], along[None])
    line = LineString([point - 100 * along, point + 100 * along])
    expected = line.intersection(box(0, 0, 10, 6)).length
    assert high[0] - low[0] == pytest.approx(expected, abs=1e-6)


def test_a_line_that_misses_has_no_chord() -> None:
    low, high = chords(SQUARE, np.array([[0.0, 20.0]]), np.array([[1.0, 0.0]]))
    assert (low[0], high[0]) == (0.0, 0.0)
