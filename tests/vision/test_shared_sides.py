from __future__ import annotations

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import Panel, Side, SideState
from panelscan.vision.detector import find_panels
from panelscan.vision.shared_sides import with_shared_sides


def panel(x0: float, y0: float, x1: float, y1: float) -> Panel:
    return Panel(Outline.box(x0, y0, x1, y1), (Side(),) * 4)


def states(panel: Panel) -> list[str]:
    return [side.state.value for side in panel.sides]


def test_one_line_for_two_panels_is_shared_and_a_gutter_is_not():
    left, right, low = panel(0, 0, 100, 100), panel(101, 0, 200, 100), panel(0, 110, 200, 200)
    one, two, three = with_shared_sides([left, right, low], near_px=3)
    # Sides run from the top-left corner: top, right, bottom, left.
    assert states(one) == ["drawn", "shared", "drawn", "drawn"]
    assert states(two) == ["drawn", "drawn", "drawn", "shared"]
    assert states(three) == ["drawn"] * 4


def test_an_inset_at_its_hosts_side_shares_nothing():
    host, inset = panel(0, 0, 200, 200), panel(100, 0, 200, 60)
    assert all(set(states(p)) == {"drawn"} for p in with_shared_sides([host, inset], 3))


def test_other_states_stay():
    left = Panel(Outline.box(0, 0, 100, 100), (Side(SideState.BLEED),) * 4)
    assert states(with_shared_sides([left, panel(100, 0, 200, 100)], 3)[0]) == ["bleed"] * 4


def test_the_detector_marks_a_shared_line():
    page = np.full((1500, 1000, 3), 255, np.uint8)
    cv2.rectangle(page, (60, 60), (940, 1440), (0, 0, 0), 6)
    cv2.line(page, (60, 700), (940, 700), (0, 0, 0), 6)
    for y in (380, 1070):
        cv2.circle(page, (500, y), 200, (80, 140, 90), -1)
    found = find_panels(PageImage(page, 1000, 1500))
    assert len(found.panels) == 2
    assert sum(states(p).count("shared") for p in found.panels) == 2
