from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.model.page import PageEdge
from panelscan.vision.detector import find_panels
from panelscan.vision.trace import STEPS, Trace
from tests.vision.pages import blank, box, found, frame, image, worst_match

GRID = [box(40, 40, 300, 420), box(320, 40, 580, 420), box(40, 440, 580, 840)]


def grid_page(tone: int = 255, ink: int = 0) -> np.ndarray:
    page = blank(tone=tone)
    for ring in GRID:
        frame(page, ring, ink=ink)
    return page


@pytest.mark.parametrize(("tone", "ink"), [(255, 0), (0, 255), (150, 0)])
def test_a_bordered_grid_on_any_ground(tone: int, ink: int) -> None:
    assert worst_match(GRID, found(grid_page(tone, ink))) > 0.97


@pytest.mark.parametrize("thick", [4, 6, 8])
def test_corners_lie_in_the_middle_of_a_border_however_heavy(thick: int) -> None:
    page = blank(1240, 1760)
    rings = [[(2 * x, 2 * y) for x, y in ring] for ring in GRID]
    for ring in rings:
        frame(page, ring, thick=thick)
    for true in rings:
        off = [np.abs(o.array() - np.array(true)).max() for o in found(page) if len(o.points) == 4]
        assert min(off) < 0.6


def test_slanted_sides_keep_their_slant() -> None:
    page = blank()
    true = [
        [(40, 40), (340, 40), (260, 420), (40, 420)],
        [(362, 40), (580, 40), (580, 420), (282, 420)],
        box(40, 440, 580, 840),
    ]
    for ring in true:
        frame(page, ring)
    assert worst_match(true, found(page)) > 0.97


def test_a_figure_across_a_gutter_does_not_join_two_panels() -> None:
    page = grid_page()
    cv2.ellipse(page, (310, 250), (46, 46), 0, 0, 360, 0, -1)
    assert worst_match(GRID, found(page)) > 0.95


def test_a_white_balloon_that_opens_into_the_gutter_leaves_the_frame_whole() -> None:
    page = blank()
    for ring in GRID:
        cv2.fillPoly(page, [np.array(ring, np.int32)], 120)
    cv2.ellipse(page, (170, 40), (70, 50), 0, 0, 360, 255, -1)
    assert worst_match(GRID, found(page)) > 0.95


def test_a_window_inside_a_panel_is_no_panel() -> None:
    page = grid_page()
    cv2.rectangle(page, (120, 520), (200, 660), 0, 2)
    cv2.line(page, (160, 520), (160, 660), 0, 2)
    assert worst_match(GRID, found(page)) > 0.97


def test_a_panel_that_runs_off_the_page_is_a_bleed() -> None:
    page = blank()
    frame(page, box(-20, -20, 640, 400))
    frame(page, box(40, 430, 580, 840))
    for x in range(15, 620, 37):
        cv2.circle(page, (x, 60 + x % 290), 9 + x % 23, 40 + x % 120, -1)
    finding = find_panels(image(page))
    top = min(finding.panels, key=lambda p: p.outline.bounds[1])
    assert top.bleed == {PageEdge.LEFT, PageEdge.TOP, PageEdge.RIGHT}
    assert top.outline.bounds[:3] == pytest.approx((0, 0, 620), abs=1.0)


def test_an_empty_page_has_no_panels_and_says_so() -> None:
    finding = find_panels(image(blank()))
    assert not finding.panels
    assert [d.kind for d in finding.doubts] == ["no-panels"]
    assert finding.confidence < 0.5


def test_moving_the_page_moves_the_panels_by_as_much() -> None:
    page = grid_page()
    moved = np.full_like(page, 255)
    moved[1:, 1:] = page[:-1, :-1]
    for before, after in zip(found(page), found(moved), strict=True):
        assert np.abs(after.array() - before.array() - 1.0).max() < 0.25


def test_mirroring_the_page_mirrors_the_panels() -> None:
    page = grid_page()
    mirrored = found(np.ascontiguousarray(page[:, ::-1]))
    for before in found(page):
        assert max(before.mirrored(620).iou(m) for m in mirrored) > 0.995


def test_the_same_page_gives_the_same_finding() -> None:
    first, second = find_panels(image(grid_page())), find_panels(image(grid_page()))
    assert first == second


def test_outlines_are_in_pixels_of_the_source_image() -> None:
    page = grid_page()
    reduced = type(image(page))(page, 1240, 1760, reduction=2.0, offset_px=(100.0, 50.0))
    panels = find_panels(reduced).panels
    left = min(p.outline.bounds[0] for p in panels)
    top = min(p.outline.bounds[1] for p in panels)
    assert (left, top) == pytest.approx((100 + 2 * 40, 50 + 2 * 40), abs=2.0)


def test_every_step_leaves_its_evidence() -> None:
    trace = Trace()
    finding = find_panels(image(grid_page()), trace=trace)
    assert list(trace) == list(STEPS)
    assert trace.evidence("final")["finding"] == finding
    assert len(trace.evidence("sides")["panels"]) == 3
