"""Grids drawn at random from a seed, as an artist might lay them out; with known changes.

Tiers with columns and stacks, some slanted gutters, bleeds, insets and splashes; jittered,
merged, split and mirrored copies are made from them, so that the truth is known.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge

LEFT, TOP, RIGHT, BOTTOM = PageEdge.LEFT, PageEdge.TOP, PageEdge.RIGHT, PageEdge.BOTTOM
ASPECTS = (0.647, 0.707, 0.667)


def draw_grid(rng: np.random.Generator, tidy: bool = False) -> Grid:
    """One grid; with `tidy` no slants, insets or bleeds."""
    aspect = float(rng.choice(ASPECTS))
    gutter = float(rng.uniform(0.012, 0.03))
    x0, x1 = 0.06, 0.94
    y0, y1 = 0.05, 0.95
    if not tidy and rng.random() < 0.06:
        return Grid((GridPanel(Outline.box(0, 0, 1, 1), frozenset(PageEdge)),), aspect)
    panels: list[GridPanel] = []
    tiers = int(rng.choice([1, 2, 3, 4, 5], p=[0.05, 0.2, 0.45, 0.25, 0.05]))
    cuts = _cuts(rng, tiers, y0, y1, gutter * aspect)
    for top, bottom in cuts:
        columns = int(rng.choice([1, 2, 3, 4], p=[0.25, 0.4, 0.27, 0.08]))
        slant = 0.0 if tidy or rng.random() < 0.8 else float(rng.uniform(-0.05, 0.05))
        spans = _cuts(rng, columns, x0, x1, gutter)
        for k, (left, right) in enumerate(spans):
            lean_l = slant if k > 0 else 0.0
            lean_r = slant if k < columns - 1 else 0.0
            stacked = columns > 1 and tiers <= 3 and rng.random() < 0.12
            if stacked and not lean_l and not lean_r:
                for t, b in _cuts(rng, 2, top, bottom, gutter * aspect):
                    panels.append(GridPanel(Outline.box(left, t, right, b)))
            else:
                panels.append(
                    GridPanel(
                        Outline.of(
                            [
                                (left + lean_l, top),
                                (right + lean_r, top),
                                (right - lean_r, bottom),
                                (left - lean_l, bottom),
                            ]
                        )
                    )
                )
    if not tidy and rng.random() < 0.12:
        panels = _bled(rng, panels)
    if not tidy and rng.random() < 0.06:
        panels = _with_inset(rng, panels)
    return Grid(tuple(panels), aspect)


def draw_grids(count: int, seed: int, tidy: bool = False) -> list[Grid]:
    """`count` grids; the same for the same seed."""
    rng = np.random.default_rng(seed)
    return [draw_grid(rng, tidy) for _ in range(count)]


def draw_distinct(count: int, seed: int, within: float = 0.03) -> list[Grid]:
    """`count` grids of which no two are the same.

    The same means: as many panels, and no corner or side farther apart than `within` of
    the page, which is three times a jitter of 1 %.
    """
    rng = np.random.default_rng(seed)
    kept: dict[int, np.ndarray] = {}
    sizes: dict[int, int] = {}
    grids: list[Grid] = []
    while len(grids) < count:
        grid = draw_grid(rng)
        sides = np.concatenate(
            [np.array([*p.outline.bounds, *p.outline.array()[:4].ravel()]) for p in grid.panels]
        )
        length = len(sides)
        known, size = kept.setdefault(length, np.empty((64, length))), sizes.get(length, 0)
        if size and (np.abs(known[:size] - sides).max(axis=1) <= within).any():
            continue
        if size == len(known):
            known = kept[length] = np.concatenate([known, np.empty_like(known)])
        known[size] = sides
        sizes[length] = size + 1
        grids.append(grid)
    return grids


def jittered(grid: Grid, rng: np.random.Generator, share: float = 0.01) -> Grid:
    """Every corner moved by up to `share` of the page in x and in y."""
    panels = []
    for panel in grid.panels:
        for _ in range(20):
            moved = panel.outline.array() + rng.uniform(
                -share, share, (len(panel.outline.points), 2)
            )
            try:
                panels.append(replace(panel, outline=Outline.of(moved)))
                break
            except ValueError:
                continue
        else:
            panels.append(panel)
    return replace(grid, panels=tuple(panels))


def split(grid: Grid, rng: np.random.Generator) -> Grid:
    """The largest panel cut in two, across its longer side."""
    index = int(np.argmax([p.outline.area for p in grid.panels]))
    panel = grid.panels[index]
    x0, y0, x1, y1 = panel.outline.bounds
    share = float(rng.uniform(0.35, 0.65))
    if (x1 - x0) * grid.aspect >= y1 - y0:
        cut = x0 + share * (x1 - x0)
        parts = [(x0, y0, cut - 0.01, y1), (cut + 0.01, y0, x1, y1)]
    else:
        cut = y0 + share * (y1 - y0)
        parts = [(x0, y0, x1, cut - 0.007), (x0, cut + 0.007, x1, y1)]
    new = [GridPanel(Outline.box(*p), panel.bleed) for p in parts]
    panels = [*grid.panels[:index], *new, *grid.panels[index + 1 :]]
    return replace(grid, panels=tuple(panels))


def merged(grid: Grid, rng: np.random.Generator) -> Grid | None:
    """Two neighbours that share a whole side joined to one; None where there are none."""
    pairs = []
    for k in range(len(grid) - 1):
        a, b = grid.panels[k].outline.bounds, grid.panels[k + 1].outline.bounds
        same_tier = abs(a[1] - b[1]) < 1e-6 and abs(a[3] - b[3]) < 1e-6
        same_column = abs(a[0] - b[0]) < 1e-6 and abs(a[2] - b[2]) < 1e-6
        if same_tier or same_column:
            pairs.append(k)
    if not pairs:
        return None
    k = int(rng.choice(pairs))
    a, b = grid.panels[k], grid.panels[k + 1]
    box = [
        f(u, v)
        for f, u, v in zip((min, min, max, max), a.outline.bounds, b.outline.bounds, strict=True)
    ]
    joined = GridPanel(Outline.box(*box), a.bleed | b.bleed)
    return replace(grid, panels=(*grid.panels[:k], joined, *grid.panels[k + 2 :]))


def _cuts(
    rng: np.random.Generator, count: int, low: float, high: float, gutter: float
) -> list[tuple[float, float]]:
    even = rng.random() < 0.4
    weights = np.ones(count) if even else rng.uniform(0.6, 1.6, count)
    lengths = weights / weights.sum() * (high - low - gutter * (count - 1))
    starts = low + np.concatenate([[0], np.cumsum(lengths[:-1] + gutter)])
    return [(float(s), float(s + n)) for s, n in zip(starts, lengths, strict=True)]


def _bled(rng: np.random.Generator, panels: list[GridPanel]) -> list[GridPanel]:
    """One outer panel taken to the page's edges that it lies nearest to."""
    k = int(rng.integers(len(panels)))
    x0, y0, x1, y1 = panels[k].outline.bounds
    edges = set()
    if x0 < 0.07:
        x0, _ = 0.0, edges.add(LEFT)
    if y0 < 0.06:
        y0, _ = 0.0, edges.add(TOP)
    if x1 > 0.93:
        x1, _ = 1.0, edges.add(RIGHT)
    if y1 > 0.94:
        y1, _ = 1.0, edges.add(BOTTOM)
    if not edges or len(panels[k].outline.points) != 4:
        return panels
    return [*panels[:k], GridPanel(Outline.box(x0, y0, x1, y1), frozenset(edges)), *panels[k + 1 :]]


