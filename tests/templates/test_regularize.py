from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.layout.distance import grid_distance
from panelscan.layout.sides import panel_sides
from panelscan.model.formats import US_PRINT
from panelscan.model.grid import Grid, GridPanel, GutterKind
from panelscan.model.outline import Outline
from panelscan.templates.regularize import Tolerances, regularize
from tests.templates.samples import ASPECT, NAMED, bleeding, inset, slanted, tiers

SIZE = (168.275, 260.35)


def shaken(grid, seed, mm):
    """Every corner moved by up to `mm` along each axis."""
    rng = np.random.default_rng(seed)
    panels = []
    for p in grid.panels:
        moved = p.outline.array() * SIZE + rng.uniform(-mm, mm, (len(p.outline.points), 2))
        panels.append(replace(p, outline=Outline.of(moved / SIZE)))
    return replace(grid, panels=tuple(panels))


def in_mm(grid):
    return [p.outline.scaled(*SIZE) for p in grid.panels]


@pytest.mark.parametrize("name", ["six", "nine", "mixed", "blockage"])
@pytest.mark.parametrize("seed", range(4))
def test_hand_drawn_grids_come_out_even_and_square(name, seed):
    cleaned = regularize(shaken(NAMED[name], seed, 0.5), US_PRINT)
    for side in panel_sides(in_mm(cleaned.grid)):
        assert abs(side.tilt_deg) < 1e-6
    for kind in cleaned.gutters:
        assert kind.cv_after < 1e-6
    assert any(kind.cv_before > 0.02 for kind in cleaned.gutters) or name == "blockage"
    lefts = {round(p.outline.bounds[0], 7) for p in cleaned.grid.panels}
    originals = {round(p.outline.bounds[0], 7) for p in NAMED[name].panels}
    assert len(lefts) == len(originals)
    assert grid_distance(cleaned.grid, NAMED[name]).value < 0.02


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(sorted(NAMED)),
    st.integers(0, 10_000),
    st.floats(0.05, 2.0),
    st.floats(0.2, 3.0),
)
def test_no_side_moves_farther_than_allowed(name, seed, shake, move):
    grid = shaken(NAMED[name], seed, shake)
    cleaned = regularize(grid, US_PRINT, Tolerances(move_mm=move))
    for n, (before, after) in enumerate(zip(in_mm(grid), in_mm(cleaned.grid), strict=True)):
        if len(before.points) != len(after.points):
            continue
        for old, new in zip(panel_sides([before]), panel_sides([after]), strict=True):
            bleeds = any(e in grid.panels[n].bleed for e in _edges(old))
            if bleeds:
                continue
            for x, y in (new.start, new.end):
                off = abs(old.normal[0] * x + old.normal[1] * y - old.offset)
                # An end also slides along its own side when its neighbour moves; on a
                # tilted old line that adds the slide times the sine of the turn.
                slide = (move + US_PRINT.bleed_mm) * math.sin(math.radians(2.5))
                assert off <= move + slide + 1e-6
    assert all(m.moved_mm >= 0.05 for m in cleaned.moves)


def _edges(side):
    from panelscan.templates.regularize import side_word

    return {side_word(side)}


def test_what_is_meant_stays():
    stagger = Grid(
        (
            GridPanel(Outline.box(0.06, 0.06, 0.50, 0.48)),
            GridPanel(Outline.box(0.53, 0.06, 0.94, 0.48)),
            GridPanel(Outline.box(0.06, 0.51, 0.42, 0.94)),
            GridPanel(Outline.box(0.45, 0.51, 0.94, 0.94)),
        ),
        ASPECT,
    )
    cleaned = regularize(stagger, US_PRINT)
    assert cleaned.moves == ()
    for old, new in zip(stagger.panels, cleaned.grid.panels, strict=True):
        assert new.outline.array() == pytest.approx(old.outline.array(), abs=1e-9)


def test_slants_are_kept_and_paired():
    cleaned = regularize(shaken(slanted(), 3, 0.3), US_PRINT)
    left, right, _ = in_mm(cleaned.grid)
    a = next(s for s in panel_sides([left]) if s.normal[0] > 0.8)
    b = next(s for s in panel_sides([right]) if s.normal[0] < -0.8)
    assert abs(a.tilt_deg) > 5
    assert a.tilt_deg == pytest.approx(b.tilt_deg, abs=1e-6)


