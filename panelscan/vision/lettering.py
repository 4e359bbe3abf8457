"""Lettering room of panels: balloons and captions found, calm strip at the top, ink density.

All of it is approximate: balloons are told by their look (see `balloons`), and whether a calm
place is really free for lettering is for the artist to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import shapely

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import LetteringRoom, PageFinding
from panelscan.vision.balloons import LONG_SIDE_PX, Balloon, find_balloons
from panelscan.vision.letter_marks import white_level
from panelscan.vision.shrinking import shrunk_page

BUSY_STEP = 11.0
BUSY_OVER_TEXTURE = 2.2
BUSY_ROW = 0.1
DARK_SHARE = 0.45
SAME_AS_PANEL = 0.75
STAIRS = 0.4
"""Steps of a contour in pixels that are no shape, only its drawing on a raster."""


def measure_room(image: PageImage, finding: PageFinding) -> PageFinding:
    """Add balloons, captions and each panel's lettering room to a finding.

    Parameters
    ----------
    image : PageImage
        The page.
    finding : PageFinding
        Panels found on it, in source pixels.

    Returns
    -------
    PageFinding
        The same with ``balloons`` and every panel's ``room`` filled in.
    """
    rows, columns = image.pixels.shape[:2]
    share = min(1.0, LONG_SIDE_PX / max(rows, columns))
    size = max(1, round(columns * share)), max(1, round(rows * share))
    small, cover = shrunk_page(image, size)
    gray = small if small.ndim == 2 else cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    scale = 1.0 / np.array(cover) / image.reduction
    offset = np.array(image.offset_px)
    rings = [(panel.outline.array() - offset) * scale for panel in finding.panels]
    white = white_level(gray)
    balloons = [b for b in find_balloons(gray, white) if not _is_panel(b, rings)]
    lettered = np.zeros(gray.shape, np.uint8)
    for balloon in balloons:
        x, y = balloon.origin
        h, w = balloon.mask.shape
        lettered[y : y + h, x : x + w] |= balloon.mask
    steps, dark = _steps(gray), gray < DARK_SHARE * white
    panels = tuple(
        replace(panel, room=_room(ring, lettered, steps, dark))
        for panel, ring in zip(finding.panels, rings, strict=True)
    )
    outlines = [_outline(balloon, scale, offset) for balloon in balloons]
    within = finding.frame.shape.buffer(1.0)
    kept = tuple(o for o in outlines if o is not None and within.intersects(o.shape))
    return replace(finding, panels=panels, balloons=kept)


def _steps(gray: np.ndarray) -> np.ndarray:
    """How fast tone changes, uint8 of the page's shape; fine screens and grain are smoothed out."""
    smooth = cv2.GaussianBlur(gray, (0, 0), 1.6)
    square = np.ones((3, 3), np.uint8)
    return np.asarray(cv2.morphologyEx(smooth, cv2.MORPH_GRADIENT, square))


def _room(
    ring: np.ndarray, lettered: np.ndarray, steps: np.ndarray, dark: np.ndarray
) -> LetteringRoom:
    """Room of one panel; `ring` in working pixels, shape (K, 2)."""
    x0, y0 = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0)
    x1, y1 = np.ceil(ring.max(axis=0)).astype(int) + 1
    window = (slice(y0, y1), slice(x0, x1))
    ink, letters = dark[window], lettered[window]
    mask = np.zeros(ink.shape, np.uint8)
    if not mask.size:
        return LetteringRoom(0.0, 0.0, 0.0)
    cv2.fillPoly(mask, [np.round((ring - [x0, y0] - 0.5) * 16).astype(np.int32)], 1, shift=4)
    # The border itself is neither art nor lettering.
    edge = max(2, round(0.012 * min(mask.shape)))
    padded = cv2.copyMakeBorder(mask, 1, 1, 1, 1, cv2.BORDER_CONSTANT)
    inside = cv2.erode(padded, np.ones((2 * edge + 1,) * 2, np.uint8))[1:-1, 1:-1] > 0
    area = int(np.count_nonzero(inside))
    if area < 16:
        return LetteringRoom(0.0, 0.0, 0.0)
    # An even texture is no obstacle, so what counts as busy rises with it.
    texture = _quantile(steps[window], inside, 0.3)
    art = steps[window] > max(BUSY_STEP, BUSY_OVER_TEXTURE * texture)
    # A balloon's outline is lettering too.
    free = inside & (cv2.dilate(letters, np.ones((7, 7), np.uint8)) == 0)
    return LetteringRoom(
        _free_top(inside, free & art),
        np.count_nonzero((letters > 0) & inside) / area,
        np.count_nonzero(free & (art | ink)) / area,
    )


