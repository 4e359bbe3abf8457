"""Gutters: the strips between panels that face each other with nothing in between."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from panelscan.layout.frame import FrameMap, as_outlines
from panelscan.layout.profiles import extents_at, fitted
from panelscan.layout.sheet import Sheet
from panelscan.model.grid import Gutter, GutterKind
from panelscan.model.outline import Outline

LEAST_FACING = 0.15
"""Facing part, as a share of the smaller panel's side, from which two panels have a gutter."""
MOST_WIDTH = 0.2
"""Share of the page's width above which free room is no gutter any more."""
MOST_OVERLAP = 0.004
"""Share of the page's width by which sides may cross and still touch."""
MOST_LEAN = math.pi / 4
"""A strip that leans farther is of the other kind."""
SAMPLES = 9


class Strip(NamedTuple):
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


def gutters_of(
    sheet: Sheet, strips: Sequence[Strip], order: Sequence[int], back: FrameMap | None = None
) -> tuple[Gutter, ...]:
    """Gutters of a page from its strips.

    Parameters
    ----------
    sheet : Sheet
        Panels laid flat and not mirrored.
    strips : sequence of Strip
        From `strips_of` on the same sheet.
    order : sequence of int
        Reading order; gutters name panels by their place in it.
    back : FrameMap, optional
        Carries the strips back into the source image.

    Returns
    -------
    tuple of Gutter
        Column gutters first, each kind by the places of its panels.
    """
    place = {panel: k for k, panel in enumerate(order)}
    shapes = _shapes(strips, back)
    found = []
    for strip, shape in zip(strips, shapes, strict=True):
        a, b = sorted((place[strip.near], place[strip.far]))
        found.append(_gutter(strip, (a, b), shape, sheet))
    return tuple(sorted(found, key=lambda g: (g.kind is GutterKind.TIER, g.panels)))


def neighbours_of(gutters: Sequence[Gutter]) -> dict[int, set[int]]:
    """For each panel (place in the order) the panels that it faces across a gutter."""
    found: dict[int, set[int]] = {}
    for gutter in gutters:
        a, b = gutter.panels
        found.setdefault(a, set()).add(b)
        found.setdefault(b, set()).add(a)
    return found


def shared_sides(gutters: Sequence[Gutter]) -> tuple[tuple[int, int], ...]:
    """Pairs of panels (places in the order) whose sides touch: one line serves both."""
    return tuple(gutter.panels for gutter in gutters if gutter.strip is None)


def _strips(
    kind: GutterKind, rings: np.ndarray, names: np.ndarray, page_width: float
) -> list[Strip]:
    """Facing pairs along x, with the figures of the strip between them."""
    near, far, low, high = _facing(rings, page_width)
    if not len(near):
        return []
    at = low[:, None] + (high - low)[:, None] * np.linspace(0.06, 0.94, SAMPLES)
    # Both sides of all strips in one go: the far side of the near panel, then the near one.
    lefts, rights = extents_at(rings[np.concatenate([near, far])][:, None], np.vstack([at, at]))
    right, left = rights[: len(near)], lefts[len(near) :]
    slopes, offsets, rms = fitted(np.vstack([right, left]), np.vstack([at, at]))
    (slope_a, slope_b), (offset_a, offset_b) = slopes.reshape(2, -1), offsets.reshape(2, -1)
    rms_a, rms_b = rms.reshape(2, -1)
    lean = np.arctan((slope_a + slope_b) / 2)
    widths = (left - right) * np.cos(lean)[:, None]
    taper = np.abs(np.arctan(slope_a) - np.arctan(slope_b))
    wobble = np.sqrt((rms_a**2 + rms_b**2) / 2)
    figures = np.stack(
        [
            low, high, offset_a, slope_a, offset_b, slope_b, lean,
            widths.mean(axis=1), widths.min(axis=1), widths.max(axis=1), wobble, taper,
        ],
        axis=1,
    )  # fmt: skip
    return [
        Strip(kind, int(a), int(b), f[0], f[1], (f[2], f[3]), (f[4], f[5]), *f[6:])
        for a, b, f in zip(names[near], names[far], figures.tolist(), strict=True)
        if f[7] <= MOST_WIDTH * page_width and abs(f[6]) <= MOST_LEAN
    ]


def _facing(
    rings: np.ndarray, page_width: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Pairs that see each other along x: near, far, and the heights where they do."""
    bottoms, tops = rings[..., 1].max(axis=1), rings[..., 1].min(axis=1)
    marks = np.unique(np.concatenate([tops, bottoms]))
    steps = np.diff(marks)
    wide = steps > 1e-4 * page_width
    middles, steps, starts = ((marks[:-1] + marks[1:]) / 2)[wide], steps[wide], marks[:-1][wide]
    row, panel = np.nonzero((tops <= middles[:, None]) & (middles[:, None] < bottoms))
    left, right = extents_at(rings[panel], middles[row])
    along = np.lexsort((left + right, row))
    row, panel, left, right = row[along], panel[along], left[along], right[along]
    seen = row[1:] == row[:-1]  # neighbours on one level
    seen &= left[1:] - right[:-1] >= -MOST_OVERLAP * page_width
    row, pair = row[1:][seen], panel[:-1][seen] * len(rings) + panel[1:][seen]
    pairs, first, group = np.unique(pair, return_index=True, return_inverse=True)
    length = np.bincount(group, steps[row], minlength=len(pairs))
    last = np.zeros(len(pairs), dtype=int)
    last[group] = row  # rows run downward: the last one written is the lowest
    near, far = pairs // len(rings), pairs % len(rings)
    heights = bottoms - tops
    facing = length >= LEAST_FACING * np.minimum(heights[near], heights[far])
    found = np.argsort(first, kind="stable")
    found = found[facing[found]]
    low, high = starts[row[first]], (starts + steps)[last]
    return near[found], far[found], low[found], high[found]


def _corners(strip: Strip) -> list[tuple[float, float]]:
    """Corners of a strip along its fitted sides."""
    (a0, a1), (b0, b1), low, high = strip.near_side, strip.far_side, strip.low, strip.high
    ring = [
        (a0 + a1 * low, low),
        (b0 + b1 * low, low),
        (b0 + b1 * high, high),
        (a0 + a1 * high, high),
    ]
    if strip.kind is GutterKind.TIER:
        return [(x, y) for y, x in ring]
    return ring


def _shapes(strips: Sequence[Strip], back: FrameMap | None) -> list[Outline | None]:
    """Outlines of strips, in the source image where a map is given; None where sides touch."""
    if not strips:
        return []
    corners = np.array([_corners(strip) for strip in strips])
    if back is not None:
        corners = back.to_source(corners.reshape(-1, 2)).reshape(corners.shape)
    wide = [strip.width > 1e-3 * (strip.high - strip.low) for strip in strips]
    outlines = iter(as_outlines(corners[wide]))
    return [next(outlines) if has_width else None for has_width in wide]


def _gutter(strip: Strip, panels: tuple[int, int], shape: Outline | None, sheet: Sheet) -> Gutter:
    across = strip.kind is GutterKind.TIER
    (a0, a1), (b0, b1) = strip.near_side, strip.far_side
    middle = (a0 + b0 + (a1 + b1) * (strip.low + strip.high) / 2) / 2
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
        position_share=middle / (sheet.height if across else sheet.width),
    )
