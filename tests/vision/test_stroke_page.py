"""The border that most sides of a page share, and the sides that it corrects."""

from __future__ import annotations

import pytest

from panelscan.vision.stroke import SideFit
from panelscan.vision.stroke_page import usual_border, with_usual_border


def line(width_px: float) -> SideFit:
    return SideFit((0, 50), (100, 50), "line", width_px, support=1.0, tones=(250, 10, 200))


EDGE = SideFit((0, 80), (100, 80), "edge", None, support=1.0, tones=(250, 250, 12))
"""From the ground straight into the border's own tone; the inside lies below."""


@pytest.mark.parametrize(
    ("widths", "usual"),
    [
        ((4.0, 4.1, 3.9), 4.0),
        ((4.0, 4.1, 3.9, 9.0), 4.0),
        ((4.0, 4.1), None),
        ((4.0, 4.1, 9.0), None),
        ((4.0, 4.1, 3.9, 9.0, 7.0), None),
        ((4.0, 4.1, 3.9, 4.0, 9.0, 7.0), 4.0),
    ],
)
def test_few_lines_tell_the_border_only_where_they_are_alike(
    widths: tuple[float, ...], usual: float | None
) -> None:
    found = usual_border([line(w) for w in widths])
    assert (found is None) if usual is None else found is not None
    if found is not None:
        assert found.width_px == pytest.approx(usual, abs=0.1)


def test_a_side_that_shows_its_outer_edge_alone_moves_in_by_half_a_border() -> None:
    *_, moved = with_usual_border([line(4.0), line(4.0), line(4.0), EDGE])
    assert moved.p0[1] == pytest.approx(82.0)
    assert moved.border_px == 4.0
    *_, left = with_usual_border([line(4.0), line(4.0), EDGE])
    assert left == EDGE
