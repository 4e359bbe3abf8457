"""Measured corners of a panel: intersections of its measured sides, within guards (step S6)."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.panel import Side, SideState
from panelscan.vision.stroke import SideFit, measure_sides
from panelscan.vision.stroke_ground import without_ground_strokes
from panelscan.vision.stroke_page import with_usual_border

MOST_STRAIGHT_SIDES = 16
LEAST_CORNER_DEG = 12.0
USUAL_PAGE_PX, LARGE_PAGE_PX = 1900, 4600
"""Strokes are as much narrower on pages smaller than the one, and twice as wide on pages larger
than the other."""
LEAST_SCALE = 0.4


def page_scale(shape: tuple[int, ...]) -> float:
    """Pixels per unit of the stroke model on a page of a shape (M, N): how wide strokes may be.

    Examples
    --------
    >>> page_scale((3508, 2480)), page_scale((760, 570))
    (1.0, 0.4)
    """
    size = max(shape)
    if size > LARGE_PAGE_PX:
        return 2.0
    return float(np.clip(size / USUAL_PAGE_PX, LEAST_SCALE, 1.0))


def refine_outline(
    gray: np.ndarray,
    outline: Outline,
    search_px: float = 6.0,
    keep: Collection[int] = (),
    scale: float = 1.0,
) -> tuple[Outline, tuple[Side, ...]]:
    """Move a rough outline onto the drawn border.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
        The page at the resolution to measure at.
    outline : Outline
        Rough outline in decoded pixels.
    search_px : float
        How far off the rough sides may be.
    keep : collection of int
        Sides (side i runs from corner i to corner i + 1) that must not be moved, such as
        bleeds that were already set on the page's edge.
    scale : float
        Pixels per unit of the stroke model, see `page_scale`.

    Returns
    -------
    outline : Outline
        Same number of corners, in the same ring order; the rough one where a guard forbids.
    sides : tuple of Side
        One per corner, widths in decoded pixels. Sides along the image's edge are bleeds.

    Examples
    --------
    >>> page = np.full((100, 200), 255, np.uint8)
    >>> page[20:80, 30:170] = 0
    >>> page[24:76, 34:166] = 230
    >>> exact, sides = refine_outline(page, Outline.box(30, 23, 169, 79), search_px=5)
    >>> [tuple(round(v, 1) for v in p) for p in exact.points]
    [(32.0, 22.0), (168.0, 22.0), (168.0, 78.0), (32.0, 78.0)]
    >>> [round(side.border_px) for side in sides]
    [4, 4, 4, 4]
    """
    return refine_outlines(gray, [outline], search_px, [keep], scale=scale)[0]


def refine_outlines(
    gray: np.ndarray,
    outlines: Sequence[Outline],
    search_px: float = 6.0,
    keeps: Sequence[Collection[int]] | None = None,
    ground_tone: float | None = None,
    scale: float = 1.0,
) -> list[tuple[Outline, tuple[Side, ...]]]:
    """Many outlines at once, which costs far less than one by one; see `refine_outline`.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
    outlines : sequence of Outline
        Rough outlines in decoded pixels.
    search_px : float
    keeps : sequence of collections of int, or None
        For each outline the sides that must not be moved.
    ground_tone : float or None
        Gray of the page between its panels, where that is known: a stroke of that tone is no
        border.
    scale : float
        Pixels per unit of the stroke model, see `page_scale`.

    Returns
    -------
    list of (Outline, tuple of Side)
        In the same order.
    """
    kept = keeps or [()] * len(outlines)
    results = []
    measured = _fits(gray, outlines, search_px, kept, ground_tone, scale)
    for outline, fits in zip(outlines, measured, strict=True):
        edges = [_on_image_edge(gray, a, b) for a, b in outline.edges()]
        sides = tuple(
            Side(SideState.BLEED) if on_edge else fit.as_side()
            for fit, on_edge in zip(fits, edges, strict=True)
        )
        straight = len(outline.points) <= MOST_STRAIGHT_SIDES
        results.append((_joined(outline, fits, search_px) if straight else outline, sides))
    return results


def _fits(
    gray: np.ndarray,
    outlines: Sequence[Outline],
    search_px: float,
    keeps: Sequence[Collection[int]],
    ground_tone: float | None,
    scale: float,
) -> list[list[SideFit]]:
    """Fits of all sides of all outlines; kept sides and those on the image's edge untouched."""
    fits = [[SideFit(a, b) for a, b in outline.edges()] for outline in outlines]
    near: list[tuple[int, int]] = []
    far: list[tuple[int, int]] = []
    for k, (outline, keep) in enumerate(zip(outlines, keeps, strict=True)):
        curved = len(outline.points) > MOST_STRAIGHT_SIDES
        for i, (a, b) in enumerate(outline.edges()):
            if i not in keep and not _on_image_edge(gray, a, b):
                (near if curved else far).append((k, i))
    for places, search in ((far, search_px), (near, min(search_px, 3.0 * scale))):
        rough = np.array([[*fits[k][i].p0, *fits[k][i].p1] for k, i in places])
        for (k, i), fit in zip(places, measure_sides(gray, rough, search, scale), strict=True):
            fits[k][i] = fit
    measured = [fits[k][i] for k, i in far]
    if ground_tone is not None:
        measured = without_ground_strokes(gray, measured, ground_tone, scale)
    for (k, i), fit in zip(far, with_usual_border(measured), strict=True):
        fits[k][i] = fit
    return fits


