"""Gutters: the strips between panels that face each other with nothing in between."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.layout.frame import as_outline
from panelscan.layout.profiles import extents_at, fitted
from panelscan.layout.sheet import Sheet
from panelscan.model.grid import Gutter, GutterKind

LEAST_FACING = 0.15
"""Facing part, as a share of the smaller panel's side, from which two panels have a gutter."""
MOST_WIDTH = 0.2
"""Share of the page's width above which free room is no gutter any more."""
MOST_OVERLAP = 0.004
"""Share of the page's width by which sides may cross and still touch."""
SAMPLES = 9


@dataclass(frozen=True)
class Strip:
    """Room between two facing panels, by panel index; figures as of the fitted sides.

    Coordinates are those of the sheet: ``x = offset + slope * y`` for the two sides of an
    upright strip between ``low`` and ``high``; x and y change places for a level one.
    """

    kind: GutterKind
    near: int
    far: int
    low: float
    high: float
    near_side: tuple[float, float]
    far_side: tuple[float, float]
    lean: float
    width: float
    width_min: float
    width_max: float
    wobble: float
    taper: float


def strips_of(sheet: Sheet) -> tuple[Strip, ...]:
    """Strips between panels that face each other; insets have none.

    Parameters
    ----------
    sheet : Sheet
        Panels laid flat.
    """
    tops = np.array(sheet.tops, dtype=int)
    if len(tops) < 2:
        return ()
    found: list[Strip] = []
    for kind in (GutterKind.COLUMN, GutterKind.TIER):
        rings = sheet.rings[tops]
        if kind is GutterKind.TIER:
            rings = rings[:, :, ::-1]
        found += _strips(kind, rings, tops, sheet.width)
    return tuple(found)


def gutters_of(sheet: Sheet, strips: Sequence[Strip], order: Sequence[int]) -> tuple[Gutter, ...]:
    """Gutters of a page from its strips.

    Parameters
    ----------
    sheet : Sheet
        Panels laid flat and not mirrored.
    strips : sequence of Strip
        From `strips_of` on the same sheet.
    order : sequence of int
        Reading order; gutters name panels by their place in it.

    Returns
    -------
    tuple of Gutter
        Column gutters first, each kind by the places of its panels.
    """
    place = {panel: k for k, panel in enumerate(order)}
    found = []
    for strip in strips:
        a, b = sorted((place[strip.near], place[strip.far]))
        found.append(_gutter(strip, (a, b), sheet))
    return tuple(sorted(found, key=lambda g: (g.kind is GutterKind.TIER, g.panels)))


def _strips(
    kind: GutterKind, rings: np.ndarray, names: np.ndarray, page_width: float
) -> list[Strip]:
    """Facing pairs along x, with the figures of the strip between them."""
    pairs = _facing(rings, page_width)
    if not pairs:
        return []
    near, far = (np.array([p[k] for p in pairs]) for k in (0, 1))
    low, high = (np.array([p[k] for p in pairs]) for k in (2, 3))
    at = low[:, None] + (high - low)[:, None] * np.linspace(0.06, 0.94, SAMPLES)
    _, right = extents_at(rings[near][:, None], at)
    left, _ = extents_at(rings[far][:, None], at)
    slope_a, offset_a, rms_a = fitted(right, at)
    slope_b, offset_b, rms_b = fitted(left, at)
    lean = np.arctan((slope_a + slope_b) / 2)
    widths = (left - right) * np.cos(lean)[:, None]
    taper = np.abs(np.arctan(slope_a) - np.arctan(slope_b))
    return [
        Strip(
            kind,
            int(names[near[k]]),
            int(names[far[k]]),
            float(low[k]),
            float(high[k]),
            (float(offset_a[k]), float(slope_a[k])),
            (float(offset_b[k]), float(slope_b[k])),
            float(lean[k]),
            float(widths[k].mean()),
            float(widths[k].min()),
            float(widths[k].max()),
            math.sqrt(float(rms_a[k] ** 2 + rms_b[k] ** 2) / 2),
            float(taper[k]),
        )
        for k in range(len(pairs))
        if widths[k].mean() <= MOST_WIDTH * page_width
    ]


def _facing(rings: np.ndarray, page_width: float) -> list[tuple[int, int, float, float]]:
    """Pairs that see each other along x: near, far, and the heights where they do."""
    bottoms, tops = rings[..., 1].max(axis=1), rings[..., 1].min(axis=1)
    marks = np.unique(np.round(np.concatenate([tops, bottoms]), 6))
    steps = np.diff(marks)
    wide = steps > 1e-4 * page_width
    middles, steps, starts = ((marks[:-1] + marks[1:]) / 2)[wide], steps[wide], marks[:-1][wide]
    left, right = extents_at(rings[None], middles[:, None] * np.ones((1, len(rings))))
    seen: dict[tuple[int, int], list[float]] = {}
    for row in range(len(middles)):
        active = np.nonzero(~np.isnan(left[row]))[0]
        active = active[np.argsort(left[row, active] + right[row, active], kind="stable")]
        for a, b in itertools.pairwise(active):
            if left[row, b] - right[row, a] >= -MOST_OVERLAP * page_width:
                span = seen.setdefault((int(a), int(b)), [math.inf, -math.inf, 0.0])
                span[0] = min(span[0], float(starts[row]))
                span[1] = max(span[1], float(starts[row] + steps[row]))
                span[2] += float(steps[row])
    heights = bottoms - tops
    return [
        (a, b, low, high)
        for (a, b), (low, high, length) in seen.items()
        if length >= LEAST_FACING * min(heights[a], heights[b])
    ]


def _gutter(strip: Strip, panels: tuple[int, int], sheet: Sheet) -> Gutter:
    across = strip.kind is GutterKind.TIER
    corners = np.array(
        [
            [offset + slope * end, end]
            for (offset, slope), end in (
                (strip.near_side, strip.low),
                (strip.far_side, strip.low),
                (strip.far_side, strip.high),
                (strip.near_side, strip.high),
            )
        ]
    )
    touching = strip.width <= 1e-3 * (strip.high - strip.low)
    shape = None if touching else as_outline(corners[:, ::-1] if across else corners)
    middle = float(corners[:, 0].mean()) / (sheet.height if across else sheet.width)
    return Gutter(
        kind=strip.kind,
        panels=panels,
        strip=shape,
        width=max(0.0, strip.width),
        width_min=max(0.0, strip.width_min),
        width_max=max(0.0, strip.width_max),
        length=(strip.high - strip.low) / math.cos(strip.lean),
        # Counterclockwise to the eye: a level strip that rises to the right, an upright
        # one whose top leans to the left.
        angle_deg=math.degrees(-strip.lean if across else strip.lean) + 0.0,
        wobble=strip.wobble,
        taper_deg=math.degrees(strip.taper),
        position_share=middle,
    )
