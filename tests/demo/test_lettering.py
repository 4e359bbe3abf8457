"""Lettering, balloons and borders keep to their measures."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from panelscan.demo.alphabet import CAP_HEIGHT, SPACING, glyph_strokes, glyph_width, text_width
from panelscan.demo.borders import shaky_path, straight_path, true_ring
from panelscan.demo.grids import PanelPlan
from panelscan.demo.hands import HANDS
from panelscan.demo.lettering import balloon_shape, draw_balloon, draw_text, set_text
from panelscan.demo.maker import draw_page
from panelscan.demo.story import CAPTIONS, EFFECTS, LINES, SHOUTS
from panelscan.demo.story_pages import PAGES
from panelscan.demo.wear import Wear


def test_the_alphabet_has_every_letter_of_the_story() -> None:
    spoken = [text for page in PAGES for shot in page.shots for _, text in shot.lines]
    told = [s.caption for page in PAGES for s in page.shots]
    letters = set("".join([*LINES, *SHOUTS, *CAPTIONS, *EFFECTS, *spoken, *told]).upper()) - {" "}
    assert [ch for ch in sorted(letters) if not glyph_strokes(ch)] == []
    for ch in letters:
        points = np.concatenate(glyph_strokes(ch))
        assert points[:, 0].max() <= glyph_width(ch) + 0.8
        assert -0.1 <= points[:, 1].min()
        assert points[:, 1].max() <= CAP_HEIGHT + 1


def test_text_is_as_wide_as_its_letters() -> None:
    # Source: arithmetic.
    assert text_width("AB") == pytest.approx(glyph_width("A") + SPACING + glyph_width("B"))
    assert text_width("") == 0


@pytest.mark.parametrize("hand", list(HANDS.values()), ids=list(HANDS))
def test_lines_are_broken_at_the_width_asked_for(hand) -> None:
    block = set_text("We need oil, rope and a very long spoon.", 20, 260, hand)
    assert len(block.lines) > 1
    assert block.width_px <= 260
    assert " ".join(block.lines) == "We need oil, rope and a very long spoon."


@pytest.mark.parametrize("kind", ["round", "squash", "wavy", "burst", "cloud", "box"])
def test_a_balloon_holds_its_text(kind: str) -> None:
    rng = np.random.default_rng(2)
    hand = HANDS["brush"]
    block = set_text("The lamp is out. Hold the ladder.", 20, 240, hand)
    page = np.full((300, 400, 3), 128, np.uint8)
    body = draw_balloon(page, [balloon_shape(block, 200, 150, kind, rng)], 2.0)
    draw_text(page, block, 200, 150, hand, rng, (255, 0, 0))
    rows, columns = np.nonzero((page[..., 0] > 200) & (page[..., 1] < 60))
    assert len(rows) > 100
    ink = shapely.points(np.stack([columns + 0.5, rows + 0.5], axis=1))
    assert shapely.contains(body.buffer(1), ink).all()


def test_a_shaky_border_strays_no_farther_than_a_hand_would() -> None:
    square = np.array([(50, 50), (450, 50), (450, 350), (50, 350)], dtype=float)
    plan = PanelPlan(square, border="hand")
    planned = shapely.LinearRing(square)
    for seed in range(20):
        path = shaky_path(plan, 3.0, np.random.default_rng(seed))
        ring = shapely.LinearRing(true_ring(path))
        assert ring.is_simple
        assert 0.5 < shapely.hausdorff_distance(ring, planned) < 14
        assert len(path.sides) == 4
    assert np.array_equal(straight_path(plan).ring, square)


def test_what_bursts_out_lies_outside_the_panel() -> None:
    found = 0
    for seed in range(0, 24, 6):
        page = draw_page("burst", seed, height_px=700, wear=Wear())
        for p in page.truth.panels:
            for part in p.burst:
                found += 1
                common = part.shape.intersection(p.outline.shape).area
                assert common < 0.35 * part.area
    assert found > 3
