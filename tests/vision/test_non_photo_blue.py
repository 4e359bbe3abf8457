from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.model.formats import US_PRINT
from panelscan.model.page import PageImage
from panelscan.model.units import Resolution
from panelscan.templates.build import build_page
from panelscan.templates.layers import LayerKey
from panelscan.templates.options import TemplateOptions
from panelscan.templates.place import place
from panelscan.templates.raster import merged_bands, stack_bands
from panelscan.vision.non_photo_blue import without_guides
from tests.templates.samples import NAMED, POCKET


def template(layers=frozenset(), ppi=300):
    page = build_page(place(NAMED["mixed"], POCKET), TemplateOptions(numbers=False, layers=layers))
    return stack_bands(merged_bands(page, POCKET.pixel_size(ppi), ppi))


def as_page(pixels, ppi=300):
    return PageImage(pixels, pixels.shape[1], pixels.shape[0], resolution=Resolution(ppi, ppi))


@pytest.mark.parametrize("worn", ["clean", "turned and noisy", "JPEG"])
def test_guides_drop_out_and_borders_stay(worn):
    full, bare = template(), template(frozenset({LayerKey.PAPER, LayerKey.BORDERS}))
    if worn == "turned and noisy":
        h, w = full.shape[:2]
        turn = cv2.getRotationMatrix2D((w / 2, h / 2), 0.7, 1.0)
        full, bare = (
            cv2.warpAffine(p, turn, (w, h), flags=cv2.INTER_AREA, borderValue=(255, 255, 255))
            for p in (full, bare)
        )
        noise = np.random.default_rng(0).normal(0, 2, full.shape)
        full = np.clip(full + noise, 0, 255).astype(np.uint8)
    if worn == "JPEG":
        full = cv2.imdecode(cv2.imencode(".jpg", full, [cv2.IMWRITE_JPEG_QUALITY, 90])[1], 1)
    cleaned = without_guides(as_page(full))
    assert "guide" in cleaned.notes[-1]
    off = np.abs(cleaned.pixels.astype(int) - bare).max(axis=2)
    before = np.abs(full.astype(int) - bare).max(axis=2)
    assert (off > 40).sum() < 0.02 * (before > 40).sum()
    dark = bare.max(axis=2) < 60
    assert off[dark].max() < 60, "not a pixel of ink is lost"


def test_pale_gray_guides_drop_out_where_there_is_ink():
    full, bare = template(), template(frozenset({LayerKey.PAPER, LayerKey.BORDERS}))
    gray, plain = (cv2.cvtColor(p, cv2.COLOR_RGB2GRAY) for p in (full, bare))
    cleaned = without_guides(as_page(gray))
    off = np.abs(cleaned.pixels.astype(int) - plain)
    before = np.abs(gray.astype(int) - plain)
    assert (off > 25).sum() < 0.02 * (before > 25).sum()
    assert off[plain < 250].max() < 60
    faint = np.where(plain < 128, 190, plain).astype(np.uint8)
    page = as_page(faint)
    assert without_guides(page) is page, "a faint pencil rough keeps its borders"


def test_fills_gray_pages_and_pages_without_guides_are_left_alone():
    sky = template(frozenset({LayerKey.PAPER, LayerKey.BORDERS}))
    sky[200:600, 200:700] = (164, 221, 237)
    for pixels in (sky, sky[..., 0].copy(), np.full((300, 200, 3), 255, np.uint8)):
        page = as_page(pixels)
        assert without_guides(page) is page
    noise = np.random.default_rng(1).integers(0, 256, (400, 300, 3), dtype=np.uint8)
    assert without_guides(as_page(noise)).notes == ()


def test_a_fine_picture_of_unknown_resolution_is_taken_for_no_larger_than_a_board():
    grid = place(NAMED["mixed"], US_PRINT)
    size = US_PRINT.pixel_size(300)
    full, bare = (
        stack_bands(
            merged_bands(
                build_page(grid, TemplateOptions(numbers=False, layers=layers)), size, 300
            )
        )
        for layers in (frozenset(), frozenset({LayerKey.PAPER, LayerKey.BORDERS}))
    )
    # As a picture drawn at 1200 dpi without saying so arrives: at a quarter of its size.
    image = PageImage(full, 4 * full.shape[1], 4 * full.shape[0], reduction=4.0)
    cleaned = without_guides(image)
    assert cleaned.notes
    assert np.abs(cleaned.pixels.astype(int) - bare).max(axis=2).mean() < 1.0