def _with_inset(rng: np.random.Generator, panels: list[GridPanel]) -> list[GridPanel]:
    """A small panel laid in a corner of the largest, read right after it."""
    k = int(np.argmax([p.outline.area for p in panels]))
    x0, y0, x1, y1 = panels[k].outline.bounds
    w, h = (x1 - x0) * rng.uniform(0.2, 0.35), (y1 - y0) * rng.uniform(0.2, 0.35)
    inset = GridPanel(
        Outline.box(x1 - 0.02 - w, y1 - 0.02 - h, x1 - 0.02, y1 - 0.02), host=k, depth=1
    )
    return [*panels[: k + 1], inset, *panels[k + 1 :]]


def draw_book(pages: int, seed: int) -> list[Grid]:
    """Pages of one made-up artist: their own tiers, gutters, evenness, slants and bleeds."""
    rng = np.random.default_rng(seed)
    tiers = rng.dirichlet(np.full(5, 0.7))
    columns = rng.dirichlet(np.full(4, 0.8))
    gutter, aspect = float(rng.uniform(0.008, 0.035)), float(rng.choice(ASPECTS))
    x0, y0 = float(rng.uniform(0.03, 0.09)), float(rng.uniform(0.03, 0.09))
    unevenness, slants, bleeds = rng.uniform(0, 0.6), rng.uniform(0, 0.4), rng.uniform(0, 0.4)
    grids = []
    for _ in range(pages):
        panels: list[GridPanel] = []
        for top, bottom in _shares(rng, int(rng.choice(5, p=tiers)) + 1, y0, 1 - y0,
                                   gutter * aspect, unevenness):  # fmt: skip
            spans = _shares(rng, int(rng.choice(4, p=columns)) + 1, x0, 1 - x0, gutter, unevenness)
            slant = float(rng.uniform(-0.04, 0.04)) if rng.random() < slants else 0.0
            for k, (left, right) in enumerate(spans):
                low, high = slant * (k > 0), slant * (k < len(spans) - 1)
                corners = [(left + low, top), (right + high, top), (right - high, bottom),
                           (left - low, bottom)]  # fmt: skip
                panels.append(GridPanel(Outline.of(corners)))
        grids.append(Grid(tuple(_bled(rng, panels) if rng.random() < bleeds else panels), aspect))
    return grids


def _shares(
    rng: np.random.Generator, count: int, low: float, high: float, gutter: float, unevenness: float
) -> list[tuple[float, float]]:
    weights = 1 + unevenness * rng.uniform(-1, 1, count)
    lengths = weights / weights.sum() * (high - low - gutter * (count - 1))
    starts = low + np.concatenate([[0], np.cumsum(lengths[:-1] + gutter)])
    return [(float(s), float(s + n)) for s, n in zip(starts, lengths, strict=True)]
