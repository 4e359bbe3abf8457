from __future__ import annotations

import numpy as np
import pytest

from panelscan.vision.candidates import Candidate
from panelscan.vision.confidence import (
    PAGE_FIGURES,
    PANEL_FIGURES,
    page_confidence,
    page_figures,
    panel_confidences,
    panel_figures,
    set_shares,
)
from panelscan.vision.evidence import SideEvidence
from panelscan.vision.selection import ChosenSet

CORNERS = np.array([[0.0, 0], [100, 0], [100, 100], [0, 100]])
SETS = [ChosenSet((0,), 2.0)]


def panel(wall: float) -> Candidate:
    side = SideEvidence(wall, 0.0, 0.0, 0.0, 1 - wall, 100.0, 100.0)
    return Candidate(CORNERS, "region 0", sides=(side,) * 4)


def figures_of(wall: float) -> np.ndarray:
    return panel_figures([panel(wall)], [panel(wall)], SETS, 40000.0)


def test_a_panel_with_walls_all_round_is_surer_than_one_without() -> None:
    good, poor = panel_confidences(figures_of(1.0))[0], panel_confidences(figures_of(0.2))[0]
    assert 0 < poor < good < 1


def test_figures_stand_under_their_names() -> None:
    assert figures_of(1.0).shape == (1, len(PANEL_FIGURES))
    page = page_figures(np.array([0.5, 0.9]), SETS, 0.1, 2.5)
    named = dict(zip(PAGE_FIGURES, page, strict=True))
    assert named["least_panel"] == 0.5
    assert named["mean_panel"] == pytest.approx(0.7)
    assert named["left_out"] == pytest.approx(0.4)


def test_a_page_with_art_left_out_is_less_sure() -> None:
    sure = np.array([0.9, 0.9])
    clean = page_confidence(page_figures(sure, SETS, 0.0, 2.5))
    assert page_confidence(page_figures(sure, SETS, 0.3, 2.5)) < clean
    assert page_confidence(page_figures(sure, SETS, 0.0, 2.5, borders_left=0.4)) < clean


def test_a_page_without_panels_is_hardly_right() -> None:
    assert page_confidence(page_figures(np.zeros(0), SETS, 1.0, 2.5)) < 0.1


def test_shares_of_sets_sum_to_one_and_follow_the_gain() -> None:
    shares = set_shares([ChosenSet((0,), 2.0), ChosenSet((1,), 1.9), ChosenSet((), 0.0)])
    assert sum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
