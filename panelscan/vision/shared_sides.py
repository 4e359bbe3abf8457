"""Sides of neighbouring panels that are one and the same drawn line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from panelscan.model.panel import Panel, SideState

LEAST_SHARE = 0.5
MOST_TURN = 0.035
"""Sine of the angle by which two sides on one line may differ."""


def with_shared_sides(panels: Sequence[Panel], near_px: float) -> list[Panel]:
    """Panels whose drawn sides lie on a neighbour's side marked as shared.

    Parameters
    ----------
    panels : sequence of Panel
        In source pixels.
    near_px : float
        Sides that stay within this distance of each other are one line.

    Returns
    -------
    list of Panel
        The same panels; only the states of sides change.

    Notes
    -----
    Rings turn the same way, so a line between two panels is walked in opposite directions.
    """
    states = [[side.state for side in p.sides] for p in panels]
    for i, one in enumerate(panels):
        for j in range(i + 1, len(panels)):
            for a, b in _on_one_line(one, panels[j], near_px):
                seen = {states[i][a], states[j][b]}
                # A line that was seen for one of the two is there for the other as well.
                if seen & {SideState.DRAWN, SideState.SHARED} and SideState.BLEED not in seen:
                    states[i][a] = states[j][b] = SideState.SHARED
    return [
        replace(p, sides=tuple(replace(s, state=t) for s, t in zip(p.sides, told, strict=True)))
        for p, told in zip(panels, states, strict=True)
    ]


def _on_one_line(one: Panel, other: Panel, near_px: float) -> list[tuple[int, int]]:
    """Pairs of sides, one of each panel, that run along each other in opposite directions."""
    pairs = []
    if not one.sides or not other.sides or not _touch(one, other, near_px):
        return []
    for a, (p, q) in enumerate(one.outline.edges()):
        start, run = np.array(p), np.array(q) - np.array(p)
        length = float(np.hypot(*run))
        along = run / max(length, 1e-9)
        for b, (r, s) in enumerate(other.outline.edges()):
            ends = np.array([r, s]) - start
            other_run = ends[1] - ends[0]
            other_length = float(np.hypot(*other_run))
            way = other_run / max(other_length, 1e-9)
            if along @ way > 0 or abs(along[0] * way[1] - along[1] * way[0]) > MOST_TURN:
                continue
            off = np.abs(ends[:, 0] * along[1] - ends[:, 1] * along[0])
            low, high = np.sort(ends @ along)
            common = min(high, length) - max(low, 0.0)
            if off.max() <= near_px and common >= LEAST_SHARE * min(length, other_length):
                pairs.append((a, b))
    return pairs


def _touch(one: Panel, other: Panel, near_px: float) -> bool:
    x0, y0, x1, y1 = one.outline.bounds
    u0, v0, u1, v1 = other.outline.bounds
    apart = max(u0 - x1, x0 - u1, v0 - y1, y0 - v1)
    return apart <= near_px
