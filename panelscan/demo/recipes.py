"""What the pages of each category are like: their look, their grid and their wear."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from panelscan.demo.cast import make_cast
from panelscan.demo.furniture import with_text_below
from panelscan.demo.grid_changes import (
    mirrored,
    splash,
    with_bleeds,
    with_insets,
    with_overlap,
    with_shapes,
)
from panelscan.demo.grids import Idea, PagePlan, make_grid
from panelscan.demo.hands import HANDS, PALETTES, STYLES, Palette
from panelscan.demo.look import Look
from panelscan.demo.raster import RGB
from panelscan.demo.wear import Wear
from panelscan.demo.wear_choices import choose_wear

CATEGORIES = (
    "grid", "slanted", "hand-drawn", "borderless", "open", "bleed", "ground", "inset", "burst",
    "gutter", "shaped", "rtl", "spread", "scan", "low-resolution", "one-bit", "decoys", "mixed",
)  # fmt: skip
"""Names of the categories, as in the table of scores."""

PAGE_RATIOS = (168.275 / 260.35, 182 / 257, 210 / 297, 225 / 300, 148 / 210, 152 / 228, 0.85)
"""Widths of pages as shares of their heights; the last an odd, almost square one."""


@dataclass(frozen=True, eq=False)
class Recipe:
    """A page of a category before it is drawn."""

    plan: PagePlan
    look: Look
    wear: Wear


def make_look(category: str, rng: np.random.Generator, style: str | None, hand: str | None) -> Look:
    """The look of a book of a category; style and hand by chance unless asked for."""
    name = hand or str(rng.choice(list(HANDS)))
    weights = np.array([0.2, 0.2, 0.22, 0.2, 0.06, 0.08, 0.04])
    if category == "hand-drawn":
        weights = np.array([0.18, 0.08, 0.2, 0.08, 0.2, 0.24, 0.02])
    elif category == "borderless":
        weights = np.array([0.0, 0.14, 0.26, 0.5, 0.02, 0.08, 0.0])
    elif category == "rtl":
        weights = np.array([0.24, 0.62, 0.04, 0.02, 0.04, 0.0, 0.04])
    elif category == "open":
        weights = np.array([0.4, 0.18, 0.3, 0.04, 0.03, 0.03, 0.02])
    if category == "one-bit":
        style = style or "onebit"
    style = style or str(rng.choice(STYLES, p=weights / weights.sum()))
    count = int(rng.integers(1, 4))
    palettes = tuple(_toned(PALETTES[int(k)], rng) for k in rng.permutation(len(PALETTES))[:count])
    cast = tuple(make_cast(rng, palettes[0]))
    if style in ("ink", "onebit", "screentone", "pencil"):
        cast = tuple(replace(c, skin=(252, 246, 240)) for c in cast)
    line: RGB = (16, 16, 18)
    if style == "pencil":
        line = (84, 84, 90)
    elif style == "crayon" and rng.random() < 0.6:
        line = palettes[0].dark
    width = HANDS[name].border * rng.uniform(0.7, 1.4)
    return Look(HANDS[name], style, palettes, cast, border_rgb=line, border_px=width)


def _toned(palette: Palette, rng: np.random.Generator) -> Palette:
    shift = rng.normal(size=3) * 10

    def tone(rgb: RGB) -> RGB:
        return tuple(int(np.clip(v + d, 0, 255)) for v, d in zip(rgb, shift, strict=True))  # type: ignore[return-value]

    return Palette(**{k: tone(getattr(palette, k)) for k in palette.__dataclass_fields__})


def cook(
    category: str, look: Look, width: float, height: float, book: np.random.Generator,
    rng: np.random.Generator,
) -> Recipe:  # fmt: skip
    """Plan a page of a category, set the look's special traits and choose its wear."""
    margins = tuple(
        float(book.uniform(a, b)) for a, b in ((0.04, 0.1), (0.03, 0.08), (0.04, 0.1), (0.04, 0.09))
    )
    gutters = (float(book.uniform(0.011, 0.026)), float(book.uniform(0.009, 0.02)))
    hand_made = book.random() < 0.3
    idea = Idea(gutter_share=gutters, margins=margins)  # type: ignore[arg-type]
    make = _MAKERS[category]
    for _ in range(12):
        plan, now = make(idea, look, width, height, book, rng)
        if _sound(plan):
            break
    else:
        plan, now = make_grid(Idea((2, 2)), width, height, rng), look
    if hand_made and category in (
        "slanted",
        "inset",
        "burst",
        "mixed",
        "decoys",
        "bleed",
        "scan",
        "low-resolution",
        "shaped",
        "one-bit",
    ):
        plan = _bordered(plan, "hand")
    return Recipe(plan, now, choose_wear(category, rng))


