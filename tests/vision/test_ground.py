from __future__ import annotations

import numpy as np
import pytest

from panelscan.model.panel import GroundKind
from panelscan.vision.flood import flood_from_edge
from panelscan.vision.ground import find_ground, inner_ground
from panelscan.vision.working import working_image
from tests.vision.pages import blank, box, frame, image


def page_on(tone: int) -> np.ndarray:
    page = blank(tone=tone)
    frame(page, box(40, 40, 300, 840), ink=0 if tone > 60 else 255)
    frame(page, box(320, 40, 580, 840), ink=0 if tone > 60 else 255)
    return page


@pytest.mark.parametrize(
    ("tone", "kind"),
    [(255, GroundKind.WHITE), (0, GroundKind.BLACK), (150, GroundKind.COLOUR)],
)
def test_ground_is_the_colour_between_the_panels(tone: int, kind: GroundKind) -> None:
    ground = find_ground(working_image(image(page_on(tone))))[0]
    assert ground.ground.kind is kind
    assert ground.ground.rgb == pytest.approx((tone,) * 3, abs=3)
    assert ground.open[440, 310] == 1
    assert ground.open[440, 150] == 0


def test_uneven_light_does_not_hide_the_ground() -> None:
    page = page_on(255).astype(np.float64)
    fall = np.linspace(1.0, 0.75, page.shape[1])
    ground = find_ground(working_image(image((page * fall).astype(np.uint8))))[0]
    assert ground.open[440, 310] == 1
    assert ground.open[5].mean() > 0.95


def test_black_gutters_inside_white_margins_are_ground_too() -> None:
    page = blank()
    page[30:850, 30:590] = 0
    page[50:420, 50:570] = 240
    page[460:830, 50:570] = 240
    work = working_image(image(page))
    outer = find_ground(work)[0]
    inner = inner_ground(work, outer)
    assert outer.ground.kind is GroundKind.WHITE
    assert inner is not None
    assert inner.ground.kind is GroundKind.BLACK
    assert inner.open[440, 300] == 1


def test_flood_reaches_only_what_is_joined_to_the_edge() -> None:
    mask = np.ones((9, 9), dtype=np.uint8)
    mask[2:7, 2:7] = 0
    mask[4, 4] = 1
    flooded = flood_from_edge(mask)
    assert flooded[0, 0] == 1
    assert flooded[4, 4] == 0
