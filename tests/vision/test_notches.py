"""Panels that step back round another."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from panelscan.demo.maker import draw_page
from panelscan.layout.agreement import iou_table, page_exact
from panelscan.model.page import PageImage
from panelscan.vision.candidates import Candidate
from panelscan.vision.detector import find_panels
from panelscan.vision.evidence import SideEvidence
from panelscan.vision.notches import stepped_back

FRAME = np.array([[50.0, 50], [650, 50], [650, 450], [50, 450]])
WHITE = np.full((500, 700), 255, np.uint8)
FRONT = np.array([[400.0, 300], [650, 300], [650, 450], [400, 450]])


def l_shape(gutter: float) -> Candidate:
    x, y = 400 - gutter, 300 - gutter
    corners = np.array([[50.0, 50], [650, 50], [650, y], [x, y], [x, 450], [50, 450]])
    return seen(corners, "region 0")


def seen(corners: np.ndarray, source: str, blocked: float = 0.0) -> Candidate:
    lengths = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    sides = tuple(SideEvidence(1 - blocked, 0, 0, 0, blocked, float(n), float(n)) for n in lengths)
    return Candidate(corners, source, sides=sides, gain=2.0, bordered=1.0)


def chosen() -> list[Candidate]:
    return [seen(FRAME, "region 0"), seen(FRONT, "region 0")]


def test_an_l_with_a_gutter_round_the_other_panel_is_an_l() -> None:
    shape = l_shape(12)
    back, front = stepped_back(chosen(), [*chosen(), shape], WHITE, 1.0)
    assert back is shape
    assert np.array_equal(front.corners, FRONT)


@pytest.mark.parametrize("lined", [True, False])
def test_a_thin_rim_is_a_gutter_where_the_step_has_the_line_of_the_other_sides(
    lined: bool,
) -> None:
    shape = l_shape(4)
    page = np.full((500, 700), 200, np.uint8)
    outer = np.round(shape.corners).astype(np.int32)
    cv2.polylines(page, [outer if lined else FRAME.astype(np.int32)], True, 0, 2)
    back, _ = stepped_back(chosen(), [*chosen(), shape], page, 1.0)
    assert len(back.corners) == (6 if lined else 4)


@pytest.mark.parametrize("fault", ["art", "border"])
def test_a_step_that_is_not_seen_is_none(fault: str) -> None:
    shape = l_shape(12)
    if fault == "art":
        shape = seen(shape.corners, "net", blocked=0.6)
    else:
        shape = replace(shape, bordered=0.5)
    back, _ = stepped_back(chosen(), [*chosen(), shape], WHITE, 1.0)
    assert len(back.corners) == 4


def test_a_frame_without_a_panel_in_its_corner_stays() -> None:
    alone = chosen()[:1]
    assert len(stepped_back(alone, [*alone, l_shape(12)], WHITE, 1.0)[0].corners) == 4


@pytest.mark.parametrize(
    ("category", "seed", "hand"), [("shaped", 4819, "wash"), ("shaped", 4808, "brush")]
)
def test_a_drawn_page_with_an_l_is_whole(category: str, seed: int, hand: str) -> None:
    # Both lost the L to the frame round it. Drawn by the page maker, no outside source.
    drawn = draw_page(category, seed, hand=hand, height_px=1900)
    found = find_panels(PageImage(drawn.pixels, drawn.pixels.shape[1], drawn.pixels.shape[0]))
    true = [p.outline for p in drawn.truth.panels]
    assert any(len(o.points) == 6 for o in true)
    assert page_exact(iou_table(true, [p.outline for p in found.panels]), 0.9)
