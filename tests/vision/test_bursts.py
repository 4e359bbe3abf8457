from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from panelscan.intake.options import LoadedPage
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage, PageRef
from panelscan.model.panel import Ground, GroundKind, PageFinding, Panel, Side, SideState
from panelscan.pipeline.stages import find
from panelscan.vision.burst_outlines import without_lettering
from panelscan.vision.bursts import with_bursts
from panelscan.vision.detector import find_panels
from panelscan.vision.ground import find_ground
from panelscan.vision.working import working_image
from tests.vision.pages import blank, box, frame, image

GRID = [box(40, 60, 300, 420), box(320, 60, 580, 420), box(40, 440, 580, 830)]


def grid_page(tone: int = 255) -> np.ndarray:
    page = blank(tone=tone)
    for ring in GRID:
        frame(page, ring)
    return page


def add_figure(
    page: np.ndarray, middle: tuple[int, int], radius: int, fill: int, ink: int = 0
) -> shapely.Geometry:
    """Draw a head over the border; returns its true shape (outline's outer edge)."""
    cv2.circle(page, middle, radius, fill, -1, cv2.LINE_AA)
    cv2.circle(page, middle, radius, ink, 3, cv2.LINE_AA)
    return shapely.Point(middle[0] + 0.5, middle[1] + 0.5).buffer(radius + 1.5)


def bursts(page: np.ndarray) -> list[tuple[Panel, Outline]]:
    return [(p, b) for p in find_panels(image(page)).panels for b in p.burst]


def iou(a: shapely.Geometry, b: shapely.Geometry) -> float:
    return float(a.intersection(b).area / a.union(b).area)


def beyond(shape: shapely.Geometry, *rings: list[tuple[float, float]]) -> shapely.Geometry:
    return shape.difference(shapely.union_all([shapely.Polygon(r) for r in rings]))


def looked_at(page: np.ndarray, panels: list[Panel]) -> list[Panel]:
    work = working_image(image(page))
    return with_bursts(panels, work, find_ground(work)[0])


def lined(*rings: list[tuple[float, float]]) -> list[Panel]:
    return [Panel(Outline.of(r), (Side(border_px=4.0),) * len(r)) for r in rings]


@pytest.mark.parametrize("fill", [110, 255])
@pytest.mark.parametrize(
    ("middle", "host"), [((170, 62), 0), ((40, 600), 2), ((300, 832), 2), ((580, 250), 1)]
)
def test_a_head_over_the_border_is_a_burst_of_its_panel(
    fill: int, middle: tuple[int, int], host: int
) -> None:
    # A head filled with the paper's white is told by its outline.
    page = grid_page()
    head = add_figure(page, middle, 34, fill)
    panels = looked_at(page, lined(*GRID))
    assert [len(p.burst) for p in panels] == [int(k == host) for k in range(3)]
    burst = panels[host].burst[0]
    assert iou(burst.shape, beyond(head, GRID[host])) > 0.9
    assert burst.shape.intersection(panels[host].outline.shape).area < 1.0
    assert len(burst.points) < 30


def test_the_frame_runs_straight_through_below_a_burst() -> None:
    page = grid_page()
    head = add_figure(page, (300, 832), 34, 110)
    found = bursts(page)
    assert len(found) == 1
    assert Outline.of(GRID[2]).iou(found[0][0].outline) > 0.99
    assert iou(found[0][1].shape, beyond(head, GRID[2])) > 0.85


def test_on_black_ground_a_white_head_is_a_burst() -> None:
    page = grid_page(tone=0)
    head = add_figure(page, (170, 62), 34, 235, 90)
    panels = looked_at(page, lined(*GRID))
    assert iou(panels[0].burst[0].shape, beyond(head, GRID[0])) > 0.85


def arm_across(page: np.ndarray, top: int, front: list[tuple[float, float]]) -> None:
    """Draw an arm across the gutter of the upper panels, then the panel that lies in front."""
    cv2.rectangle(page, (240, top), (380, top + 40), 90, -1)
    over = blank()
    frame(over, front)
    page[over < 255] = over[over < 255]


@pytest.mark.parametrize(("back", "front"), [(0, 1), (1, 0)])
def test_what_crosses_a_gutter_belongs_to_the_panel_that_it_comes_from(
    back: int, front: int
) -> None:
    page = grid_page()
    arm_across(page, 200, GRID[front])
    panels = looked_at(page, lined(*GRID))
    assert [len(p.burst) for p in panels] == [int(k == back) for k in range(3)]
    # Up to the outer edge of the front panel's border, which is 4 pixels wide.
    x0, x1 = (300, 318) if back == 0 else (302, 320)
    assert iou(panels[back].burst[0].shape, shapely.box(x0, 200, x1, 241)) > 0.9


