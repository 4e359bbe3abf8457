"""Gutters: the strips between panels that face each other with nothing in between."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

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


def gutters_of(sheet: Sheet, order: Sequence[int]) -> tuple[Gutter, ...]:
    """Gutters between the panels of a page.

    Parameters
    ----------
    sheet : Sheet
        Panels laid flat and not mirrored.
    order : sequence of int
        Reading order; gutters name panels by their place in it.

    Returns
    -------
    tuple of Gutter
        Column gutters first, each kind by the places of its panels. Insets have none.
    """
    tops = np.array(sheet.tops, dtype=int)
    if len(tops) < 2:
        return ()
    place = {panel: k for k, panel in enumerate(order)}
    found: list[Gutter] = []
    for kind in (GutterKind.COLUMN, GutterKind.TIER):
        rings = sheet.rings[tops]
        if kind is GutterKind.TIER:
            rings = rings[:, :, ::-1]
        for near, far, strip in _strips(rings, sheet.width):
            pair = sorted((place[int(tops[near])], place[int(tops[far])]))
            found.append(_gutter(kind, (pair[0], pair[1]), strip))
    return tuple(sorted(found, key=lambda g: (g.kind is GutterKind.TIER, g.panels)))


def _strips(rings: np.ndarray, page_width: float) -> list[tuple[int, int, dict[str, float]]]:
    """Facing pairs along x, with the figures of the strip between them."""
    pairs = _facing(rings, page_width)
    if not pairs:
        return []
    near = np.array([p[0] for p in pairs])
    far = np.array([p[1] for p in pairs])
    low, high = np.array([p[2] for p in pairs]), np.array([p[3] for p in pairs])
    shares = np.linspace(0.06, 0.94, SAMPLES)
    at = low[:, None] + (high - low)[:, None] * shares
    _, right = extents_at(rings[near][:, None], at)
    left, _ = extents_at(rings[far][:, None], at)
    slope_a, offset_a, rms_a = fitted(right, at)
    slope_b, offset_b, rms_b = fitted(left, at)
    lean = np.arctan((slope_a + slope_b) / 2)
    widths = (left - right) * np.cos(lean)[:, None]
    keep = widths.mean(axis=1) <= MOST_WIDTH * page_width
    names = (
        "low",
        "high",
        "a0",
        "a1",
        "b0",
        "b1",
        "lean",
        "mean",
        "least",
        "most",
        "wobble",
        "taper",
    )
    columns = np.stack(
        [
            low, high, offset_a, slope_a, offset_b, slope_b, lean, widths.mean(axis=1),
            widths.min(axis=1), widths.max(axis=1), np.sqrt((rms_a**2 + rms_b**2) / 2),
            np.abs(np.arctan(slope_a) - np.arctan(slope_b)),
        ],
        axis=1,
    )  # fmt: skip
    return [
        (int(a), int(b), dict(zip(names, row.tolist(), strict=True)))
        for a, b, row, wanted in zip(near, far, columns, keep, strict=True)
        if wanted
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


def _gutter(kind: GutterKind, panels: tuple[int, int], s: dict[str, float]) -> Gutter:
    across = kind is GutterKind.TIER
    corners = np.array(
        [
            [s["a0"] + s["a1"] * s["low"], s["low"]],
            [s["b0"] + s["b1"] * s["low"], s["low"]],
            [s["b0"] + s["b1"] * s["high"], s["high"]],
            [s["a0"] + s["a1"] * s["high"], s["high"]],
        ]
    )
    touching = s["mean"] <= 1e-3 * (s["high"] - s["low"])
    strip = None if touching else as_outline(corners[:, ::-1] if across else corners)
    return Gutter(
        kind=kind,
        panels=panels,
        strip=strip,
        width=max(0.0, s["mean"]),
        width_min=max(0.0, s["least"]),
        width_max=max(0.0, s["most"]),
        length=(s["high"] - s["low"]) / math.cos(s["lean"]),
        # Counterclockwise to the eye: a level strip that rises to the right, an upright
        # one whose top leans to the left.
        angle_deg=math.degrees(-s["lean"] if across else s["lean"]) + 0.0,
        wobble=s["wobble"],
        taper_deg=math.degrees(s["taper"]),
    )
