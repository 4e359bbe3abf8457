"""Insets that borders enclose, and which of two nearly equal frames is kept."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.vision.candidates import Candidate
from panelscan.vision.enclosures import enclosed_candidates, with_borders
from panelscan.vision.evidence import SideEvidence
from panelscan.vision.insets import enclosed_insets
from panelscan.vision.learned import LearnedMaps, Votes
from panelscan.vision.twins import distinct, finest

SIZE = (700, 1000)
SCALE = 0.384
NO_GROUND = np.zeros((1000, 700), np.uint8)
HOST, INSET = (60, 80, 640, 600), (400, 120, 560, 220)


def box(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)


def maps_with(*boxes: tuple[int, int, int, int], gap: bool = False) -> LearnedMaps:
    """Maps in which the net sees borders, two pixels thick, round boxes of the page."""
    shape = (384, 269)
    border = np.full(shape, -4.0, np.float32)
    for each in boxes:
        ring = np.round(box(*each) * SCALE).astype(np.int32)
        cv2.polylines(border, [ring], True, 4.0, 2)
    if gap:
        x0, y0, _, y1 = (round(v * SCALE) for v in boxes[-1])
        border[y0 + 3 : (y0 + y1) // 2, x0 - 3 : x0 + 4] = -4.0
    none = np.zeros((0, 2), np.float32)
    votes = Votes(none, np.zeros((0, 8)), np.zeros((0, 8)), np.zeros((0, 4, 2)), 21.0)
    return LearnedMaps(
        border, np.full(shape, -4, np.float32), np.full(shape, 4, np.float32), SCALE, votes
    )


def found_insets(maps: LearnedMaps) -> list[np.ndarray]:
    host = Candidate(box(*HOST), "region 0", gain=2.0)
    every = with_borders([host, *enclosed_candidates(maps, SIZE, 1.0)], maps)
    return [every[k].corners for k in enclosed_insets(every, [0], NO_GROUND, 1.0)]


def test_a_frame_of_borders_on_a_panel_is_an_inset() -> None:
    (ring,) = found_insets(maps_with(HOST, INSET))
    assert np.abs(ring - box(*INSET)).max() < 4


def test_a_frame_with_a_gap_is_none() -> None:
    assert not found_insets(maps_with(HOST, INSET, gap=True))


def test_an_inset_may_lie_in_a_corner() -> None:
    corner = (60, 80, 200, 180)
    (ring,) = found_insets(maps_with(HOST, corner))
    assert np.abs(ring - box(*corner)).max() < 4


def test_what_spans_its_host_is_a_part_of_it() -> None:
    assert not found_insets(maps_with(HOST, (300, 80, 460, 600)))


def test_a_frame_on_two_panels_is_no_inset_of_either() -> None:
    halves = [Candidate(box(*HOST), "region 0"), Candidate(box(60, 620, 640, 900), "region 0")]
    frame = Candidate(box(300, 470, 460, 660), "enclosed", bordered=1.0)
    assert enclosed_insets([halves[0], frame], [0], NO_GROUND, 1.0) == [1]
    assert not enclosed_insets([*halves, frame], [0, 1], NO_GROUND, 1.0)


@pytest.mark.parametrize(
    ("bordered", "voted", "found"),
    [(1.0, -0.5, True), (0.9, -0.5, False), (0.8, 0.0, True), (0.6, 0.5, False)],
)
def test_votes_against_a_frame_ask_for_borders_all_round(
    bordered: float, voted: float, found: bool
) -> None:
    # A window's frame is closed too, but for a bar or two, and the votes are for its panel.
    host = Candidate(box(*HOST), "region 0", gain=2.0)
    frame = Candidate(box(*INSET), "enclosed", bordered=bordered, voted=voted)
    assert bool(enclosed_insets([host, frame], [0], NO_GROUND, 1.0)) is found


def test_the_weakest_side_tells_how_far_borders_are_seen() -> None:
    frame = [Candidate(box(*INSET), "net")]
    (whole,) = with_borders(frame, maps_with(INSET))
    (open_,) = with_borders(frame, maps_with(INSET, gap=True))
    assert whole.bordered == 1.0
    assert 0.3 < open_.bordered < 0.8


def test_of_twins_of_one_kind_the_better_is_kept() -> None:
    pair = [
        Candidate(box(0, 0, 400, 400), "net", gain=0.4),
        Candidate(box(2, 0, 401, 399), "net", gain=0.9),
    ]
    assert distinct(pair) == [1]
    assert distinct([pair[0], Candidate(pair[1].corners, "enclosed", gain=0.9)]) == [1, 0]


@pytest.mark.parametrize(("bordered", "right"), [(0.4, 170.0), (0.95, 158.0)])
def test_a_small_frame_takes_the_sides_that_borders_enclose(bordered: float, right: float) -> None:
    voted = Candidate(box(100, 100, 158, 180), "votes", bordered=bordered)
    twin = Candidate(box(100, 100, 170, 180), "enclosed", bordered=1.0)
    assert finest(voted, [voted, twin], 1.0).corners[:, 0].max() == right


@pytest.mark.parametrize(("bordered", "left"), [(0.9, 112.0), (0.3, 100.0)])
def test_a_frame_leaves_its_borders_only_for_a_twin_that_has_them(
    bordered: float, left: float
) -> None:
    # Art that ends softly before its border is walled farther in.
    voted = Candidate(box(100, 100, 400, 400), "votes", bordered=1.0)
    walls = (SideEvidence(0.6, 0.0, 0.0, 0.0, 0.0, 300.0, 0.0),) * 4
    twin = Candidate(box(112, 100, 400, 400), "region 5", bordered=bordered, sides=walls)
    assert finest(voted, [voted, twin], 1.0).corners[:, 0].min() == left


@pytest.mark.parametrize(("more", "left"), [(0.1, 100.0), (0.3, 104.0)])
def test_a_twin_of_the_nets_is_finer_where_far_more_of_it_is_walled(
    more: float, left: float
) -> None:
    def walls(share: float) -> tuple[SideEvidence, ...]:
        return (SideEvidence(share, 0.0, 0.0, 0.0, 0.0, 300.0, 0.0),) * 4

    voted = Candidate(box(100, 100, 400, 400), "votes", bordered=1.0, sides=walls(0.2))
    twin = Candidate(box(104, 100, 400, 400), "net", bordered=1.0, sides=walls(0.2 + more))
    assert finest(voted, [voted, twin], 1.0).corners[:, 0].min() == left
