"""Making practice pages with exact truth: one page for a category and a seed."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace

import numpy as np

from panelscan.demo.drawing import draw_plan, truth_of
from panelscan.demo.furniture import add_furniture, text_below
from panelscan.demo.grids import PagePlan
from panelscan.demo.look import Look
from panelscan.demo.media import make_medium
from panelscan.demo.recipes import CATEGORIES, PAGE_RATIOS, cook, make_look
from panelscan.demo.spreads import join_pages
from panelscan.demo.talk import letter_page
from panelscan.demo.truth import PageTruth
from panelscan.demo.wear import Wear, wear_page
from panelscan.demo.wear_choices import choose_wear

PAGES_PER_BOOK = 6
"""Pages of consecutive seeds that share hand, style, format, gutters and cast."""

PRINT_HEIGHT_MM = 260.0
"""Height that a page is taken to have in print, for its resolution."""


@dataclass(frozen=True, eq=False)
class DrawnPage:
    """A drawn page and what is true of it.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N, 3) RGB or (M, N) gray
        The picture.
    truth : PageTruth
        In pixels of the picture.
    """

    pixels: np.ndarray
    truth: PageTruth


def book_of(category: str, seed: int) -> str:
    """Name of the book that the page of a seed belongs to."""
    return f"{category}-{seed // PAGES_PER_BOOK:03d}"


def draw_page(
    category: str,
    seed: int,
    style: str | None = None,
    hand: str | None = None,
    height_px: int = 1900,
    wear: Wear | None = None,
) -> DrawnPage:
    """Draw a page of a category; the same arguments give the same pixels.

    Parameters
    ----------
    category : str
        One of `panelscan.demo.recipes.CATEGORIES`.
    seed : int
        Which page; six consecutive ones make a book.
    style : str or None
        One of `panelscan.demo.hands.STYLES`; by the book's chance if None.
    hand : str or None
        One of `panelscan.demo.hands.HANDS`; by the book's chance if None.
    height_px : int
        Height of the page before wear: 1,900 is fast, 3,075 about 300 pixels per inch.
    wear : Wear or None
        What happens to the page; the category's usual wear if None.

    Returns
    -------
    DrawnPage

    Raises
    ------
    ValueError
        If there is no such category.

    Examples
    --------
    >>> page = draw_page("grid", 3, height_px=400, wear=Wear())
    >>> page.pixels.shape[0], len(page.truth.panels) > 0
    (400, True)
    """
    if category not in CATEGORIES:
        raise ValueError(f"no category {category!r}; there are {', '.join(CATEGORIES)}")
    code = zlib.crc32(category.encode())
    book_seed = [code, seed // PAGES_PER_BOOK]
    rng = np.random.default_rng([code, seed, 1])
    look = make_look(category, np.random.default_rng([*book_seed, 2]), style, hand)
    size = _page_size(height_px, np.random.default_rng([*book_seed, 3]))
    if category == "spread":
        page, truth = join_pages(look, size, book_seed, rng)
        wear = wear or _spread_wear(truth, rng)
    else:
        recipe = cook(category, look, *size, np.random.default_rng([*book_seed, 4]), rng)
        page, truth = render(recipe.plan, recipe.look, rng)
        wear = wear or recipe.wear
    truth = replace(
        truth,
        category=category,
        direction="rtl" if category == "rtl" else truth.direction,
        dpi=round(height_px / PRINT_HEIGHT_MM * 25.4, 1),
        book=book_of(category, seed),
        image=f"{category}/{category}-{seed:05d}.png",
    )
    pixels, truth = wear_page(page, truth, wear, rng)
    return DrawnPage(pixels, truth)


def render(plan: PagePlan, look: Look, rng: np.random.Generator) -> tuple[np.ndarray, PageTruth]:
    """Draw and letter a plan by chance; page (RGB) and truth before any wear."""
    size = (round(plan.height), round(plan.width))
    unit = plan.height / 2000
    medium = make_medium(look.style, size, unit, rng)
    page, drawn = draw_plan(plan, look, medium, rng)
    add_furniture(page, plan, look, unit, rng)
    text_below(page, plan, look, unit, rng)
    balloons = letter_page(page, drawn, look, unit, rng)
    truth = truth_of(plan, drawn, look, size)
    return page, replace(truth, balloons=balloons)


def _page_size(height_px: int, book: np.random.Generator) -> tuple[float, float]:
    ratio = PAGE_RATIOS[int(book.integers(len(PAGE_RATIOS)))]
    return float(round(height_px * ratio)), float(height_px)


def _spread_wear(truth: PageTruth, rng: np.random.Generator) -> Wear:
    wear = choose_wear("grid" if rng.random() < 0.7 else "scan", rng)
    return replace(wear, fold=float(rng.choice([0, 0.25, 0.5, 0.8])), holes=False)
