"""What the pages of a book say of one another, and how unseen sides follow it."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from panelscan.model.outline import Outline
from panelscan.model.panel import Ground, GroundKind, PageFinding, Panel
from panelscan.vision.book_prior import BookPrior, learn_prior
from panelscan.vision.book_sides import with_habits
from panelscan.vision.candidates import Candidate
from panelscan.vision.evidence import SideEvidence


def page(tone: int, confidence: float) -> PageFinding:
    return PageFinding(
        frame=Outline.box(0, 0, 100, 200),
        skew_deg=0.0,
        ground=Ground(GroundKind.TINTED, (tone, tone, tone)),
        panels=(Panel(Outline.box(10, 20, 90, 180)),),
        confidence=confidence,
    )


def test_only_sure_pages_speak() -> None:
    prior = learn_prior([page(200, 0.9), page(210, 0.9), page(220, 0.95), page(0, 0.3)])
    assert prior.pages == 3
    assert prior.ground_rgb == (210, 210, 210)
    assert prior.live_share == (0.1, 0.1, 0.9, 0.9)


def test_two_pages_are_no_habit() -> None:
    assert learn_prior([page(200, 0.9), page(200, 0.9)]).pages == 0


def grid(*boxes: tuple[float, float, float, float]) -> PageFinding:
    panels = tuple(Panel(Outline.box(*b)) for b in boxes)
    return dataclasses.replace(page(200, 0.9), panels=panels)


def test_the_usual_gutter_and_live_area_of_a_book() -> None:
    pages = [grid((10, 20, 48, 80), (50, 20, 90, 80), (10, 84, 90, 180))] * 3
    prior = learn_prior([*pages, grid((10, 20, 45, 180), (50, 20, 90, 180))])
    assert prior.gutter_share == pytest.approx((0.02, 0.02))
    assert prior.live_share == pytest.approx((0.1, 0.1, 0.9, 0.9))


def test_pages_that_do_not_agree_have_no_habit() -> None:
    prior = learn_prior([grid((left, 20, 90, 180)) for left in (5, 15, 25, 35)])
    assert prior.live_share == (None, 0.1, 0.9, 0.9)
    assert prior.gutter_share == (None, None)


HABIT = BookPrior(live_share=(0.1, 0.1, 0.9, 0.9), gutter_share=(0.02, None), pages=5)


def candidate(x0: float, y0: float, x1: float, y1: float, unseen: str = "") -> Candidate:
    """A panel; ``unseen`` names its sides (top, right, bottom, left) without a line: 't' ... ."""
    ring = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
    walls = [0.0 if name in unseen else 1.0 for name in "trbl"]
    sides = tuple(SideEvidence(w, 0.0, 0.0, 1.0 - w, 0.0, 100.0, 100.0) for w in walls)
    return Candidate(ring, "votes", sides=sides)


def test_an_unseen_side_goes_to_the_edge_of_the_live_area() -> None:
    (panel,) = with_habits([candidate(50, 100, 440, 400, "l")], HABIT, (500, 1000), 1.0)
    assert panel.corners.min(axis=0).tolist() == [50, 100]
    (panel,) = with_habits([candidate(59, 100, 440, 400, "lr")], HABIT, (500, 1000), 1.0)
    assert (panel.corners[:, 0].min(), panel.corners[:, 0].max()) == (50, 450)


def test_an_unseen_side_lies_a_usual_gutter_from_its_neighbour() -> None:
    pair = [candidate(50, 100, 242, 400, "r"), candidate(260, 100, 450, 400)]
    first, second = with_habits(pair, HABIT, (500, 1000), 1.0)
    assert first.corners[:, 0].max() == 250
    assert np.array_equal(second.corners, pair[1].corners)


@pytest.mark.parametrize("panel", [candidate(59, 100, 440, 400), candidate(90, 100, 440, 400, "l")])
def test_seen_sides_and_far_ones_stay(panel: Candidate) -> None:
    assert with_habits([panel], HABIT, (500, 1000), 1.0) == [panel]
