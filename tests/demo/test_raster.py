"""Coverage of polygons against exact areas, and the measure of drawn lines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from skimage.draw import polygon2mask

from panelscan.demo.raster import cover, lay_color, line_band, ring_band


@pytest.mark.parametrize("turn_deg", [0, 1, 7, 20, 45])
def test_coverage_adds_up_to_the_exact_area(turn_deg: float) -> None:
    block = shapely.affinity.rotate(shapely.box(40.3, 50.2, 160.9, 140.4), turn_deg)
    patch = cover(block, (200, 200))
    # Source: Shapely's exact area; a tenth of a pixel along the whole edge is allowed.
    assert patch.alpha.sum() / 255 == pytest.approx(block.area, abs=0.1 * block.length)


def test_coverage_against_scikit_image() -> None:
    points = np.array([(20.0, 15.0), (170.0, 40.0), (150.0, 180.0), (90.0, 120.0), (30.0, 160.0)])
    patch = cover(points, (200, 200))
    ours = np.zeros((200, 200))
    ours[patch.rows, patch.columns] = patch.alpha / 255
    theirs = polygon2mask((200, 200), points[:, ::-1] - 0.5)  # Source: scikit-image
    differs = (ours > 0.5) ^ theirs
    # Only pixels that the edge cuts nearly in half may fall either way.
    assert np.all(np.abs(ours[differs] - 0.5) < 0.2)
    assert ours.sum() == pytest.approx(theirs.sum(), rel=0.004)


def test_a_ruled_border_is_as_wide_as_asked_and_centred_on_its_line() -> None:
    page = np.full((200, 200, 3), 255, np.uint8)
    square = np.array([(40, 40), (160, 40), (160, 160), (40, 160)], dtype=float)
    lay_color(page, cover(ring_band(square, 5.0), (200, 200)), (0, 0, 0))
    column = 1 - page[:, 100, 0] / 255
    # Source: arithmetic; two lines of 5 px, the upper one about y = 40.
    assert column.sum() == pytest.approx(10, abs=0.1)
    upper = column[:100]
    assert (upper * (np.arange(100) + 0.5)).sum() / upper.sum() == pytest.approx(40, abs=0.05)


def test_shapes_outside_the_canvas_leave_it_alone() -> None:
    assert cover(shapely.box(300, 300, 340, 340), (200, 200)).is_empty
    assert cover(shapely.box(-10, -10, 5, 5), (200, 200)).alpha.sum() == 25 * 255


def test_a_line_band_has_the_length_times_the_width() -> None:
    path = np.stack([np.linspace(10, 110, 21), np.full(21, 50.0)], axis=1)
    assert shapely.Polygon(line_band(path, np.full(21, 4.0))).area == pytest.approx(400)
