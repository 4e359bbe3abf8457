"""Sides measured at full size, and what each of them is: drawn, inferred, bleed or shared."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, PageImage
from panelscan.model.panel import Ground, Panel, Side, SideState
from panelscan.vision.candidates import Candidate
from panelscan.vision.stroke_outline import page_scale, refine_outlines
from panelscan.vision.working import Working

LUMA = (0.299, 0.587, 0.114)
"""Weights of red, green and blue in gray, as OpenCV takes them (ITU-R BT.601, section 2.5.1)."""


@dataclass(frozen=True, slots=True)
class MeasureSettings:
    """Search range in working pixels, and what counts as seen."""

    search: float = 2.2
    outward: float = 1.4
    net_slack: float = 2.0
    least_wall: float = 0.3
    bleed_share: float = 0.5
    most_corners: int = 8


def measure_panels(
    image: PageImage,
    work: Working,
    chosen: list[Candidate],
    ground: Ground | None = None,
    settings: MeasureSettings | None = None,
) -> list[Panel]:
    """Chosen candidates as panels in source pixels, sides measured.

    Parameters
    ----------
    image : PageImage
        The page as decoded.
    work : Working
        The same at working size.
    chosen : list of Candidate
        In working pixels.
    ground : Ground or None
        What lies between the panels, where that is known.
    settings : MeasureSettings or None

    Returns
    -------
    list of Panel
        In the same order; confidence not yet set.
    """
    s = settings or MeasureSettings()
    gray = image.pixels
    if gray.ndim == 3:
        gray = np.asarray(cv2.cvtColor(gray, cv2.COLOR_RGB2GRAY))
    rough = [_rough(image, work, c, s) for c in chosen]
    ruled = [r for r in rough if len(r.outline.points) <= s.most_corners]
    pixel = float(np.sqrt(abs(np.linalg.det(work.to_source)))) / image.reduction
    search = s.search * pixel + 1.0
    # All sides of the page together: that costs far less than panel by panel.
    tone = None if ground is None else float(np.dot(ground.rgb, LUMA))
    scale = page_scale(gray.shape)
    fits = refine_outlines(
        gray, [r.outline for r in ruled], search, [r.fixed for r in ruled], tone, scale
    )
    # Found from the art's outer edge, a side may move in by half a border but hardly out:
    # what lies further out is the gutter or the next panel's border.
    held = [
        [*r.fixed, *_strayed(r.outline, fit[0], (s.outward + r.slack) * pixel + 0.5)]
        for r, fit in zip(ruled, fits, strict=True)
    ]
    again = [k for k, r in enumerate(ruled) if len(held[k]) > len(r.fixed)]
    better = refine_outlines(
        gray, [ruled[k].outline for k in again], search, [held[k] for k in again], tone, scale
    )
    exact = dict(zip(map(id, ruled), fits, strict=True))
    exact |= {id(ruled[k]): fit for k, fit in zip(again, better, strict=True)}
    return [_panel(image, r, exact.get(id(r)), s) for r in rough]


@dataclass(frozen=True, eq=False)
class _Rough:
    """A chosen panel in decoded pixels before it is measured."""

    outline: Outline
    sides: tuple[Side, ...]
    slack: float = 0.0

    @property
    def fixed(self) -> list[int]:
        """Sides that lie on the page's edge and must stay there."""
        return [i for i, side in enumerate(self.sides) if side.state is SideState.BLEED]


def _rough(image: PageImage, work: Working, candidate: Candidate, s: MeasureSettings) -> _Rough:
    source = work.source_points(candidate.corners)
    outline, order = _outline((source - np.array(image.offset_px)) / image.reduction)
    evidence = [candidate.sides[i] for i in order]
    sides = tuple(_rough_side(e.wall, e.bleed, s) for e in evidence)
    return _Rough(outline, sides, s.net_slack if candidate.by_net else 0.0)


def _panel(
    image: PageImage,
    rough: _Rough,
    exact: tuple[Outline, tuple[Side, ...]] | None,
    s: MeasureSettings,
) -> Panel:
    outline, sides = rough.outline, rough.sides
    if exact is not None:
        outline, fitted = exact
        sides = tuple(
            side if i in rough.fixed else _better(side, fit, image.reduction)
            for i, (side, fit) in enumerate(zip(sides, fitted, strict=True))
        )
    outline = image.to_source(_on_image(outline, image))
    edges = _edges(outline.array())
    bleed = {e for side, e in zip(sides, edges, strict=True) if side.state is SideState.BLEED}
    return Panel(
        outline,
        sides,
        bleed=frozenset(e for e in bleed if e is not None),
        shape_hint="polygon" if exact is not None else "round",
    )


def _on_image(outline: Outline, image: PageImage) -> Outline:
    """The outline with corners beyond the image put on its edge, ring and sides kept."""
    rows, columns = image.pixels.shape[:2]
    inside = np.clip(outline.array(), 0.0, [columns, rows])
    try:
        return Outline(tuple((float(x), float(y)) for x, y in inside))
    except ValueError:
        # Nothing of it is left on the image: better shown where it was found than lost.
        return outline


def _strayed(rough: Outline, measured: Outline, most: float) -> list[int]:
    """Sides whose middle moved outward by more than allowed."""
    before, after = rough.array(), measured.array()
    run = np.roll(before, -1, axis=0) - before
    outward = np.stack([run[:, 1], -run[:, 0]], axis=1) / np.hypot(*run.T)[:, None]
    moved = (after + np.roll(after, -1, axis=0) - before - np.roll(before, -1, axis=0)) / 2
    return [int(i) for i in np.flatnonzero((moved * outward).sum(axis=1) > most)]


def _better(rough: Side, fitted: Side, reduction: float) -> Side:
    """What was measured, unless the rough look saw more of the side."""
    if fitted.state is not SideState.DRAWN:
        return rough
    return Side(
        fitted.state,
        max(rough.support, fitted.support),
        None if fitted.border_px is None else fitted.border_px * reduction,
        None if fitted.wobble_px is None else fitted.wobble_px * reduction,
    )


def _rough_side(wall: float, bleed: float, s: MeasureSettings) -> Side:
    if bleed >= s.bleed_share:
        return Side(SideState.BLEED, float(min(1.0, bleed)))
    state = SideState.DRAWN if wall >= s.least_wall else SideState.INFERRED
    return Side(state, float(np.clip(wall, 0, 1)))


def _edges(points: np.ndarray) -> list[PageEdge | None]:
    """Page edge that each side faces; None for slanted sides."""
    run = np.roll(points, -1, axis=0) - points
    found: list[PageEdge | None] = []
    for dx, dy in run:
        if abs(dx) > 3 * abs(dy):
            found.append(PageEdge.TOP if dx > 0 else PageEdge.BOTTOM)
        elif abs(dy) > 3 * abs(dx):
            found.append(PageEdge.RIGHT if dy > 0 else PageEdge.LEFT)
        else:
            found.append(None)
    return found


def _outline(points: np.ndarray) -> tuple[Outline, list[int]]:
    """Outline of a positive ring, and which of its sides each of the outline's sides was."""
    outline = Outline.of(points)
    start = int(np.argmin(np.abs(points - np.array(outline.points[0])).sum(axis=1)))
    n = len(points)
    return outline, [(start + k) % n for k in range(n)]