def _sound(plan: PagePlan) -> bool:
    least = (0.075 * plan.width) ** 2
    for p in plan.panels:
        x0, y0, x1, y1 = p.box
        if (
            not p.shape.is_valid
            or p.shape.area < least
            or min(x1 - x0, y1 - y0) < 0.07 * plan.width
        ):
            return False
    return True


def _bordered(plan: PagePlan, border: str) -> PagePlan:
    panels = tuple(replace(p, border=border) if p.border == "ruled" else p for p in plan.panels)
    return replace(plan, panels=panels)


Made = tuple[PagePlan, Look]


def _grid(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    return make_grid(idea, w, h, rng), replace(look, burst=0.0, spill=0.04, effects=0.06)


def _slanted(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    idea = replace(
        idea, tier_tilt=float(rng.uniform(2, 9)), column_tilt=float(rng.uniform(4, 17)), most=9
    )
    plan = make_grid(idea, w, h, rng)
    if rng.random() < 0.25:
        plan = with_bleeds(plan, _edges(rng, 2), rng, 0.8)
    return plan, replace(look, burst=0.04)


def _hand_drawn(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    shake = float(book.uniform(0.8, 1.9))
    overshoot = look.hand.overshoot * shake + float(book.choice([0, 0, 4, 9]))
    wobble = look.hand.border_wobble * shake + 0.6
    hand = replace(look.hand, border_wobble=wobble, overshoot=overshoot)
    idea = replace(idea, tier_tilt=1.2, column_tilt=1.5)
    look = replace(look, hand=hand, border_px=look.border_px * float(book.uniform(0.45, 1.1)))
    if book.random() < 0.1:
        counts = tuple(int(rng.integers(2, 5)) for _ in range(int(rng.integers(2, 5))))
        strip = make_grid(
            replace(idea, tiers=counts, tier_tilt=0, column_tilt=0, stack=0), w, h, rng
        )
        strip = with_text_below(strip, float(rng.uniform(0.25, 0.45)))
        return _bordered(strip, "hand"), replace(look, talk=0.4)
    return _bordered(make_grid(idea, w, h, rng), "hand"), look


def _borderless(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    if rng.random() < 0.2:
        idea = replace(idea, column_tilt=9.0)
    plan = make_grid(idea, w, h, rng)
    soft = book.random() < 0.25
    panels = []
    for p in plan.panels:
        border = "soft" if soft and rng.random() < 0.7 else "none"
        panels.append(replace(p, border=border))
    return replace(plan, panels=tuple(panels)), replace(look, spill=0.35, burst=0.05)


def _open(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    plan = make_grid(replace(idea, most=8, regular=0.5), w, h, rng)
    panels = list(plan.panels)
    border = "hand" if book.random() < 0.4 else "ruled"
    panels = [replace(p, border=border) for p in panels]
    chosen = rng.permutation(len(panels))[: max(1, int(len(panels) * rng.uniform(0.2, 0.6)))]
    for k in chosen:
        n = len(panels[k].points)
        sides = int(rng.choice([1, 2, 3, 4], p=[0.4, 0.22, 0.13, 0.25]))
        first = int(rng.integers(n))
        panels[k] = replace(
            panels[k], open_sides=tuple(sorted((first + j) % n for j in range(min(sides, n))))
        )
    notes = "Open sides: the frame is where the artist planned it; little or nothing shows it."
    return replace(plan, panels=tuple(panels), notes=notes), replace(
        look, burst=0.0, spill=0.05, talk=0.6
    )


def _edges(rng: np.random.Generator, most: int) -> list[str]:
    count = int(rng.integers(1, most + 1))
    return [str(e) for e in rng.permutation(["left", "right", "top", "bottom"])[:count]]


def _bleed(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    plan = make_grid(replace(idea, most=7), w, h, rng)
    draw = rng.random()
    if draw < 0.16:
        return splash(plan), look
    if draw < 0.3:
        full = splash(plan).panels[0]
        small = with_insets(replace(plan, panels=(full,)), rng, 3)
        return small, replace(look, halo_px=float(rng.choice([0, 5])))
    plan = with_bleeds(plan, _edges(rng, 3), rng, float(rng.choice([1.0, 0.6])))
    bare = book.random() < 0.3 and look.style in ("flat", "painted", "screentone")
    if bare:
        plan = _bare(plan)
    return plan, replace(look, burst=0.03)


def _bare(plan: PagePlan) -> PagePlan:
    return replace(plan, panels=tuple(replace(p, border="none") for p in plan.panels))


def _ground(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    kind = str(book.choice(["black", "black", "tinted", "colour", "graded", "shapes"]))
    tilts = (float(book.choice([0, 0, 5])), float(book.choice([0, 0, 9])))
    plan = make_grid(replace(idea, tier_tilt=tilts[0], column_tilt=tilts[1]), w, h, rng)
    look = replace(look, burst=0.04)
    if kind == "shapes":
        return _white_shapes(plan, look)
    if kind == "black":
        dark: RGB = tuple(int(v) for v in book.integers(6, 30, 3))  # type: ignore[assignment]
        line = int(book.integers(3))
        look = replace(look, ground=dark, border_rgb=((244, 244, 240) if line == 0 else dark))
        if line:
            look = replace(look, avoid=("night", "starry"))
        return (plan if line < 2 else _bare(plan)), look
    if kind == "tinted":
        tint: RGB = tuple(int(v) for v in np.array([248, 240, 220]) - book.integers(0, 26, 3))  # type: ignore[assignment]
        return (plan if book.random() < 0.7 else _bare(plan)), replace(look, ground=tint)
    color: RGB = look.palettes[0].accent if book.random() < 0.4 else look.palettes[0].far
    to = look.palettes[0].dark if kind == "graded" else None
    return (plan if book.random() < 0.6 else _bare(plan)), replace(look, ground=color, ground_to=to)


def _white_shapes(plan: PagePlan, look: Look) -> Made:
    """Rounded shapes by hand on black, without a line."""
    hand = replace(look.hand, border_wobble=look.hand.border_wobble + 2.0)
    panels = []
    for p in plan.panels:
        r = min(p.box[2] - p.box[0], p.box[3] - p.box[1]) * 0.09
        ring = p.shape.buffer(-r, join_style="mitre").buffer(r, quad_segs=5)
        points = np.asarray(ring.exterior.coords)[:-1][::-1]
        panels.append(replace(p, points=points, kind="rounded", border="hand"))
    ink: RGB = (14, 14, 16)
    style = "ink" if look.style == "onebit" else look.style
    dark_scenes = ("night", "starry")
    look = replace(look, hand=hand, ground=ink, border_rgb=ink, style=style, avoid=dark_scenes)
    return replace(plan, panels=tuple(panels)), look


def _inset(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    plan = make_grid(replace(idea, most=7, stack=0.05), w, h, rng)
    if rng.random() < 0.3:
        plan = with_bleeds(plan, _edges(rng, 3), rng)
    if rng.random() < 0.62:
        plan = with_insets(plan, rng, 3)
    else:
        plan = with_overlap(plan, rng)
        if all(p.depth == 0 for p in plan.panels):
            plan = with_insets(plan, rng, 2)
    return plan, replace(look, halo_px=float(rng.choice([0, 0, 5, 9])), burst=0.02, talk=0.55)


def _burst(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    plan = make_grid(replace(idea, most=8), w, h, rng)
    return plan, replace(look, burst=0.5, spill=0.45, effects=0.35)


def _gutter(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    thin = float(book.choice([0.0, 0.0, 0.002, 0.0035, 0.005]))
    share = thin + (look.border_px / 1400 if thin else 0.0)
    tilt = float(book.choice([0, 0, 6]))
    idea = replace(idea, gutter_share=(share, share), tier_tilt=tilt * 0.5, column_tilt=tilt)
    plan = make_grid(idea, w, h, rng)
    if thin and book.random() < 0.25:
        return _bare(plan), replace(
            look, ground=(250, 250, 248), burst=0.0, border_px=look.border_px
        )
    color: RGB = (16, 16, 18) if book.random() < 0.85 else (250, 250, 248)
    return plan, replace(look, border_rgb=color, burst=0.03)


def _shapes(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    return with_shapes(make_grid(replace(idea, most=8), w, h, rng), rng), replace(look, burst=0.04)


def _rtl(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    wide = (float(book.uniform(0.022, 0.034)), float(book.uniform(0.007, 0.013)))
    tilt = rng.random() < 0.6
    idea = replace(
        idea,
        gutter_share=wide,
        column_tilt=14.0 if tilt else 0.0,
        tier_tilt=4.0 if tilt else 0.0,
        most=8,
    )
    plan = make_grid(idea, w, h, rng)
    if rng.random() < 0.45:
        plan = with_bleeds(plan, _edges(rng, 3), rng, 0.5)
    if rng.random() < 0.2:
        plan = with_insets(plan, rng, 1)
    return mirrored(plan), replace(look, burst=0.12, spill=0.15, effects=0.2, rtl=True)


def _mixed(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    names = [
        "grid",
        "slanted",
        "borderless",
        "bleed",
        "ground",
        "inset",
        "burst",
        "gutter",
        "shaped",
    ]
    plan, now = _MAKERS[str(book.choice(names))](idea, look, w, h, book, rng)
    if rng.random() < 0.35 and all(p.host is None for p in plan.panels):
        plan = with_insets(plan, rng, 1)
    if rng.random() < 0.3:
        plan = with_bleeds(plan, _edges(rng, 2), rng, 0.5)
    return plan, replace(now, burst=max(now.burst, 0.12), spill=0.2)


def _decoys(
    idea: Idea, look: Look, w: float, h: float, book: np.random.Generator, rng: np.random.Generator
) -> Made:
    plan, now = _grid(replace(idea, most=7), look, w, h, book, rng)
    panels = tuple(
        replace(
            p, scene=str(rng.choice(["room", "street", "desk", "night"], p=[0.5, 0.26, 0.14, 0.1]))
        )
        for p in plan.panels
    )
    return replace(plan, panels=panels), replace(now, decoys=1.0, level=0.75)


Maker = Callable[[Idea, Look, float, float, np.random.Generator, np.random.Generator], Made]
_MAKERS: dict[str, Maker] = {
    "grid": _grid, "slanted": _slanted, "hand-drawn": _hand_drawn, "borderless": _borderless,
    "open": _open, "bleed": _bleed, "ground": _ground, "inset": _inset, "burst": _burst,
    "gutter": _gutter, "shaped": _shapes, "rtl": _rtl, "spread": _grid, "scan": _mixed,
    "low-resolution": _mixed, "one-bit": _mixed, "decoys": _decoys, "mixed": _mixed,
}  # fmt: skip
