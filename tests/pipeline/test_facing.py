from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.intake.options import LoadedPage, SpreadMode
from panelscan.intake.spreads import halves_along
from panelscan.model.page import PageImage, PagePart, PageRef
from panelscan.pipeline.facing import part_turned
from tests.intake.drawn_spreads import double_picture, facing_pages


def loaded(pixels: np.ndarray) -> LoadedPage:
    height, width = pixels.shape[:2]
    image = PageImage(np.ascontiguousarray(pixels), width, height)
    return LoadedPage(PageRef("book/p1.png", content_sha256="ab" * 32), image)


def photographed(pixels: np.ndarray, tone: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """A sheet seen at an angle on an even table, and the way from sheet to photo."""
    height, width = pixels.shape
    sheet = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    seen = np.array(
        [[90, 70], [width + 40, 30], [width + 90, height + 60], [40, height + 10]], np.float32
    )
    there = cv2.getPerspectiveTransform(sheet, seen)
    size = (width + 140, height + 110)
    table = np.random.default_rng(1).normal(tone, 3, size[::-1]).clip(0, 255).astype(np.uint8)
    cover = cv2.warpPerspective(np.ones_like(pixels), there, size)
    shown = cv2.warpPerspective(pixels, there, size, flags=cv2.INTER_AREA)
    return np.where(cover > 0, shown, table), there


def fold_in(there: np.ndarray, x: float, y: float) -> np.ndarray:
    point = there @ np.array([x, y, 1.0])
    return point[:2] / point[2]


@pytest.mark.parametrize("seed", [1, 2, 5])
def test_photographed_facing_pages_are_parted_along_their_slanting_fold(seed):
    pages = facing_pages(np.random.default_rng(seed), "none").pixels.clip(0, 255).astype(np.uint8)
    height, width = pages.shape
    photo, there = photographed(pages)
    left, right = part_turned(loaded(photo), SpreadMode.AUTO)
    assert (left.ref.part, right.ref.part) == (PagePart.LEFT, PagePart.RIGHT)
    ends = [fold_in(there, width / 2, y)[0] for y in (0.0, float(height))]
    near = 0.012 * width
    assert left.image.pixels.shape[1] == pytest.approx(max(ends), abs=near)
    assert right.image.offset_px[0] == pytest.approx(min(ends), abs=near)
    # Nothing of the other page is left in either half: a point well beyond the fold is table.
    for half, x in ((left, width / 2 + 3 * near), (right, width / 2 - 3 * near)):
        for y in (0.03 * height, 0.97 * height):
            column, row = np.round(fold_in(there, x, y)).astype(int)
            column -= int(half.image.offset_px[0])
            if 0 <= column < half.image.pixels.shape[1]:
                assert half.image.pixels[row, column] < 60


def test_photographed_double_picture_stays_whole():
    picture = double_picture(np.random.default_rng(4), "splash").pixels.clip(0, 255)
    photo, _ = photographed(picture.astype(np.uint8), tone=10)
    assert len(part_turned(loaded(photo), SpreadMode.AUTO)) == 1


def test_other_modes_and_upright_images_are_left_alone():
    pages = facing_pages(np.random.default_rng(1), "none").pixels.clip(0, 255).astype(np.uint8)
    photo, _ = photographed(pages)
    for mode in (SpreadMode.KEEP, SpreadMode.SPLIT):
        assert len(part_turned(loaded(photo), mode)) == 1
    assert len(part_turned(loaded(photo.T), SpreadMode.AUTO)) == 1


def test_halves_along_a_slanting_line_hold_all_of_their_page():
    pixels = np.full((100, 120), 200, np.uint8)
    pixels[[0, -1]] = 10
    pixels[:, [0, -1]] = 10
    left, right = halves_along(loaded(pixels), 70.0, 50.0)
    assert left.image.pixels.shape == (100, 70)
    assert right.image.offset_px == (50.0, 0.0)
    assert left.image.pixels[5, 65] == 200
    assert left.image.pixels[95, 65] == 10
    assert right.image.pixels[5, 5] == 10
    assert right.image.pixels[95, 5] == 200
