"""Strokes that are no border: the gutter itself, an inset's rim, a pale strip of art.

Seen across, a thin white gutter between two paintings, or the rim of ground that keeps an
inset clear of its host, is a stroke of one tone along the whole side, as a border is. But it
has the ground's own colour. The panel ends at its inner edge, or at the border just within.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from panelscan.vision.stroke import SideFit, measure_sides


@dataclass(frozen=True, slots=True)
class GroundStrokeSettings:
    """When a stroke is no border.

    Parameters
    ----------
    same : float
        Tones no farther apart than this, in gray levels, are one.
    most_width : float
        Borders are no wider, in thousandths of the page's long side.
    search_px : float
        How far from the inner edge of a rim a border is looked for, at most.
    least_support : float
        Share of the side along which that border must show.
    """

    same: float = 40.0
    most_width: float = 10.0
    search_px: float = 4.0
    least_support: float = 0.6


def without_ground_strokes(
    gray: np.ndarray,
    fits: Sequence[SideFit],
    ground_tone: float,
    scale: float = 1.0,
    settings: GroundStrokeSettings | None = None,
) -> list[SideFit]:
    """Measured sides, those on a stroke of the ground's own tone moved to where the panel ends.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
        The page at the resolution measured at.
    fits : sequence of SideFit
        In ring order of their panels: the inside is on the right hand.
    ground_tone : float
        Gray of the page between its panels, 0..255.
    scale : float
        Pixels per unit of the stroke model; see `measure_sides`.
    settings : GroundStrokeSettings or None

    Returns
    -------
    list of SideFit
        In the same order; the others untouched.

    Examples
    --------
    >>> page = np.full((100, 200), 90, np.uint8)
    >>> page[40:46], page[46:48] = 255, 0
    >>> fit = SideFit((10, 43), (190, 43), "line", 6.0, 0.5, 0.0, 1.0, tones=(90, 255, 60))
    >>> moved = without_ground_strokes(page, [fit], 255.0)[0]
    >>> round(moved.p0[1], 1), moved.kind
    (47.0, 'line')
    """
    s = settings or GroundStrokeSettings()
    widest = s.most_width * max(gray.shape) / 1000.0
    found = list(fits)
    rims = [k for k, fit in enumerate(fits) if _is_line(fit) and _is_ground(fit, 1, ground_tone, s)]
    for k, fit in enumerate(fits):
        if _is_line(fit) and _is_ground(fit, 0, ground_tone, s) and (fit.border_px or 0) > widest:
            found[k] = _edge_of(fit, outward=True)
    if not rims:
        return found
    edges = [_edge_of(fits[k], outward=False) for k in rims]
    rough = np.array([[*e.p0, *e.p1] for e in edges])
    within = measure_sides(gray, rough, s.search_px * scale, scale)
    for k, edge, fit in zip(rims, edges, within, strict=True):
        border = _is_line(fit) and fit.support >= s.least_support
        border = border and _is_ground(fit, 0, ground_tone, s)
        found[k] = fit if border and not _is_ground(fit, 1, ground_tone, s) else edge
    return found


def _is_line(fit: SideFit) -> bool:
    return fit.kind == "line" and fit.tones is not None and fit.border_px is not None


def _is_ground(fit: SideFit, which: int, ground_tone: float, s: GroundStrokeSettings) -> bool:
    """Whether the outer (0) or the stroke's (1) tone of a side is the ground's."""
    # A thin stroke's own tone is reckoned, and may lie beyond what there is.
    tone = float(np.clip(fit.tones[which], 0, 255)) if fit.tones else -1e9
    return abs(tone - ground_tone) <= s.same


def _edge_of(fit: SideFit, outward: bool) -> SideFit:
    """The outer or the inner edge of a stroke, as an edge of tone."""
    a, b = np.asarray(fit.p0), np.asarray(fit.p1)
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    inward = np.array([-along[1], along[0]]) * (-0.5 if outward else 0.5) * (fit.border_px or 0.0)
    outer, stroke, inner = fit.tones or (0.0, 0.0, 0.0)
    (ax, ay), (bx, by) = (a + inward).tolist(), (b + inward).tolist()
    tones = (outer, outer, stroke) if outward else (stroke, stroke, inner)
    return replace(fit, p0=(ax, ay), p1=(bx, by), kind="edge", border_px=None, tones=tones)
