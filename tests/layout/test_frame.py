"""The page laid flat."""

from __future__ import annotations

import numpy as np
import pytest

from panelscan.layout.frame import as_outline, frame_map, unit_map
from panelscan.model.outline import Outline


def test_a_turned_page_keeps_its_lengths():
    turn = np.radians(7)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corners = np.array([[0, 0], [200, 0], [200, 300], [0, 300]]) @ spin.T + [400, 50]
    page = frame_map(Outline.of(corners.tolist()))
    assert (page.width, page.height) == pytest.approx((200, 300))
    assert page.to_page(corners) == pytest.approx(
        np.array([[0, 0], [200, 0], [200, 300], [0, 300]]), abs=1e-6
    )


def test_there_and_back_again():
    frame = Outline.of([(10, 20), (210, 5), (230, 330), (0, 300)])
    page = frame_map(frame)
    points = np.random.default_rng(1).uniform(0, 200, (20, 2))
    assert page.to_page(page.to_source(points)) == pytest.approx(points, abs=1e-6)


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (100, 0), (100, 150), (50, 160), (0, 150)],
        [(0, 0), (100, 0), (40, 60), (0, 150)],
    ],
)
def test_a_frame_of_another_shape_counts_as_its_box(points: list[tuple[float, float]]):
    outline = Outline.of(points)
    page = frame_map(outline)
    assert (page.width, page.height) == (outline.width, outline.height)


def test_page_relative_units():
    page = unit_map(2.0, 3.0)
    assert page.to_page(np.array([[0.5, 0.5]])).tolist() == [[1.0, 1.5]]


def test_points_that_enclose_nothing_are_no_outline():
    assert as_outline(np.array([[0.0, 0], [1, 1], [2, 2]])) is None
    crossed = as_outline(np.array([[0.0, 0], [2, 2], [2, 0], [0, 2]]))
    assert crossed is not None and crossed.area == pytest.approx(4)
