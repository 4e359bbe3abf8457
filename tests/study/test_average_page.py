"""Where panels lie and gutters fall, on pages whose share is known."""

from __future__ import annotations

import numpy as np
import pytest

from panelscan.study.average_page import COLUMNS, ROWS, average_page
from panelscan.study.shelf import Shelf
from tests.study.support import made_up


def test_panels_and_gutters_cover_what_they_cover():
    # Pages of one to several equal tiers between x = 0.05 and 0.95 (see support.py).
    pages, panels, gutters = made_up(pages=40, books=1)
    covered, between = average_page(Shelf.of(pages, panels, gutters))
    assert covered.shape == between.shape == (ROWS, COLUMNS)
    # Source: arithmetic; the mean over the cells is the mean of the panels' areas a page.
    by_page = panels.groupby("page_id")["area_share"].sum()
    assert covered.mean() == pytest.approx(by_page.mean(), abs=0.01)
    gaps = (pages["panel_count"] - 1) * 0.02 * 0.9 / pages["panel_count"]
    assert between.mean() == pytest.approx(gaps.mean(), abs=0.004)
    margin = np.s_[:, : int(0.05 * COLUMNS)]
    assert covered[margin].max() == 0.0
    assert between[margin].max() == 0.0
    assert (covered + between).max() <= 1.0 + 1e-9


def test_two_tiers_leave_one_level_gutter_and_two_columns_an_upright_one():
    pages, panels, gutters = made_up(pages=1, books=1, mean_panels=1.0)
    pages["panel_count"] = 2
    both = panels.loc[[0, 0]].reset_index(drop=True).assign(reading_order=[1, 2])
    shares = ["x_min_share", "y_min_share", "x_max_share", "y_max_share"]
    both[shares] = [[0.0, 0.0, 0.5, 1.0], [0.75, 0.0, 1.0, 0.5]]
    gutter = {"page_id": pages["page_id"][0], "kind": "column", "panel_a": 1, "panel_b": 2}
    row = gutters.reindex([0]).assign(**gutter)
    _, between = average_page(Shelf.of(pages, both, row))
    expected = np.zeros((ROWS, COLUMNS))
    expected[: ROWS // 2, COLUMNS // 2 : COLUMNS * 3 // 4] = 1.0
    assert between == pytest.approx(expected)
