from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon

from panelscan.vision.candidates import Candidate
from panelscan.vision.conflicts import conflicts
from panelscan.vision.evidence import SideEvidence
from panelscan.vision.insets import common_area

HELD = SideEvidence(1.0, 0.0, 0.0, 0.0, 0.0, 100.0, 100.0)
NO_GROUND = np.zeros((900, 600), dtype=np.uint8)


def panel(x0: float, y0: float, x1: float, y1: float, source: str = "net") -> Candidate:
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
    return Candidate(corners, source, sides=(HELD,) * 4, gain=0.5)


def test_panels_beside_each_other_may_both_be_chosen() -> None:
    pair = [panel(0, 0, 100, 100), panel(110, 0, 200, 100)]
    assert not conflicts(pair, NO_GROUND, 1.0).any()


def test_a_part_of_a_panel_is_no_inset() -> None:
    pair = [panel(0, 0, 400, 400), panel(0, 0, 150, 400)]
    assert conflicts(pair, NO_GROUND, 1.0)[0, 1]


def test_a_frame_of_its_own_inside_a_panel_is_an_inset() -> None:
    pair = [panel(0, 0, 400, 400), panel(250, 250, 370, 370)]
    assert not conflicts(pair, NO_GROUND, 1.0)[0, 1]


def test_a_panel_beside_a_gutter_is_not_inset_in_its_tier() -> None:
    ground = NO_GROUND.copy()
    ground[240:380, 238:248] = 1
    ground[240:250, 238:380] = 1
    pair = [panel(0, 0, 400, 400), panel(250, 250, 370, 370)]
    assert conflicts(pair, ground, 1.0)[0, 1]


def test_common_area_agrees_with_shapely_for_bent_rings() -> None:
    # Outside check: Shapely's intersection.
    bent = np.array([[0, 0], [10, 0], [10, 4], [4, 4], [4, 10], [0, 10]], dtype=np.float32)
    other = np.array([[2, 2], [8, 2], [8, 8], [2, 8]], dtype=np.float32)
    expected = Polygon(bent).intersection(Polygon(other)).area
    assert common_area(bent, other) == pytest.approx(expected)
