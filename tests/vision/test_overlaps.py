"""Panels that run on beneath another."""

from __future__ import annotations

import numpy as np
import pytest

from panelscan.vision.candidates import Candidate
from panelscan.vision.overlaps import run_on


def panel(x0: float, y0: float, x1: float, y1: float) -> Candidate:
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
    return Candidate(corners, "part")


def ground_round(*boxes: tuple[int, int, int, int]) -> np.ndarray:
    ground = np.ones((1000, 700), np.uint8)
    for x0, y0, x1, y1 in boxes:
        ground[y0:y1, x0:x1] = 0
    return ground


BACK, FRONT = (60, 100, 360, 400), (300, 140, 640, 400)


def seen() -> list[Candidate]:
    """The back panel as far as the front one's border, and the front one."""
    return [panel(60, 100, 300, 400), panel(*FRONT)]


def right_of(found: Candidate) -> float:
    return float(found.corners[:, 0].max())


@pytest.mark.parametrize("halo", [0, 5])
def test_a_back_panel_reaches_as_far_as_its_top_does(halo: int) -> None:
    ground = ground_round(BACK, FRONT)
    x0, y0, x1, _ = FRONT
    ground[y0 - halo : y0, x0 - halo : x1] = 1  # a white rim round the front panel
    ground[y0:400, x0 - halo : x0] = 1
    back, front = run_on(seen(), ground, 1.0)
    assert right_of(back) == pytest.approx(360, abs=3)
    assert np.array_equal(front.corners, panel(*FRONT).corners)


def test_a_top_in_line_with_the_neighbours_is_the_neighbours() -> None:
    level = (300, 100, 640, 400)
    panels = [panel(60, 100, 300, 400), panel(*level)]
    found = run_on(panels, ground_round(BACK, level), 1.0)
    assert right_of(found[0]) == 300


def test_panels_with_a_gutter_between_stay_as_they_are() -> None:
    boxes = (60, 100, 300, 400), (312, 140, 640, 400)
    found = run_on([panel(*b) for b in boxes], ground_round(*boxes), 1.0)
    assert [right_of(p) for p in found] == [300, 640]


def test_a_tier_does_not_run_on_beneath_the_two_panels_above_it() -> None:
    # No gutter, a little aslant: the panels above end where the page's live area does.
    above = [
        Candidate(np.array(ring, dtype=float), "part")
        for ring in (
            [(60, 100), (300, 100), (300, 312), (60, 300)],
            [(300, 100), (640, 104), (640, 330), (300, 312)],
        )
    ]
    tier = Candidate(np.array([(60, 300), (640, 330), (640, 600), (60, 600)], float), "lined")
    found = run_on([tier, *above], ground_round((60, 100, 640, 600)), 1.0)
    assert np.array_equal(found[0].corners, tier.corners)


def test_a_page_laid_on_its_side_is_no_different() -> None:
    ground = ground_round(BACK, FRONT).T.copy()
    turned = [Candidate(p.corners[::-1, ::-1].copy(), "part") for p in seen()]
    back, _ = run_on(turned, ground, 1.0)
    assert float(back.corners[:, 1].max()) == pytest.approx(360, abs=3)