def _on_image_edge(gray: np.ndarray, p0: Sequence[float], p1: Sequence[float]) -> bool:
    height, width = gray.shape[:2]
    limit = 1.5
    return (
        max(p0[0], p1[0]) <= limit
        or max(p0[1], p1[1]) <= limit
        or min(p0[0], p1[0]) >= width - limit
        or min(p0[1], p1[1]) >= height - limit
    )


def _joined(outline: Outline, fits: Sequence[SideFit], search_px: float) -> Outline:
    """Corners where neighbouring sides meet; a corner that would run off stays put."""
    rough = outline.array()
    corners = rough.copy()
    for i in range(len(fits)):
        corners[i] = _corner(fits[i - 1], fits[i], rough[i], search_px)
    try:
        refined = Outline(tuple((float(x), float(y)) for x, y in corners))
    except ValueError:
        return outline
    slack = (1.6 * search_px + 2.0) * outline.shape.length
    return refined if abs(refined.area - outline.area) <= slack else outline


def _corner(before: SideFit, after: SideFit, rough: np.ndarray, search_px: float) -> np.ndarray:
    """Meeting point of two sides, or the rough corner pulled onto the one that was found."""
    if not before.found and not after.found:
        return rough
    a, b = np.asarray(before.p0), np.asarray(before.p1)
    c, d = np.asarray(after.p0), np.asarray(after.p1)
    u, w = _unit(b - a), _unit(d - c)
    sine = float(u[0] * w[1] - u[1] * w[0])
    if abs(sine) < np.sin(np.radians(LEAST_CORNER_DEG)):
        return _pulled(rough, before, after)
    along = float((c - a)[0] * w[1] - (c - a)[1] * w[0]) / sine
    corner = a + along * u
    limit = (1.6 * search_px + 2.0) * 1.42 / abs(sine)
    return corner if np.hypot(*(corner - rough)) <= limit else _pulled(rough, before, after)


def _pulled(rough: np.ndarray, before: SideFit, after: SideFit) -> np.ndarray:
    """Mean of the rough corner's feet on the sides that were found."""
    feet = []
    for fit in (before, after):
        if fit.found:
            a = np.asarray(fit.p0)
            u = _unit(np.asarray(fit.p1) - a)
            feet.append(a + u * float(u @ (rough - a)))
    return np.asarray(np.mean(feet, axis=0)) if feet else rough


def _unit(vector: np.ndarray) -> np.ndarray:
    return np.asarray(vector / max(float(np.hypot(*vector)), 1e-9))
