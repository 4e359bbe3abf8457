from __future__ import annotations

import cv2
import numpy as np

from panelscan.checks.check import check_page
from panelscan.checks.compare import Stage, compare_stages
from panelscan.checks.pictures import comparison_pixels, overlay_pixels, png_of_pixels
from panelscan.model.outline import Outline
from tests.checks.test_check import faulty
from tests.checks.test_compare import SIZE, outlines


def near(pixels, colour, by=30):
    return np.abs(pixels.astype(int) - colour).max(axis=2) < by


def test_findings_are_drawn_where_they_are():
    page = faulty()
    report = check_page(page)
    bare = overlay_pixels(page, report)
    assert max(bare.shape[:2]) == 1600
    assert near(bare, (179, 38, 30)).any(), "what may go wrong in print is red"
    x0, y0 = -8.0, -8.0
    scale = bare.shape[1] / (page.page_format.trim_mm[0] + 16)
    first = report.findings[0]
    column, row = (round((v - o) * scale) for v, o in zip(first.place, (x0, y0), strict=True))
    patch = bare[row - 12 : row + 12, column - 12 : column + 12]
    assert near(patch, (179, 38, 30)).mean() > 0.3


def test_the_artist_s_own_picture_lies_underneath():
    page = faulty()
    report = check_page(page)
    picture = np.zeros((260, 168), np.uint8)
    pixels = overlay_pixels(page, report, picture)
    middle = pixels[pixels.shape[0] // 4, pixels.shape[1] // 4]
    assert abs(int(middle[0]) - 127) < 4, "paled by half"


def test_comparison_shows_both_stages_and_the_move():
    after = outlines("six")
    after[2] = after[2].moved(12, 0)
    frame = Outline.box(0, 0, *SIZE)
    result = compare_stages(
        Stage("rough", tuple(outlines("six")), 1.0), Stage("inks", tuple(after), 1.0, frame)
    )
    pixels = comparison_pixels(result)
    for colour in ((58, 124, 165), (29, 29, 31), (193, 68, 14)):
        assert near(pixels, colour).sum() > 50
    read = cv2.imdecode(np.frombuffer(png_of_pixels(pixels), np.uint8), cv2.IMREAD_COLOR)
    assert np.array_equal(read[..., ::-1], pixels)
    empty = compare_stages(Stage("a", ()), Stage("b", ()))
    assert comparison_pixels(empty).shape[2] == 3
