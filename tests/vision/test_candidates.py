"""What is weighed as a panel and what is not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.vision.candidates import Candidate, weigh
from panelscan.vision.evidence import EvidenceMaps

SIZE = (1000, 700)


def weighed(ring: np.ndarray) -> bool:
    """Whether a ring full of art on a bare page is weighed at all."""
    art = cv2.fillPoly(np.zeros(SIZE, np.uint8), [np.round(ring).astype(np.int32)], 1)
    maps = EvidenceMaps(1 - art, 1 - art, np.zeros_like(art), 1.0)
    return bool(weigh([Candidate(ring, "part")], maps, art))


@pytest.mark.parametrize(("foot", "panel"), [(40.0, False), (110.0, True)])
def test_a_shadow_may_run_aslant(foot: float, panel: bool) -> None:
    ring = np.array([[2.0, 200], [10, 200], [30 + foot, 990], [30, 1000]])
    assert weighed(ring) is panel


def kept(x0: float, y0: float, x1: float, y1: float) -> bool:
    """Whether a frame full of art on a bare page is weighed at all."""
    return weighed(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float))


@pytest.mark.parametrize(
    ("box", "panel"),
    [
        ((0, 0, 40, 1000), False),  # the shadow of a fold along the page's edge
        ((655, 300, 700, 900), False),  # a part of it
        ((0, 960, 700, 1000), False),  # the rim of a scan
        ((0, 0, 90, 1000), True),  # a narrow column that bleeds
        ((200, 100, 240, 900), True),  # a narrow panel inside the page
        ((0, 0, 45, 100), True),  # too short for a shadow
    ],
)
def test_a_thin_strip_along_the_pages_edge_is_no_panel(
    box: tuple[float, float, float, float], panel: bool
) -> None:
    # Common practice, no source: no panel of a twentieth of the page runs along its edge.
    assert kept(*box) is panel
