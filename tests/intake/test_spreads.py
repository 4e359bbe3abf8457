from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from panelscan.demo.hands import TUNING_HANDS
from panelscan.demo.maker import PAGES_PER_BOOK, draw_page
from panelscan.intake.fold import find_fold
from panelscan.intake.fold_strip import bridged
from panelscan.intake.options import LoadedPage, SpreadMode
from panelscan.intake.spreads import split_spread
from panelscan.model.page import PageImage, PagePart, PageRef
from tests.intake.drawn_spreads import aged, double_picture, facing_pages, wide_page

AGES = ("export", "scan", "bed")
RIGHT = 0.012
"""A fold found this near (share of the width) is right: inner margins are wider."""


def loaded(pixels: np.ndarray, reduction: float = 1.0) -> LoadedPage:
    height, width = (round(side * reduction) for side in pixels.shape[:2])
    image = PageImage(pixels, width, height, reduction)
    return LoadedPage(PageRef("book/p1.png", content_sha256="ab" * 32), image)


def drawn(make, how: str, age: str, seed: int):
    rng = np.random.default_rng([seed, *map(ord, how + age)])
    return aged(rng, make(rng, how), age)


@pytest.mark.parametrize(
    ("how", "age"),
    [("none", "export"), ("none", "scan"), ("none", "bed"), ("one", "export"), ("one", "scan")],
)
def test_facing_pages_are_parted_at_the_fold(how, age):
    # METHOD's target on drawn pages is 99.5 % right; scripts/score_folds.py measures it.
    for seed in range(4):
        page = drawn(facing_pages, how, age, 700 + seed)
        report = find_fold(page.pixels)
        assert report.fold is not None, (how, age, seed, report)
        assert report.fold.x_share == pytest.approx(page.fold, abs=RIGHT), (how, age, seed)


@pytest.mark.parametrize("age", AGES)
@pytest.mark.parametrize("how", ["splash", "tier", "plain"])
def test_double_page_pictures_stay_whole(how, age):
    for seed in range(4):
        report = find_fold(drawn(double_picture, how, age, 700 + seed).pixels)
        assert report.fold is None, (how, age, seed, report)


@pytest.mark.parametrize("how", ["album", "columns"])
def test_wide_single_pages_stay_whole(how):
    for seed in range(4):
        for age in AGES:
            report = find_fold(drawn(wide_page, how, age, 700 + seed).pixels)
            assert report.fold is None, (how, age, seed, report)


def test_joined_exports_that_bleed_into_the_fold_are_parted_exactly():
    found: Counter[str] = Counter()
    for seed in range(4):
        report = find_fold(drawn(facing_pages, "both", "export", 700 + seed).pixels)
        found[report.fold.kind if report.fold else "whole"] += 1
        assert report.fold is None or report.fold.x_share == 0.5
    assert found["whole"] <= 1


def test_halves_keep_source_geometry():
    page = drawn(facing_pages, "none", "export", 1)
    left, right = split_spread(loaded(page.pixels, 2.0), "auto")
    assert (left.ref.part, right.ref.part) == (PagePart.LEFT, PagePart.RIGHT)
    assert left.ref.page_id != right.ref.page_id
    assert left.image.offset_px == (0.0, 0.0)
    assert right.image.offset_px == (left.image.pixels.shape[1] * 2.0, 0.0)
    assert left.image.width_px + right.image.width_px == page.pixels.shape[1] * 2.0
    joined = np.hstack([left.image.pixels, right.image.pixels])
    np.testing.assert_array_equal(joined, page.pixels)
    assert right.image.source_width_px == left.image.source_width_px == page.pixels.shape[1] * 2


def test_modes():
    wide = loaded(drawn(double_picture, "splash", "export", 2).pixels)
    (kept,) = split_spread(wide, SpreadMode.AUTO)
    assert kept.ref.part is PagePart.WHOLE
    assert any("kept whole" in note for note in kept.image.notes)
    assert len(split_spread(wide, SpreadMode.SPLIT)) == 2
    facing = loaded(drawn(facing_pages, "none", "export", 3).pixels)
    assert split_spread(facing, SpreadMode.KEEP) == (facing,)
    tall = loaded(np.full((300, 200), 255, np.uint8))
    assert split_spread(tall, SpreadMode.SPLIT) == (tall,)
    assert split_spread(tall, SpreadMode.AUTO) == (tall,)


def test_strips_wider_than_two_pages_stay_whole():
    page = np.full((200, 700), 255, np.uint8)
    assert len(split_spread(loaded(page), SpreadMode.AUTO)) == 1


def test_a_balloon_that_reaches_into_the_margin_does_not_hide_the_fold():
    # Its rim made one column loud and the fold's strip end there. Drawn by the page maker, no
    # outside source.
    hands = list(TUNING_HANDS)
    page = draw_page("spread", 4828, hand=hands[(4828 // PAGES_PER_BOOK) % len(hands)])
    fold = find_fold(page.pixels).fold
    assert fold is not None
    assert abs(fold.x_share * page.pixels.shape[1] - page.truth.fold_x_px) < 6


def test_short_gaps_that_are_nearly_quiet_are_bridged():
    quiet = np.array([1, 1, 0, 0, 1, 0, 0, 0, 0, 1], dtype=bool)
    assert bridged(quiet, np.ones(10, dtype=bool)).tolist() == [True] * 5 + [False] * 4 + [True]
    assert bridged(quiet, quiet).tolist() == quiet.tolist()


@pytest.mark.parametrize("tone", [0, 128, 255])
def test_an_empty_sheet_is_not_cut(tone):
    page = np.full((400, 560), tone, np.uint8)
    assert len(split_spread(loaded(page), SpreadMode.AUTO)) == 1


def test_colour_and_gray_agree():
    page = drawn(facing_pages, "none", "scan", 5)
    colour = np.repeat(page.pixels[..., None], 3, axis=2)
    gray_fold, colour_fold = find_fold(page.pixels).fold, find_fold(colour).fold
    assert gray_fold is not None and colour_fold is not None
    assert colour_fold.x_share == pytest.approx(gray_fold.x_share, abs=0.002)


def test_a_mirrored_image_is_cut_at_the_mirrored_place():
    page = drawn(facing_pages, "none", "bed", 6)
    here, there = find_fold(page.pixels).fold, find_fold(page.pixels[:, ::-1]).fold
    assert here is not None and there is not None
    assert there.x_share == pytest.approx(1 - here.x_share, abs=0.006)