def test_a_gutter_between_two_arms_is_no_burst() -> None:
    page = grid_page()
    for top in (150, 300):
        arm_across(page, top, GRID[1])
    first = looked_at(page, lined(*GRID))[0]
    assert sum(b.area for b in first.burst) == pytest.approx(2 * 18 * 41, rel=0.15)


def test_a_page_without_bursts_has_none() -> None:
    page = grid_page()
    cv2.putText(page, "12", (300, 862), cv2.FONT_HERSHEY_SIMPLEX, 0.6, 0, 2)
    cv2.putText(page, "A CAPTION APART", (60, 44), cv2.FONT_HERSHEY_SIMPLEX, 0.6, 0, 2)
    for x, y in np.random.default_rng(3).integers(0, 600, (60, 2)).tolist():
        cv2.circle(page, (x, y), 1, 60, -1)
    assert bursts(page) == []


def test_a_box_that_touches_the_border_from_outside_leaves_the_border_to_be_seen() -> None:
    page = blank()
    cv2.rectangle(page, (120, 22), (260, 70), 225, -1)
    cv2.rectangle(page, (120, 22), (260, 70), 0, 2)
    for ring in GRID:
        frame(page, ring)
    assert bursts(page) == []


def test_a_shadow_along_the_pages_edge_is_no_burst() -> None:
    page = blank()
    for ring in (box(-10, 60, 300, 420), *GRID[1:]):
        frame(page, ring)
    page[:, :5] = 60
    assert bursts(page) == []


def test_a_panel_without_a_border_whose_tone_is_ragged_has_no_burst() -> None:
    page = blank()
    rng = np.random.default_rng(5)
    for x0, y0, x1, y1 in ((40, 60, 580, 420), (40, 440, 580, 830)):
        page[y0:y1, x0:x1] = 150
        for x in range(x0, x1, 9):
            reach = int(rng.integers(0, 6))
            page[y0 - reach : y0, x : x + 9] = 150
            page[y1 : y1 + reach, x : x + 9] = 150
    assert bursts(page) == []


@pytest.mark.parametrize(
    ("state", "count"), [(SideState.DRAWN, 1), (SideState.INFERRED, 0), (SideState.BLEED, 0)]
)
def test_nothing_beyond_a_side_that_is_not_drawn_is_known_to_be_a_burst(
    state: SideState, count: int
) -> None:
    page = grid_page()
    add_figure(page, (170, 62), 34, 110)
    sides = (Side(state), *[Side(border_px=4.0)] * 3)
    panels = looked_at(page, [Panel(Outline.of(GRID[0]), sides)])
    assert len(panels[0].burst) == count


def test_a_strip_along_a_whole_side_means_that_the_side_is_misplaced() -> None:
    page = grid_page()
    low = box(40, 74, 300, 420)
    assert looked_at(page, lined(low)) == lined(low)


def test_hair_as_wide_as_the_panel_is_a_burst() -> None:
    page = grid_page()
    peaks = [(300 - 20 * k, 25 if k % 2 else 45) for k in range(14)]
    cv2.fillPoly(page, [np.array([(40, 100), (300, 100), *peaks], np.int32)], 60, cv2.LINE_AA)
    panels = looked_at(page, lined(*GRID))
    assert [len(p.burst) for p in panels] == [1, 0, 0]
    true = beyond(shapely.Polygon([(40, 100), (300, 100), *peaks]), GRID[0])
    assert iou(panels[0].burst[0].shape, true) > 0.85


def test_no_panels_no_bursts() -> None:
    assert looked_at(blank(), []) == []
    assert looked_at(grid_page(), lined(*GRID)) == lined(*GRID)


def test_a_corner_given_twice_does_no_harm() -> None:
    page = grid_page()
    add_figure(page, (170, 62), 34, 110)
    ring = [*GRID[0], GRID[0][-1]]
    panel = Panel(Outline(tuple(ring)), (Side(border_px=4.0),) * 5)
    assert len(looked_at(page, [panel])[0].burst) == 1


