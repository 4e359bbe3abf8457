"""Pages are lettered from the side where reading starts (common practice, no source)."""

from __future__ import annotations

import pytest

from panelscan.demo.maker import draw_page
from panelscan.demo.wear import Wear
from panelscan.layout.lettering_start import Starts, lettering_starts


@pytest.mark.parametrize(("category", "from_left"), [("grid", True), ("rtl", False)])
def test_lettering_starts_where_reading_starts(category: str, from_left: bool):
    found = Starts()
    for seed in range(0, 120, 12):
        truth = draw_page(category, seed, height_px=500, wear=Wear()).truth
        assert truth.direction == ("ltr" if from_left else "rtl")
        found += lettering_starts([p.outline for p in truth.panels], truth.balloons)
    near, far = (found.left, found.right) if from_left else (found.right, found.left)
    assert near > 1.5 * far and near + far > 8