def _quantile(values: np.ndarray, inside: np.ndarray, share: float) -> float:
    """Quantile of the uint8 values in a mask, by counting; linear between two values."""
    counts = cv2.calcHist([values], [0], inside.view(np.uint8), [256], [0, 256])
    below = np.cumsum(counts.ravel(), dtype=np.float64)
    rank = share * (below[-1] - 1)
    low, high = np.searchsorted(below, [np.floor(rank), np.ceil(rank)], side="right")
    return float(low + (high - low) * (rank % 1.0))


def _free_top(inside: np.ndarray, art: np.ndarray) -> float:
    """Depth below the top side down to the first row that art fills, as share of the height.

    Depth is counted in each column from the panel's own top, so that a slanted top side does
    not cost room.
    """
    top = inside.argmax(axis=0)
    some = np.flatnonzero(inside[top, np.arange(len(top))])
    first, last = int(top[some].min()), int(top[some].max())
    if first == last:
        width, filled = (np.count_nonzero(m[first:], axis=1) for m in (inside, art))
        width = width[: np.flatnonzero(width)[-1] + 1]
    else:
        rows = np.arange(len(inside), dtype=np.int32)[:, None] - top.astype(np.int32)
        width = np.bincount(rows[inside])
        filled = np.bincount(rows[art], minlength=len(width))
    share = filled[: len(width)] / np.maximum(width, 1)
    rows_in = max(1, len(width) // 60)
    smooth = np.convolve(share, np.ones(rows_in) / rows_in, mode="same")
    stops = np.flatnonzero(smooth > BUSY_ROW)
    return float(stops[0] / len(width)) if len(stops) else 1.0


def _is_panel(balloon: Balloon, rings: Sequence[np.ndarray]) -> bool:
    """Whether a patch with lettering is a whole panel (a panel of nothing but words)."""
    area = cv2.countNonZero(balloon.mask)
    for ring in rings:
        mask = np.zeros(balloon.mask.shape, np.uint8)
        cv2.fillPoly(mask, [np.round(ring - balloon.origin).astype(np.int32)], 1)
        own = abs(cv2.contourArea(ring.astype(np.float32)))
        if cv2.countNonZero(mask & balloon.mask) > SAME_AS_PANEL * max(area, own):
            return True
    return False


def _outline(balloon: Balloon, scale: np.ndarray, offset: np.ndarray) -> Outline | None:
    """Outline of a balloon in source pixels."""
    contours, _ = cv2.findContours(balloon.mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return None
    contour = max(contours, key=cv2.contourArea)
    ring = cv2.approxPolyDP(contour, STAIRS, True)[:, 0].astype(np.float64)
    if len(ring) < 4:
        return None
    # OpenCV's contour runs through the outermost pixels' centres: half a pixel inside the edge.
    # Corners of the grown outline are straightened again, so they need no fine arcs.
    grown = shapely.Polygon(ring + 0.5 + np.array(balloon.origin)).buffer(0.5, quad_segs=2)
    shape = grown.simplify(0.7)
    if shape.geom_type != "Polygon" or shape.is_empty:
        shape = max(getattr(shape, "geoms", [shape]), key=lambda g: g.area)
    points = np.asarray(shape.exterior.coords) / scale + offset
    try:
        return Outline.of(points)
    except ValueError:
        return None