def test_bursts_are_in_pixels_of_the_source() -> None:
    page = grid_page()
    head = add_figure(page, (170, 62), 34, 110)
    reduced = PageImage(page, 1240, 1760, reduction=2.0, offset_px=(100.0, 50.0))
    outlines = [b for p in find_panels(reduced).panels for b in p.burst]
    assert len(outlines) == 1
    true = shapely.affinity.affine_transform(beyond(head, GRID[0]), [2, 0, 0, 2, 100, 50])
    assert iou(outlines[0].shape, true) > 0.85


def test_turning_the_page_turns_its_bursts() -> None:
    page = grid_page()
    add_figure(page, (170, 62), 34, 110)
    before = bursts(page)[0][1]
    after = bursts(np.ascontiguousarray(np.rot90(page)))
    assert len(after) == 1
    turned = Outline.of([(y, 620 - x) for x, y in before.points])
    assert iou(turned.shape, after[0][1].shape) > 0.9


@pytest.mark.parametrize("scale", [0.5, 3.0])
def test_a_small_page_and_a_large_one_show_the_same_bursts(scale: float) -> None:
    page = grid_page()
    head = add_figure(page, (170, 62), 40, 110)
    size = (round(620 * scale), round(880 * scale))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    found = bursts(np.asarray(cv2.resize(page, size, interpolation=way)))
    assert len(found) == 1
    true = shapely.affinity.scale(beyond(head, GRID[0]), scale, scale, origin=(0, 0))
    assert iou(found[0][1].shape, true) > 0.8


def test_the_same_page_gives_the_same_bursts_and_panels_are_else_untouched() -> None:
    page = grid_page()
    add_figure(page, (170, 62), 34, 110)
    panels = lined(*GRID)
    first, second = looked_at(page, panels), looked_at(page, panels)
    assert first == second
    assert [len(p.burst) for p in first] == [1, 0, 0]
    assert [replace(p, burst=()) for p in first] == panels


def with_balloons(bursts: list[Outline], balloons: list[Outline]) -> PageFinding:
    white = Ground(GroundKind.WHITE, (255, 255, 255))
    panels = tuple(Panel(Outline.of(GRID[0]), burst=(b,)) for b in bursts)
    page = Outline.box(0, 0, 620, 880)
    return PageFinding(page, 0.0, white, panels, 1.0, balloons=tuple(balloons))


@pytest.mark.parametrize(("covered", "stays"), [(0.0, True), (0.55, True), (0.65, False)])
def test_a_burst_mostly_in_balloons_is_lettering(covered: float, stays: bool) -> None:
    bursts = [Outline.box(100, 40, 200, 60), Outline.box(220, 40, 240, 60)]
    balloons = [Outline.box(100, 30, 100 + 100 * covered, 90)] if covered else []
    before = with_balloons(bursts, balloons)
    after = without_lettering(before)
    assert [len(p.burst) for p in after.panels] == [int(stays), 1]
    assert before == with_balloons(bursts, balloons)
    assert after == without_lettering(before) == without_lettering(after)
    assert [replace(p, burst=()) for p in after.panels] == [
        replace(p, burst=()) for p in before.panels
    ]


def test_balloons_that_overlap_do_not_count_twice() -> None:
    bursts = [Outline.box(100, 40, 200, 60)]
    doubled = [Outline.box(100, 30, 140, 90), Outline.box(105, 30, 140, 90)]
    assert without_lettering(with_balloons(bursts, doubled)).panels[0].burst == tuple(bursts)
    side_by_side = [Outline.box(100, 30, 140, 90), Outline.box(135, 30, 180, 90)]
    assert without_lettering(with_balloons(bursts, side_by_side)).panels[0].burst == ()


def test_a_balloon_over_the_border_is_no_burst_once_it_is_read() -> None:
    page = cv2.resize(grid_page(), None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    add_figure(page, (900, 124), 60, 110)
    cv2.ellipse(page, (340, 120), (170, 70), 0, 0, 360, 255, -1, cv2.LINE_AA)
    cv2.ellipse(page, (340, 120), (170, 70), 0, 0, 360, 0, 4, cv2.LINE_AA)
    for text, at in (("WHO LEFT THE", (240, 115)), ("LAMP ALIGHT?", (242, 145))):
        cv2.putText(page, text, at, cv2.FONT_HERSHEY_SIMPLEX, 0.8, 0, 2, cv2.LINE_AA)
    assert len(bursts(page)) == 2
    finding = find(LoadedPage(PageRef("p1.png", content_sha256="0" * 64), image(page)))
    (left,) = [b for p in finding.panels for b in p.burst]
    assert left.centroid[0] == pytest.approx(900, abs=10)
    assert len(finding.balloons) == 1