def test_bleeds_go_to_the_bleed_line():
    cleaned = regularize(shaken(bleeding(), 1, 0.4), US_PRINT)
    x0, y0, x1, _ = in_mm(cleaned.grid)[0].bounds
    assert (x0, y0, x1) == pytest.approx(US_PRINT.bleed_box_mm[:3], abs=1e-6)


def test_inset_is_not_put_in_line_with_its_host():
    near = inset()
    small = replace(near.panels[1], outline=Outline.box(0.6, 0.66, 0.936, 0.936))
    grid = replace(near, panels=(near.panels[0], small))
    x1 = in_mm(regularize(grid, US_PRINT).grid)[1].bounds[2]
    assert x1 == pytest.approx(0.936 * SIZE[0], abs=1e-6)


def test_gutters_asked_for_are_set():
    cleaned = regularize(tiers(2, 2, 2), US_PRINT, tier_gutter_mm=5.5, column_gutter_mm=4.5)
    by_kind = {e.kind: e for e in cleaned.gutters}
    assert by_kind[GutterKind.TIER].mean_after_mm == pytest.approx(5.5)
    assert by_kind[GutterKind.COLUMN].mean_after_mm == pytest.approx(4.5)


def test_needless_corners_go_and_round_panels_stay():
    bent = Outline.of([(0.06, 0.06), (0.5, 0.061), (0.94, 0.06), (0.94, 0.5), (0.06, 0.5)])
    angles = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    ring = Outline.of(zip(0.5 + 0.2 * np.cos(angles), 0.75 + 0.15 * np.sin(angles), strict=True))
    grid = Grid((GridPanel(bent), GridPanel(ring)), ASPECT)
    cleaned = regularize(grid, US_PRINT)
    assert len(cleaned.grid.panels[0].outline.points) == 4
    assert cleaned.grid.panels[1].outline.array() == pytest.approx(ring.array())
    assert "1 needless corner" in cleaned.notes[0]
    assert "round or ragged" in cleaned.notes[1]


def hand_drawn(outline, seed, mm):
    """The outline traced every few millimetres with a wavering hand."""
    rng = np.random.default_rng(seed)
    points = []
    for (x0, y0), (x1, y1) in outline.scaled(*SIZE).edges():
        length = math.hypot(x1 - x0, y1 - y0)
        nx, ny = -(y1 - y0) / length, (x1 - x0) / length
        phase, waves = rng.uniform(0, 6.3), rng.uniform(15, 40)
        for t in np.arange(0.0, 1.0, 4.0 / length):
            off = mm * math.sin(phase + t * length / waves * 6.3) + rng.normal(0, 0.1)
            points.append((x0 + t * (x1 - x0) + off * nx, y0 + t * (y1 - y0) + off * ny))
    return Outline.of(np.array(points) / SIZE)


@pytest.mark.parametrize("name", ["six", "slanted"])
def test_hand_drawn_lines_become_straight_sides(name):
    meant = NAMED[name]
    traced = replace(
        meant,
        panels=tuple(
            replace(p, outline=hand_drawn(p.outline, i, 0.6)) for i, p in enumerate(meant.panels)
        ),
    )
    assert min(len(p.outline.points) for p in traced.panels) > 30
    cleaned = regularize(traced, US_PRINT)
    for before, after in zip(meant.panels, cleaned.grid.panels, strict=True):
        assert len(after.outline.points) == 4
        a, b = before.outline.scaled(*SIZE), after.outline.scaled(*SIZE)
        assert a.shape.exterior.hausdorff_distance(b.shape.exterior) < 1.2
    assert "hand-drawn line made 4 straight sides" in cleaned.notes[0]
    assert all(e.cv_after < 1e-6 for e in cleaned.gutters)


def test_moves_are_told_in_words():
    grid = tiers(1, 1)
    low = replace(grid.panels[1], outline=Outline.box(0.064, 0.51, 0.94, 0.94))
    cleaned = regularize(replace(grid, panels=(grid.panels[0], low)), US_PRINT)
    assert any(str(m).endswith("left side: moved 0.3 mm.") for m in cleaned.moves)


def test_nothing_allowed_moves_nothing():
    grid = shaken(NAMED["nine"], 5, 0.5)
    strict = Tolerances(move_mm=0, straight_mm=0)
    assert regularize(grid, US_PRINT, strict).moves == ()
    with pytest.raises(ValueError, match="negative"):
        Tolerances(move_mm=-1)
