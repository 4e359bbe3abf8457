from __future__ import annotations

import json
import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from panelscan.checks.compare import ChangeKind, Stage, compare_stages, stage_of_grid
from panelscan.checks.compare_report import comparison_data, comparison_svg, comparison_text
from panelscan.checks.registration import register
from panelscan.model.formats import US_PRINT
from panelscan.model.grid import GutterKind
from panelscan.model.outline import Outline
from tests.templates.samples import NAMED, tiers

SIZE = (168.275, 260.35)


def outlines(name):
    return [p.outline.scaled(*SIZE) for p in NAMED[name].panels]


def turned(outline, deg, scale, shift):
    c, s = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return Outline.of((scale * outline.array() @ np.array([[c, s], [-s, c]]) + shift).tolist())


def kinds(before, after):
    found = compare_stages(Stage("a", tuple(before), 1.0), Stage("b", tuple(after), 1.0))
    return [(c.kind, c.before, c.after) for c in found.changes]


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["six", "nine", "mixed", "blockage", "slanted"]),
    st.floats(-8, 8),
    st.floats(0.2, 9),
    st.tuples(st.floats(-300, 300), st.floats(-300, 300)),
)
def test_registration_is_recovered(name, deg, scale, shift):
    before = outlines(name)
    after = [turned(o, deg, scale, shift) for o in before]
    found = register(before, after)
    assert found.turn_deg == pytest.approx(deg, abs=1e-3)
    assert found.scale == pytest.approx(scale, rel=1e-5)
    assert found.pairs == tuple((i, i) for i in range(len(before)))
    stages = Stage("a", tuple(before), 1.0), Stage("b", tuple(after), 1.0 / scale)
    assert compare_stages(*stages).changes == ()


def test_moved_panel_does_not_drag_the_others():
    before = outlines("nine")
    after = [turned(o, 2.0, 3.0, (20, 10)) for o in before]
    after[4] = after[4].moved(12.0, 0.0)
    found = compare_stages(Stage("a", tuple(before)), Stage("b", tuple(after), 1 / 3.0))
    assert found.registration.turn_deg == pytest.approx(2.0, abs=0.01)
    (change,) = found.changes
    assert (change.kind, change.before) == (ChangeKind.MOVED, (4,))
    assert change.amount_mm == pytest.approx(4.0, abs=0.05)
    assert "4.0 mm right" in change.text


def test_agrees_with_opencv_on_unmoved_panels():
    # OpenCV's own least-squares similarity over all corners.
    rng = np.random.default_rng(4)
    before = outlines("mixed")
    after = [turned(o, -3.0, 1.7, (40, -9)) for o in before]
    after = [
        Outline(tuple(map(tuple, o.array() + rng.normal(0, 0.05, o.array().shape)))) for o in after
    ]
    theirs, _ = cv2.estimateAffinePartial2D(
        np.concatenate([o.array() for o in before]), np.concatenate([o.array() for o in after])
    )
    ours = register(before, after)
    assert ours.scale == pytest.approx(math.hypot(theirs[0, 0], theirs[1, 0]), rel=1e-3)
    assert ours.turn_deg == pytest.approx(
        math.degrees(math.atan2(theirs[1, 0], theirs[0, 0])), abs=0.05
    )


def test_resized_added_dropped():
    before = outlines("six")
    wide = [
        *before[:5],
        Outline.box(*before[5].bounds[:2], before[5].bounds[2] - 6, before[5].bounds[3]),
    ]
    found = compare_stages(Stage("a", tuple(before), 1.0), Stage("b", tuple(wide), 1.0))
    assert [c.text for c in found.changes] == [
        "Panel 6: resized, its right side moved 6.0 mm left."
    ]
    assert kinds(before, before[:5]) == [(ChangeKind.DROPPED, (5,), ())]
    assert kinds(before[:5], before) == [(ChangeKind.ADDED, (), (5,))]


def test_split_and_merged():
    whole = outlines("mixed")
    x0, y0, x1, y1 = whole[0].bounds
    parts = [Outline.box(x0, y0, x0 + 80, y1), Outline.box(x0 + 84, y0, x1, y1)]
    split = [*parts, *whole[1:]]
    assert (ChangeKind.SPLIT, (0,), (0, 1)) in kinds(whole, split)
    assert (ChangeKind.MERGED, (0, 1), (0,)) in kinds(split, whole)


def test_reordered():
    before = outlines("six")
    after = [before[0], before[2], before[1], *before[3:]]
    found = [c for c in kinds(before, after) if c[0] is ChangeKind.REORDERED]
    assert len(found) == 1
    assert kinds(before, before) == []


def test_gutters_before_and_after():
    a = stage_of_grid(tiers(2, 2, gutter=0.02), "rough", US_PRINT)
    b = stage_of_grid(tiers(2, 2, gutter=0.03), "inks", US_PRINT)
    by_kind = {g.kind: g for g in compare_stages(a, b).gutters}
    tier = by_kind[GutterKind.TIER]
    assert tier.mean_after == pytest.approx(0.03 * 260.35)
    assert tier.mean_before == pytest.approx(0.02 * 260.35, rel=0.02)
    assert tier.cv_after == pytest.approx(0, abs=1e-9)


def test_unknown_lengths_are_shares_of_the_page():
    after = outlines("six")
    after[3] = after[3].moved(0, 5.2)
    a = Stage("a", tuple(outlines("six")))
    b = Stage("b", tuple(after), None, Outline.box(0, 0, *SIZE))
    found = compare_stages(a, b)
    assert found.unit == "% of the page height"
    assert "2.0 % of the page height down" in found.changes[0].text
    assert found.changes[0].amount_mm is None


def test_different_pages_and_empty_ones():
    empty = compare_stages(Stage("a", ()), Stage("b", ()))
    assert empty.changes == ()
    assert "different pages" in empty.notes[0]
    one = outlines("splash")
    assert (
        "cannot be told" in compare_stages(Stage("a", tuple(one)), Stage("b", tuple(one))).notes[0]
    )


def test_text_data_and_picture():
    after = [turned(o, 1.0, 2.0, (5, 5)) for o in outlines("mixed")]
    after[2] = after[2].moved(9, 0)
    frame = Outline.box(0, 0, 2.1 * SIZE[0], 2.1 * SIZE[1])
    result = compare_stages(
        Stage("rough", tuple(outlines("mixed"))), Stage("inks <final>", tuple(after), 0.5, frame)
    )
    assert json.loads(json.dumps(comparison_data(result)))["changes"][0]["kind"] == "moved"
    assert "rough -> inks" in comparison_text(result)
    root = etree.fromstring(comparison_svg(result).encode())
    ns = {"s": "http://www.w3.org/2000/svg"}
    dashed = [p for p in root.findall("s:path", ns) if p.get("stroke-dasharray") and p.get("fill")]
    assert len(dashed) == 6
    assert len(root.findall("s:circle", ns)) == 1
