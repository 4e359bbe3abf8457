"""Sides of insets that lie near their host's."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.demo.maker import draw_page
from panelscan.layout.agreement import iou_table
from panelscan.model.page import PageImage
from panelscan.vision.candidates import Candidate
from panelscan.vision.detector import find_panels
from panelscan.vision.dividers import line_maps
from panelscan.vision.inset_sides import with_own_sides
from panelscan.vision.learned import LearnedMaps, Votes

HOST = (60, 60, 660, 500)
INSET = (80, 72, 240, 160)
NO_VOTES = Votes(np.zeros((0, 2)), np.zeros((0, 8)), np.zeros((0, 8)), np.zeros((0, 4, 2)), 8.0)


def panel(x0: float, y0: float, x1: float, y1: float) -> Candidate:
    return Candidate(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float), "net")


def page(*boxes: tuple[int, int, int, int]) -> np.ndarray:
    gray = np.full((1000, 720), 255, np.uint8)
    for x0, y0, x1, y1 in boxes:
        gray[y0:y1, x0:x1] = 200
        cv2.rectangle(gray, (x0, y0), (x1, y1), 0, 3)
    return gray


def maps(*boxes: tuple[int, int, int, int]) -> LearnedMaps:
    """What a net of this working size would say: borders where boxes are."""
    border = np.full((500, 360), -4.0, np.float32)
    for x0, y0, x1, y1 in boxes:
        cv2.rectangle(border, (x0 // 2, y0 // 2), (x1 // 2, y1 // 2), 4.0, 2)
    return LearnedMaps(border, -border, -border, 0.5, NO_VOTES)


def found(gray: np.ndarray, net: LearnedMaps) -> list[float]:
    """Box of an inset whose top was laid on its host's."""
    rough = panel(INSET[0], HOST[1], INSET[2], INSET[3])
    host, inset = with_own_sides([panel(*HOST), rough], line_maps(gray), net, 1.0)
    assert np.array_equal(host.corners, panel(*HOST).corners)
    return [*inset.corners.min(axis=0), *inset.corners.max(axis=0)]


def test_a_top_laid_on_the_hosts_moves_to_its_own_line() -> None:
    assert found(page(HOST, INSET), maps(HOST, INSET)) == pytest.approx(INSET, abs=2.5)


def test_an_inset_flush_with_its_host_stays() -> None:
    flush = (INSET[0], HOST[1], INSET[2], INSET[3])
    assert found(page(HOST, flush), maps(HOST, flush)) == pytest.approx(flush)


@pytest.mark.parametrize("missing", ["line", "border"])
def test_a_line_alone_or_the_net_alone_moves_nothing(missing: str) -> None:
    rest = (INSET[0], HOST[1], INSET[2], INSET[3])
    gray = page(HOST, rest if missing == "line" else INSET)
    net = maps(HOST, rest if missing == "border" else INSET)
    assert found(gray, net)[1] == HOST[1]


@pytest.mark.parametrize(("seed", "hand"), [(4809, "brush"), (4832, "nib")])
def test_a_drawn_page_with_insets_near_their_hosts_border(seed: int, hand: str) -> None:
    # Both had an inset's side on its host's border. Drawn by the page maker, no outside source.
    drawn = draw_page("inset", seed, hand=hand, height_px=1900)
    image = PageImage(drawn.pixels, drawn.pixels.shape[1], drawn.pixels.shape[0])
    overlaps = iou_table(
        [p.outline for p in drawn.truth.panels], [p.outline for p in find_panels(image).panels]
    )
    assert overlaps.max(axis=1).min() >= 0.9
