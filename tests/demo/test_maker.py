"""The page maker: every category draws, the same seed gives the same page, truth holds."""

from __future__ import annotations

import numpy as np
import pytest

from panelscan.demo.hands import HANDS, STYLES
from panelscan.demo.maker import book_of, draw_page
from panelscan.demo.recipes import CATEGORIES
from panelscan.demo.wear import Wear

SMALL = 500


@pytest.mark.parametrize("category", CATEGORIES)
def test_every_category_draws_pages_with_panels_inside_the_picture(category: str) -> None:
    for seed in (1, 8):
        page = draw_page(category, seed, height_px=SMALL)
        height, width = page.pixels.shape[:2]
        assert page.pixels.dtype == np.uint8
        assert (page.truth.width_px, page.truth.height_px) == (width, height)
        assert page.truth.panels
        whole = sum(q.area for q in page.truth.pages)
        assert 0.2 * whole < sum(p.outline.area for p in page.truth.panels) < 1.6 * whole
        for p in page.truth.panels:
            assert page.truth.pages[p.page].shape.buffer(2).contains(p.outline.shape)
            assert p.inset_in is None or p.inset_in < len(page.truth.panels)


@pytest.mark.parametrize("style", STYLES)
def test_every_style_and_hand_draws(style: str) -> None:
    for hand in HANDS:
        page = draw_page("grid", 2, style=style, hand=hand, height_px=300)
        assert (page.truth.style, page.truth.hand) == (style, hand)
        assert page.pixels.std() > 5


def test_the_same_seed_gives_the_same_page_and_another_seed_another() -> None:
    a, b = (draw_page("mixed", 5, height_px=SMALL) for _ in range(2))
    assert np.array_equal(a.pixels, b.pixels)
    assert a.truth == b.truth
    other = draw_page("mixed", 6, height_px=SMALL)
    assert other.pixels.shape != a.pixels.shape or not np.array_equal(other.pixels, a.pixels)


def test_pages_of_a_book_share_hand_and_format() -> None:
    pages = [draw_page("slanted", seed, height_px=300, wear=Wear()) for seed in (12, 14, 17)]
    assert {book_of("slanted", s) for s in (12, 14, 17)} == {"slanted-002"}
    assert len({(p.truth.hand, p.truth.style, p.pixels.shape) for p in pages}) == 1


def test_ruled_borders_lie_on_the_true_outline() -> None:
    checked = 0
    for seed in range(0, 36, 6):
        page = draw_page("grid", seed, style="ink", height_px=900, wear=Wear())
        gray = page.pixels.mean(axis=2)
        for p in page.truth.panels:
            assert p.border == "ruled"
            for (x0, y0), (x1, y1) in p.outline.edges():
                t = np.linspace(0.03, 0.97, 60)
                columns = np.clip(x0 + (x1 - x0) * t, 0, gray.shape[1] - 1).astype(int)
                rows = np.clip(y0 + (y1 - y0) * t, 0, gray.shape[0] - 1).astype(int)
                # Balloons and captions may lie over a stretch of a side.
                assert np.mean(gray[rows, columns] < 110) > 0.3
                checked += np.mean(gray[rows, columns] < 110) > 0.9
    assert checked > 40


def test_the_art_of_borderless_panels_ends_at_the_true_outline() -> None:
    sides = seen = 0
    for seed in range(0, 48, 6):
        page = draw_page("borderless", seed, style="painted", height_px=900, wear=Wear())
        gray = page.pixels.mean(axis=2)
        for p in page.truth.panels:
            x0, y0, x1, y1 = (round(v) for v in p.outline.bounds)
            if p.border != "none" or len(p.outline.points) != 4:
                continue
            middle = gray[(y0 + y1) // 2, :]
            for outside, inside in ((x0 - 3, x0 + 3), (x1 + 2, x1 - 4)):
                if 0 <= outside < len(middle):
                    sides += 1
                    seen += middle[outside] > 250 and middle[inside] < 246
    # Balloons may lie over an edge here and there, and slanted sides miss the box.
    assert sides > 20
    assert seen > 0.75 * sides


def test_a_category_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="no category"):
        draw_page("collage", 1)
