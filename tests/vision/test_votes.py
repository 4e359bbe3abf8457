from __future__ import annotations

import numpy as np
import pytest

from panelscan.vision.candidates import Candidate
from panelscan.vision.learned import WAYS, LearnedMaps, Votes, learned_maps
from panelscan.vision.segments import Lines
from panelscan.vision.vote_weights import agreement, stacked, with_votes
from panelscan.vision.votes import on_lines, voted_candidates

SIZE = (600, 900)
UNIT = 0.9
CELL = 10.0


def ring(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)


LEFT, RIGHT, INSET = ring(40, 40, 290, 860), ring(310, 40, 560, 860), ring(330, 60, 450, 200)


def cast(*panels: np.ndarray, spread: float = 3.0) -> Votes:
    """Votes of all places in the panels, each for the last panel that it lies in."""
    places, owners = [], []
    for y in np.arange(5, SIZE[1], CELL):
        for x in np.arange(5, SIZE[0], CELL):
            mine = [
                p
                for p in panels
                if (p.min(axis=0) < (x, y)).all() and (p.max(axis=0) > (x, y)).all()
            ]
            if mine:
                places.append((x, y))
                owners.append(mine[-1])
    reach = np.array([(o @ WAYS.T).max(axis=0) for o in owners])
    return Votes(np.array(places), reach, np.full_like(reach, spread), np.array(owners), CELL)


def maps_of(votes: Votes) -> LearnedMaps:
    flat = np.zeros((450, 300), np.float32)
    return LearnedMaps(flat, flat, flat, 0.5, votes)


def frames(*rings: np.ndarray, source: str = "net") -> list[Candidate]:
    return [Candidate(r, source, gain=0.5) for r in rings]


def test_places_that_agree_propose_their_panel() -> None:
    found = voted_candidates(maps_of(cast(LEFT, RIGHT)), SIZE, UNIT)
    assert len(found) == 2
    for true in (LEFT, RIGHT):
        assert min(np.abs(c.corners - true).max() for c in found) < 1.5


def test_votes_are_for_their_panel_and_against_two_as_one() -> None:
    joined = ring(40, 40, 560, 860)
    mean = agreement(frames(LEFT, RIGHT, joined), cast(LEFT, RIGHT), UNIT).mean
    assert mean[:2] == pytest.approx(1.0)
    assert mean[2] < 0


def test_unsure_votes_say_less() -> None:
    sure = agreement(frames(LEFT), cast(LEFT, spread=3.0), UNIT).mean[0]
    unsure = agreement(frames(LEFT), cast(LEFT, spread=40.0), UNIT).mean[0]
    assert 0 < unsure < sure


def test_an_inset_may_lie_on_its_host_but_a_part_may_not() -> None:
    part = ring(310, 40, 560, 400)
    candidates = frames(RIGHT, INSET, part)
    may = stacked(candidates, agreement(candidates, cast(RIGHT, INSET), UNIT))
    assert may[0, 1] and may[1, 0]
    assert not may[0, 2]


def test_votes_for_no_chosen_panel_dispute_the_page() -> None:
    agreed = agreement(frames(LEFT, RIGHT), cast(LEFT, RIGHT), UNIT)
    assert agreed.disputed([0, 1]) == 0
    assert agreed.disputed([0]) == pytest.approx(0.5, abs=0.02)
    assert agreed.disputed([]) == 1


def test_a_frame_seen_closed_keeps_its_gain_against_the_votes() -> None:
    joined = frames(ring(40, 40, 560, 860))
    agreed = agreement(joined, cast(LEFT, RIGHT), UNIT)
    told = with_votes(joined, agreed, 900.0, [False])[0]
    closed = with_votes(joined, agreed, 900.0, [True])[0]
    assert told.gain < 0.5 < closed.gain


def test_a_closed_frame_whose_places_vote_for_its_parts_is_two_panels() -> None:
    candidates = frames(LEFT, RIGHT, ring(40, 40, 560, 860))
    agreed = agreement(candidates, cast(LEFT, RIGHT), UNIT)
    assert agreed.parted(2) > 0.9
    assert agreed.parted(0) == 0
    weighed = with_votes(candidates, agreed, 900.0, [True, True, True])
    assert weighed[2].gain < 0.5 < min(w.gain for w in weighed[:2])


def test_strays_that_only_agree_with_one_another_are_no_panel() -> None:
    stray = frames(ring(40, 40, 560, 860), source="votes")
    told = with_votes(stray, agreement(stray, cast(LEFT, RIGHT), UNIT), 900.0, [False])
    assert told[0].gain <= 0


def test_sides_move_onto_straight_edges_close_by() -> None:
    lines = Lines(
        np.array([[38.0, 100.0]]), np.array([[0.0, -1.0]]), np.array([[-1.0, 0.0]]),
        np.array([500.0]), np.zeros((0, 4)),
    )  # fmt: skip
    moved = on_lines(LEFT, lines, UNIT)
    assert moved is not None
    assert moved[:, 0].tolist() == pytest.approx([38, 290, 290, 38])
    far = Lines(lines.point - (60, 0), lines.along, lines.outward, lines.support, lines.pieces)
    assert on_lines(LEFT, far, UNIT) is None


def test_the_net_votes_for_the_panels_of_a_plain_page() -> None:
    page = np.full((900, 600, 3), 255, np.uint8)
    for panel in (LEFT, RIGHT):
        x0, y0, x1, y1 = (int(v) for v in (*panel[0], *panel[2]))
        page[y0 - 3 : y1 + 3, x0 - 3 : x1 + 3] = 0
        page[y0 + 2 : y1 - 2, x0 + 2 : x1 - 2] = (190, 160, 120)
    votes = learned_maps(page).votes
    assert (votes.reach[:, 1] <= SIZE[0]).all() and (votes.reach[:, 3] <= SIZE[1]).all()
    joined = ring(40, 40, 560, 860)
    mean = agreement(frames(LEFT, RIGHT, joined), votes, UNIT).mean
    assert mean[:2].min() > 0 > mean[2]
