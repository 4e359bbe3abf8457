from __future__ import annotations

import numpy as np
import pytest

from panelscan.model.page import PageImage
from panelscan.vision.shrinking import shrunk
from panelscan.vision.working import working_image


@pytest.mark.parametrize("size", [(2480, 3508), (2481, 3507), (5000, 7001), (900, 1100)])
def test_thin_line_keeps_its_weight_and_its_place(size: tuple[int, int]) -> None:
    columns, rows = size
    page = np.full((rows, columns), 255, np.uint8)
    at = round(0.71 * columns)
    page[:, at : at + 3] = 0
    wanted = round(columns * 1000 / rows), 1000
    small, (cover_x, cover_y) = shrunk(page, wanted)
    assert small.shape == wanted[::-1]
    missing = 255.0 - small[500]
    # Area averaging spreads black columns over the pixels that cover them and loses nothing;
    # the interpolated last bit of the way weighs a column by 0.92 to 1.12.
    assert missing.sum() * cover_x == pytest.approx(3 * 255, rel=0.12)
    center = (missing * (np.arange(wanted[0]) + 0.5)).sum() / missing.sum()
    # A line thinner than a pixel of the copy is only placed to within half of one.
    assert center * cover_x == pytest.approx(at + 1.5, abs=0.5 * cover_x)
    assert columns - 4 <= round(cover_x * wanted[0]) <= columns
    assert round(cover_y * 1000) <= rows


def test_full_size_is_handed_on_untouched() -> None:
    page = np.arange(12, dtype=np.uint8).reshape(3, 4)
    small, cover = shrunk(page, (4, 3))
    assert np.array_equal(small, page) and cover == (1.0, 1.0)


def test_working_points_and_source_points_agree_on_odd_sizes() -> None:
    page = np.full((3507, 2481, 3), 255, np.uint8)
    work = working_image(PageImage(page, 2481, 3507))
    corner = np.array([[float(work.size[0]), float(work.size[1])]])
    assert work.source_points(corner)[0] == pytest.approx((2480, 3506), abs=1.01)
    there = work.working_points(np.array([[1234.5, 987.25]]))
    assert work.source_points(there)[0] == pytest.approx((1234.5, 987.25))
