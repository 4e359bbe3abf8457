from __future__ import annotations

import numpy as np
import pytest

from panelscan.vision.evidence import EvidenceMaps, side_evidence

RING = np.array([[100.0, 100], [300, 100], [300, 300], [100, 300]])


def maps(ground: np.ndarray) -> EvidenceMaps:
    return EvidenceMaps(ground, ground, np.zeros_like(ground), 1.0)


def ground_with_panel() -> np.ndarray:
    ground = np.ones((400, 400), dtype=np.uint8)
    ground[100:300, 100:300] = 0
    return ground


def test_a_side_with_art_within_and_ground_beyond_is_a_wall() -> None:
    sides = side_evidence(maps(ground_with_panel()), [RING])[0]
    assert [s.wall for s in sides] == [1.0] * 4
    assert sides[0].worth == pytest.approx(sides[0].length)


def test_a_side_through_art_is_blocked_and_counts_against() -> None:
    inner = np.array([[100.0, 100], [200, 100], [200, 300], [100, 300]])
    right = side_evidence(maps(ground_with_panel()), [inner])[0][1]
    assert right.blocked > 0.9
    assert right.worth < 0


def test_short_marks_as_of_lettering_are_no_wall() -> None:
    ground = np.ones((400, 400), dtype=np.uint8)
    for x in range(100, 300, 16):
        ground[100:112, x : x + 9] = 0
    top = side_evidence(maps(ground), [RING])[0][0]
    assert top.wall < 0.2


def test_the_pages_edge_counts_as_a_bleed_where_art_reaches_it() -> None:
    ground = np.zeros((400, 400), dtype=np.uint8)
    page = np.array([[0.0, 0], [400, 0], [400, 400], [0, 400]])
    assert all(s.bleed == 1.0 for s in side_evidence(maps(ground), [page])[0])
