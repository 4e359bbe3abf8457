from __future__ import annotations

import numpy as np

from panelscan.vision.cuts import CutNode, cut_tree
from panelscan.vision.segments import find_lines

PAGE = np.array([[0.0, 0], [600, 0], [600, 900], [0, 900]])


def mask_of(*panels: tuple[int, int, int, int]) -> np.ndarray:
    ground = np.ones((900, 600), dtype=np.uint8)
    for x0, y0, x1, y1 in panels:
        ground[y0:y1, x0:x1] = 0
    return ground


def leaves(ground: np.ndarray) -> list[CutNode]:
    return [n for n in cut_tree(ground, find_lines(ground), PAGE).walk() if not n.children]


def test_tiers_and_columns_are_cut_apart() -> None:
    found = leaves(mask_of((40, 40, 300, 400), (320, 40, 560, 400), (40, 420, 560, 860)))
    assert len(found) == 3


def test_a_figure_that_hides_a_third_of_a_gutter_does_not_stop_the_cut() -> None:
    ground = mask_of((40, 40, 300, 400), (320, 40, 560, 400), (40, 420, 560, 860))
    ground[150:270, 290:330] = 0
    assert len(leaves(ground)) == 3


def test_a_white_shape_inside_a_panel_is_no_gutter() -> None:
    ground = mask_of((40, 40, 560, 860))
    rows, columns = np.mgrid[0:900, 0:600]
    ground[(rows - 300) ** 2 + (columns - 300) ** 2 < 90**2] = 1
    assert len(leaves(ground)) == 1
