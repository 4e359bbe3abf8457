from __future__ import annotations

import numpy as np
import pytest

from panelscan.vision.polygons import FitSettings, fit_quad, fit_side
from panelscan.vision.shapes import shaped_outlines


def test_side_fit_agrees_with_scipys_orthogonal_regression() -> None:
    # Outside check: orthogonal distance regression (SciPy's ODRPACK where it still has it,
    # else total least squares by NumPy's SVD) on the undisturbed points.
    rng = np.random.default_rng(4)
    along = np.arange(300) + 0.5
    across = 40.0 + 0.05 * along + rng.normal(0, 0.2, len(along))
    points = np.stack([along, across], axis=1) - [along.mean(), across.mean()]
    direction = np.linalg.svd(points)[2][0]
    fit = fit_side(along, across, -1, 1.0, FitSettings())
    assert fit.slope == pytest.approx(direction[1] / direction[0], abs=5e-4)


def test_a_notch_over_most_of_a_side_does_not_move_it() -> None:
    along = np.arange(200) + 0.5
    across = np.full(200, 20.0)
    across[30:150] = 60 + 10 * np.sin(np.linspace(0, 3, 120))
    fit = fit_side(along, across, -1, 1.0, FitSettings())
    assert fit.at(100) == pytest.approx(20.0, abs=0.2)


def test_art_that_bursts_out_does_not_move_the_side() -> None:
    along = np.arange(200) + 0.5
    across = np.full(200, 20.0)
    across[80:130] = 2.0
    fit = fit_side(along, across, -1, 1.0, FitSettings())
    assert fit.at(100) == pytest.approx(20.0, abs=0.2)


def test_regions_too_small_have_no_frame() -> None:
    region = np.zeros((20, 20), dtype=np.uint8)
    region[5:7, 5:7] = 1
    assert fit_quad(region, 1.0) is None


def test_a_round_region_gets_a_round_outline() -> None:
    rows, columns = np.mgrid[0:200, 0:200]
    disk = ((rows - 100) ** 2 + (columns - 100) ** 2 < 80**2).astype(np.uint8)
    outline = max(shaped_outlines(disk, 0.5), key=len)
    radius = np.hypot(*(outline - 100).T)
    assert len(outline) > 12
    assert np.abs(radius - 80).max() < 3
