"""The recall of candidates on answers known beforehand."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

from score_candidates import best_overlaps, line

from panelscan.model.outline import Outline
from tests.vision.pages import blank, box, frame


def test_a_drawn_panel_is_among_the_candidates_and_found_and_another_is_not() -> None:
    page = blank()
    rings = [box(40, 40, 580, 420), box(40, 440, 580, 840)]
    for ring in rings:
        frame(page, ring)
    nowhere = Outline.box(200, 380, 400, 480)
    overlaps = best_overlaps([*map(Outline.of, rings), nowhere], page)
    assert (overlaps[:2] > 0.95).all()
    assert (overlaps[2] < 0.5).all()


def test_recall_is_a_share_at_each_level() -> None:
    told = line("inset", np.array([[0.95, 0.95], [0.92, 0.8], [0.8, 0.1], [0.2, 0.0]]))
    assert told.split() == ["inset", "4", "0.7500", "0.5000", "0.5000", "0.2500"]
