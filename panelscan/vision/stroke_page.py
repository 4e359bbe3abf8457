"""What the borders of a page have in common, for the sides where ink hides part of the stroke.

Ruled borders of a page have one weight. Where solid black art, a caption or a balloon swallows
one edge of the stroke, the middle of what is left is not the middle of the border; but its
outer edge still stands, and half the page's usual weight further in lies the middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from panelscan.vision.stroke import SideFit

LEAST_LINES = 3
FEW_LINES = 6
"""Of fewer lines than these three in four must be alike."""
MOST_SPREAD = 0.13
WIDER, NARROWER = 1.13, 0.87


@dataclass(frozen=True, slots=True)
class UsualBorder:
    """Usual border of a page: width in decoded pixels, gray outside it and of the stroke."""

    width_px: float
    outer: float
    stroke: float


def usual_border(fits: Sequence[SideFit]) -> UsualBorder | None:
    """Width and tones that most of a page's drawn lines share; None where they do not.

    Parameters
    ----------
    fits : sequence of SideFit
        All sides measured on the page.
    """
    lines = [f for f in fits if f.kind == "line" and f.support >= 0.5]
    lines = [f for f in lines if f.border_px is not None and f.tones is not None]
    if len(lines) < LEAST_LINES:
        return None
    widths = np.array([f.border_px for f in lines], dtype=np.float64)
    tones = np.array([f.tones for f in lines], dtype=np.float64)
    middle = float(np.median(widths))
    alike = np.abs(widths - middle) <= MOST_SPREAD * middle + 0.15
    # A wide stroke of the hand varies; only a ruled border may correct others.
    if alike.sum() < LEAST_LINES or alike.mean() < (0.6 if len(lines) >= FEW_LINES else 0.75):
        return None
    outer, stroke, _ = np.median(tones[alike], axis=0)
    if abs(outer - stroke) < 40:
        return None
    return UsualBorder(middle, float(outer), float(stroke))


def with_usual_border(fits: Sequence[SideFit]) -> list[SideFit]:
    """Sides whose stroke shows only its outer edge, moved to where its middle must lie.

    Parameters
    ----------
    fits : sequence of SideFit
        All sides measured on the page.

    Returns
    -------
    list of SideFit
        In the same order; the others untouched.
    """
    usual = usual_border(fits)
    return [f if usual is None else _corrected(f, usual) for f in fits]


def _corrected(fit: SideFit, usual: UsualBorder) -> SideFit:
    if not fit.found or fit.tones is None:
        return fit
    outer, stroke, inner = fit.tones
    reach = abs(usual.outer - usual.stroke)
    if abs(outer - usual.outer) > 0.2 * reach:
        return fit
    if fit.kind == "edge":
        # From the ground straight into the stroke's own tone: black art hides its inner edge.
        if abs(inner - usual.stroke) > 0.2 * reach:
            return fit
        return _moved_in(fit, usual.width_px / 2, usual)
    width = fit.border_px or usual.width_px
    if NARROWER * usual.width_px <= width <= WIDER * usual.width_px:
        return fit
    if abs(stroke - usual.stroke) > 0.25 * reach:
        return fit
    return _moved_in(fit, (usual.width_px - width) / 2, usual)


def _moved_in(fit: SideFit, by: float, usual: UsualBorder) -> SideFit:
    """Side shifted towards the inside of its panel, as a line of the usual width."""
    run = np.array(fit.p1) - np.array(fit.p0)
    length = float(np.hypot(*run))
    if length <= 0:
        return fit
    x, y = -run[1] / length * by, run[0] / length * by
    return replace(
        fit,
        p0=(fit.p0[0] + x, fit.p0[1] + y),
        p1=(fit.p1[0] + x, fit.p1[1] + y),
        kind="line",
        border_px=usual.width_px,
    )
