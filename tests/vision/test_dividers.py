from __future__ import annotations

import cv2
import numpy as np
import pytest

from panelscan.vision.dividers import divided, line_maps

FRAME = np.array([[52.0, 52], [548, 52], [548, 748], [52, 748]])


def page(line_width: int = 4, spacing: int = 0, until: int = 548) -> np.ndarray:
    gray = np.full((800, 600), 255, np.uint8)
    gray[54:746, 54:546] = 200
    cv2.rectangle(gray, (52, 52), (547, 747), 0, 4)
    for y in [400] if not spacing else range(120, 720, spacing):
        cv2.line(gray, (52, y), (until, y), 0, line_width)
    return gray


def test_one_line_from_side_to_side_divides_a_frame() -> None:
    parts = divided(FRAME, line_maps(page()))
    assert len(parts) == 2
    assert sorted(float(p[:, 1].max()) for p in parts)[0] == pytest.approx(400, abs=3)


@pytest.mark.parametrize(
    "decoy",
    [page(line_width=1), page(until=420), page(spacing=12)],
    ids=["thin", "stops short", "one of many"],
)
def test_floors_and_hatching_divide_nothing(decoy: np.ndarray) -> None:
    assert divided(FRAME, line_maps(decoy)) == []
