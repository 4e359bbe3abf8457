"""Facing pages in one picture, and pictures that run across both."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelscan.demo.drawing import draw_plan, truth_of
from panelscan.demo.furniture import add_furniture
from panelscan.demo.grid_changes import mirrored, with_bleeds
from panelscan.demo.grids import Idea, PagePlan, PanelPlan, make_grid
from panelscan.demo.look import Look
from panelscan.demo.media import make_medium
from panelscan.demo.talk import letter_page
from panelscan.demo.truth import PageTruth
from panelscan.model.outline import Outline


def join_pages(
    look: Look, size: tuple[float, float], book_seed: list[int], rng: np.random.Generator
) -> tuple[np.ndarray, PageTruth]:
    """Two facing pages (or one double-page picture) of a book, before any wear.

    Parameters
    ----------
    look : Look
        Of the book.
    size : tuple of float
        Width and height of one page, in pixels.
    book_seed : list of int
        Seed of what is the same in the whole book.
    rng : numpy Generator
        Chance of this spread.

    Returns
    -------
    ndarray of uint8, shape (M, 2 N, 3)
    PageTruth
        ``facing`` says which of both it is; a double-page picture is one page in ``pages``.
    """
    book = np.random.default_rng([*book_seed, 5])
    look = replace(look, burst=0.04)
    width, height = round(size[0]), round(size[1])
    gutters = (float(book.uniform(0.012, 0.026)), float(book.uniform(0.009, 0.02)))
    margins = tuple(
        float(book.uniform(a, b)) for a, b in ((0.05, 0.1), (0.03, 0.08), (0.05, 0.1), (0.04, 0.09))
    )
    idea = Idea(gutter_share=gutters, margins=margins, most=8)  # type: ignore[arg-type]
    rtl = bool(book.random() < 0.3)
    if rng.random() < 0.3:
        plan = _double(idea, 2.0 * width, float(height), rng)
        return _render(
            mirrored(plan) if rtl else plan, look, rng, ("double", "rtl" if rtl else "ltr")
        )
    halves = [_half(idea, float(width), float(height), rng) for _ in range(2)]
    if rtl:
        halves = [mirrored(p) for p in halves]
    first_left = not rtl
    moved = []
    for k, plan in enumerate(halves):
        shift = 0.0 if (k == 0) == first_left else float(width)
        moved.append([replace(p, points=p.points + (shift, 0)) for p in plan.panels])
    both = replace(halves[0], width=2.0 * width, panels=tuple(moved[0] + moved[1]))
    page, truth = _render(both, look, rng, ("facing", "rtl" if rtl else "ltr"))
    left, right = Outline.box(0, 0, width, height), Outline.box(width, 0, 2 * width, height)
    panels = tuple(
        replace(p, page=0 if i < len(moved[0]) else 1) for i, p in enumerate(truth.panels)
    )
    return page, replace(
        truth, pages=(left, right) if first_left else (right, left), panels=panels,
        fold_x_px=float(width),
    )  # fmt: skip


def _half(idea: Idea, width: float, height: float, rng: np.random.Generator) -> PagePlan:
    for _ in range(8):
        plan = make_grid(idea, width, height, rng)
        if min(p.shape.area for p in plan.panels) > (0.1 * width) ** 2:
            break
    if rng.random() < 0.3:
        edges = [str(e) for e in rng.permutation(["top", "bottom"])[:1]]
        plan = with_bleeds(plan, edges, rng, 0.6)
    return plan


def _double(idea: Idea, width: float, height: float, rng: np.random.Generator) -> PagePlan:
    """One picture across both pages, alone or with a tier of small panels below or above."""
    left, top, right, bottom = (m / 2 if k % 2 == 0 else m for k, m in enumerate(idea.margins))
    base = make_grid(Idea((1,), margins=(left, top, right, bottom)), width, height, rng)
    if rng.random() < 0.45:
        points = np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=np.float64)
        panel = PanelPlan(
            points, bleed=("left", "top", "right", "bottom"), border="none", scene=_wide_scene(rng)
        )
        return replace(base, panels=(panel,))
    counts = (1, int(rng.integers(3, 6))) if rng.random() < 0.7 else (int(rng.integers(3, 6)), 1)
    gutters = (idea.gutter_share[0] / 2, idea.gutter_share[1] / 2)
    plan = make_grid(
        Idea(counts, gutters, regular=0.0, stack=0.0, margins=(left, top, right, bottom)),
        width, height, rng,
    )  # fmt: skip
    panels = tuple(
        replace(p, scene=_wide_scene(rng)) if p.box[2] - p.box[0] > 0.8 * width else p
        for p in plan.panels
    )
    plan = replace(plan, panels=panels)
    if rng.random() < 0.5:
        plan = with_bleeds(plan, ["left", "right", "top" if counts[0] == 1 else "bottom"], rng)
    return plan


def _wide_scene(rng: np.random.Generator) -> str:
    return str(rng.choice(["sea", "hills", "street", "starry", "room"]))


def _render(
    plan: PagePlan, look: Look, rng: np.random.Generator, kind: tuple[str, str]
) -> tuple[np.ndarray, PageTruth]:
    size = (round(plan.height), round(plan.width))
    unit = plan.height / 2000
    medium = make_medium(look.style, size, unit, rng)
    page, drawn = draw_plan(plan, look, medium, rng)
    add_furniture(page, plan, look, unit, rng)
    balloons = letter_page(page, drawn, look, unit, rng)
    truth = truth_of(plan, drawn, look, size)
    return page, replace(
        truth, balloons=balloons, facing=kind[0], direction=kind[1],
        fold_x_px=size[1] / 2 if kind[0] == "double" else None,
    )  # fmt: skip
