"""Scans and photos: the truth moves with the pixels."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.demo.truth import PageTruth, PanelTruth
from panelscan.demo.wear import Wear, wear_page
from panelscan.model.outline import Outline


def marked_page() -> tuple[np.ndarray, PageTruth]:
    """A white page with one black block that is its only panel."""
    pixels = np.full((600, 400, 3), 255, np.uint8)
    pixels[120:480, 80:330] = 0
    block = PanelTruth(Outline.box(80, 120, 330, 480))
    return pixels, PageTruth(400, 600, (Outline.box(0, 0, 400, 600),), (block,), dpi=100.0)


def dark_share(pixels: np.ndarray, outline: Outline) -> tuple[float, float]:
    """Mean gray inside and just around an outline."""
    gray = pixels if pixels.ndim == 2 else pixels.mean(axis=2)
    points = [np.round((outline.array() - 0.5) * 16).astype(np.int32)]
    inside = cv2.fillPoly(np.zeros(gray.shape, np.uint8), points, 1, shift=4)
    near = cv2.dilate(inside, np.ones((25, 25))) - cv2.dilate(inside, np.ones((7, 7)))
    return float(gray[cv2.erode(inside, np.ones((7, 7))) > 0].mean()), float(gray[near > 0].mean())


@pytest.mark.parametrize(
    "wear",
    [
        Wear(),
        Wear(skew_deg=4),
        Wear(skew_deg=-3, bed_rgb=(20, 20, 20), bed_share=0.1),
        Wear(perspective=0.04, bed_rgb=(120, 90, 60)),
        Wear(height_px=300),
        Wear(skew_deg=2, bed_rgb=(230, 230, 230), height_px=350, blur_px=0.7, noise=4, jpeg=40),
    ],
)
def test_the_outline_stays_on_the_block(wear: Wear) -> None:
    page, truth = marked_page()
    pixels, moved = wear_page(page, truth, wear, np.random.default_rng(1))
    assert pixels.shape[:2] == (moved.height_px, moved.width_px)
    inside, around = dark_share(pixels, moved.panels[0].outline)
    assert inside < 25
    assert around > 200


def test_a_turn_counterclockwise_to_the_eye_is_positive() -> None:
    page, truth = marked_page()
    _, moved = wear_page(page, truth, Wear(skew_deg=3), np.random.default_rng(1))
    (x0, y0), (x1, y1) = moved.panels[0].outline.points[:2]
    # Source: geometry; the top side rises to the right while y points down.
    assert np.degrees(np.arctan2(y0 - y1, x1 - x0)) == pytest.approx(3, abs=0.01)
    assert moved.skew_deg == 3


def test_edges_are_true_to_a_tenth_of_a_pixel() -> None:
    page, truth = marked_page()
    pixels, moved = wear_page(page, truth, Wear(height_px=450), np.random.default_rng(1))
    row = pixels[225, :, 0].astype(float) / 255
    left, _, right, _ = moved.panels[0].outline.bounds
    # Source: area counted in gray levels equals the width of the block.
    assert (1 - row).sum() == pytest.approx(right - left, abs=0.1)
    assert row[: int(left) + 1].sum() == pytest.approx(left, abs=0.1)


def test_a_shrunken_page_has_fewer_pixels_per_inch() -> None:
    page, truth = marked_page()
    _, moved = wear_page(page, truth, Wear(height_px=300), np.random.default_rng(1))
    assert moved.dpi == pytest.approx(50)


def test_one_bit_has_two_values_and_gray_has_one_channel() -> None:
    page, truth = marked_page()
    rng = np.random.default_rng(1)
    bits, _ = wear_page(page, truth, Wear(one_bit=True, blur_px=0.6), rng)
    assert set(np.unique(bits)) == {0, 255}
    assert wear_page(page, truth, Wear(gray=True), rng)[0].ndim == 2
