from __future__ import annotations

import numpy as np
import pytest
from skimage.transform import probabilistic_hough_line

from panelscan.vision.segments import find_lines


def two_panels() -> np.ndarray:
    """Ground mask with a slanted gutter between two panels, sides at known places."""
    rows, columns = np.mgrid[0:400, 0:600] + 0.5
    edge = 290 + 0.1 * (rows - 200)
    left = (columns > 40) & (columns < edge) & (rows > 40) & (rows < 360)
    right = (columns > edge + 24) & (columns < 560) & (rows > 40) & (rows < 360)
    return (~(left | right)).astype(np.uint8)


def test_lines_lie_on_the_sides_and_face_the_ground() -> None:
    lines = find_lines(two_panels())
    slanted = [k for k in range(len(lines)) if 0.05 < abs(lines.along[k, 0]) < 0.2]
    offsets = sorted(float(p[0] - 0.1 * (p[1] - 200)) for p in (lines.point[k] for k in slanted))
    assert offsets == pytest.approx([290, 314], abs=1.0)
    for k in slanted:
        beyond = lines.point[k] + 6 * lines.outward[k]
        assert two_panels()[int(beyond[1]), int(beyond[0])] == 1


def test_lines_agree_with_the_probabilistic_hough_transform() -> None:
    # Outside check: scikit-image's probabilistic Hough transform (Galamhos et al. 1999).
    mask = two_panels()
    edges = mask ^ np.roll(mask, 1, axis=1) | mask ^ np.roll(mask, 1, axis=0)
    seen = probabilistic_hough_line(edges.astype(bool), line_length=150, line_gap=4, rng=1)
    assert seen
    lines = find_lines(mask)
    for start, end in seen:
        middle = (np.array(start) + np.array(end)) / 2
        off = np.abs(np.einsum("ij,ij->i", middle - lines.point, lines.outward))
        assert off.min() < 2.5


def test_an_even_page_has_no_lines() -> None:
    assert len(find_lines(np.ones((200, 200), dtype=np.uint8))) == 0
