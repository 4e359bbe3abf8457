"""Borders of pages of few pixels: strokes are narrow there, and art is no wide border."""

from __future__ import annotations

import numpy as np
import pytest

from panelscan.demo.maker import draw_page
from panelscan.layout.agreement import iou_table
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.vision.detector import find_panels
from panelscan.vision.stroke_outline import page_scale, refine_outlines


def shelf_below_the_border() -> np.ndarray:
    """A page of 600 px: a panel's border of 1.5 px, and a dark shelf one pixel below its top."""
    page = np.full((600, 400), 235.0)
    page[100:300, 80:320] = 148
    page[101:299, 81:319] = 60
    page[102:298, 82:318] = 200
    page[103:109, 82:318] = 30
    return page.astype(np.uint8)


def test_a_shelf_near_the_border_is_no_part_of_it() -> None:
    page = shelf_below_the_border()
    rough = Outline.box(81.5, 102.5, 318, 298)
    [(found, sides)] = refine_outlines(page, [rough], 2.3, scale=page_scale(page.shape))
    assert found.bounds[1] == pytest.approx(101, abs=0.6)
    assert all(side.border_px is None or side.border_px < 4 for side in sides)


@pytest.mark.parametrize(("seed", "hand"), [(4842, "brush"), (4847, "brush"), (4816, "nib")])
def test_a_drawn_page_of_low_resolution(seed: int, hand: str) -> None:
    # All had a side that was drawn in to a line of the art. Drawn by the page maker, no outside
    # source.
    drawn = draw_page("low-resolution", seed, hand=hand, height_px=1900)
    image = PageImage(drawn.pixels, drawn.pixels.shape[1], drawn.pixels.shape[0])
    overlaps = iou_table(
        [p.outline for p in drawn.truth.panels], [p.outline for p in find_panels(image).panels]
    )
    assert overlaps.max(axis=1).min() >= 0.9
