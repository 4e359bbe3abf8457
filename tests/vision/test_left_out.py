"""What chosen panels leave unexplained."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.vision.candidates import Candidate
from panelscan.vision.learned import LearnedMaps, Votes
from panelscan.vision.left_out import borders_left_out

SCALE = 0.4


def panel(x0: float, y0: float, x1: float, y1: float) -> Candidate:
    return Candidate(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float), "net")


def maps_of(*panels: Candidate) -> LearnedMaps:
    border = np.full((400, 280), -4.0, np.float32)
    for each in panels:
        cv2.polylines(border, [np.round(each.corners * SCALE).astype(np.int32)], True, 4.0, 1)
    none = Votes(np.zeros((0, 2)), *(np.zeros((0, 8)),) * 2, np.zeros((0, 4, 2)), 20.0)
    return LearnedMaps(border, border, border, SCALE, none)


LEFT, RIGHT = panel(50, 50, 340, 900), panel(355, 50, 650, 900)


def test_all_borders_are_some_panels() -> None:
    left = borders_left_out(maps_of(LEFT, RIGHT), [LEFT, RIGHT])
    assert (left.length, left.middle) == (0, None)


def test_a_missed_panel_leaves_its_border() -> None:
    inset = panel(100, 100, 250, 200)
    left = borders_left_out(maps_of(LEFT, RIGHT, inset), [LEFT, RIGHT])
    assert left.length == pytest.approx(2 * (150 + 100) * SCALE / 400, rel=0.02)
    assert left.middle == pytest.approx((175, 150), abs=2)


def test_panels_taken_as_one_leave_the_gutters_borders() -> None:
    joined = borders_left_out(maps_of(LEFT, RIGHT), [panel(50, 50, 650, 900)])
    assert joined.length == pytest.approx(2 * 850 * SCALE / 400, rel=0.05)
