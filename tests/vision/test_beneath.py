"""Panels of which another hides a corner."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from panelscan.demo.maker import draw_page
from panelscan.layout.agreement import iou_table
from panelscan.model.page import PageImage
from panelscan.vision.beneath import framed
from panelscan.vision.candidates import Candidate
from panelscan.vision.detector import find_panels
from panelscan.vision.evidence import SideEvidence

WHITE = np.full((600, 800), 255, np.uint8)
FRAME = [(50, 50), (400, 50), (400, 350), (50, 350)]
FRONT = [(300, 200), (650, 200), (650, 500), (300, 500)]


def seen(ring: Sequence[tuple[float, float]], bordered: float) -> Candidate:
    corners = np.array(ring, dtype=float)
    lengths = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    sides = tuple(SideEvidence(1, 0, 0, 0, 0, float(n), float(n)) for n in lengths)
    return Candidate(corners, "region 0", sides=sides, gain=2.0, bordered=bordered)


def visible(rim: float) -> Candidate:
    """What shows of the frame, so far from the panel in front."""
    x, y = 300 - rim, 200 - rim
    return seen([(50, 50), (400, 50), (400, y), (x, y), (x, 350), (50, 350)], 1.0)


def test_what_shows_of_a_panel_beneath_another_becomes_its_frame() -> None:
    frame = seen(FRAME, 0.3)
    chosen = [visible(2), seen(FRONT, 1.0)]
    back, front = framed(chosen, [*chosen, frame], WHITE, 1.0)
    assert back is frame
    assert front is chosen[1]


def test_an_l_a_gutter_away_stays_an_l() -> None:
    chosen = [visible(12), seen(FRONT, 1.0)]
    assert framed(chosen, [*chosen, seen(FRAME, 0.3)], WHITE, 1.0) == chosen


def test_a_frame_with_borders_all_round_hides_nothing() -> None:
    chosen = [visible(2), seen(FRONT, 1.0)]
    assert framed(chosen, [*chosen, seen(FRAME, 1.0)], WHITE, 1.0) == chosen


def test_a_shape_without_a_panel_in_front_stays() -> None:
    chosen = [visible(2)]
    assert framed(chosen, [*chosen, seen(FRAME, 0.3)], WHITE, 1.0) == chosen


@pytest.mark.parametrize(("seed", "hand"), [(4804, "wash"), (4851, "nib")])
def test_a_drawn_page_with_overlapping_panels(seed: int, hand: str) -> None:
    # Both showed a back panel with a bite taken out. Drawn by the page maker, no outside source.
    drawn = draw_page("inset", seed, hand=hand, height_px=1900)
    image = PageImage(drawn.pixels, drawn.pixels.shape[1], drawn.pixels.shape[0])
    overlaps = iou_table(
        [p.outline for p in drawn.truth.panels], [p.outline for p in find_panels(image).panels]
    )
    assert overlaps.max(axis=1).min() >= 0.9
