"""What the detector proposes on demand: borders to snap to, the frame around a click."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import Side
from panelscan.vision.stroke_outline import page_scale, refine_outline

LEAST_SHARE, MOST_SHARE = 0.002, 0.98
NEARER = (0.35, 0.7, 1.0)
TURNS = 3
LEAST_SUPPORT = 0.85
STILL_PX = 0.3


def gray_of(image: PageImage) -> np.ndarray[Any, Any]:
    """Gray pixels of a page image, shape (M, N)."""
    if image.pixels.ndim == 2:
        return image.pixels
    return np.asarray(cv2.cvtColor(image.pixels, cv2.COLOR_RGB2GRAY))


def snapped(
    image: PageImage, outline: Outline, reach_px: float, sides: Collection[int] | None = None
) -> Outline:
    """Outline moved onto the drawn borders beneath it, where there are some.

    Parameters
    ----------
    image : PageImage
        The page.
    outline : Outline
        Rough outline in source pixels.
    reach_px : float
        How far off its sides may be, in source pixels.
    sides : collection of int or None
        Sides that may move (side k runs from corner k to the next); all for None.

    Returns
    -------
    Outline
        In source pixels; the rough one where nothing is found.

    Notes
    -----
    The nearest border is looked for first: with a wide reach a neighbour's border, or a narrow
    gutter itself, may be the clearer line. A side counts as found once measuring it again
    leaves it where it is.
    """
    gray, found = gray_of(image), image.to_decoded(outline)
    reach = float(np.clip(reach_px / image.reduction, 2.0, 60.0))
    count, scale = len(found.points), page_scale(gray.shape)
    settled = set(range(count)) - (set(range(count)) if sides is None else set(sides))
    for share in NEARER:
        for _ in range(TURNS):
            if len(settled) == count:
                break
            before = found.array()
            found, states = refine_outline(gray, found, max(2.0, reach * share), settled, scale)
            moved = np.hypot(*(found.array() - before).T)
            ends = np.maximum(moved, np.roll(moved, -1))
            still = (k for k in range(count) if ends[k] < STILL_PX and _is_border(states[k]))
            settled.update(still)
    return image.to_source(found)


def _is_border(side: Side) -> bool:
    return side.border_px is not None and side.support >= LEAST_SUPPORT


def around(image: PageImage, x: float, y: float) -> Outline | None:
    """Frame of the light or plain region around a point, in source pixels.

    The region of nearly the point's own tone is flooded; borders stop it, and what lies
    inside it is filled. None where the region is the whole page or next to nothing.
    """
    gray = gray_of(image)
    scale = min(1.0, 1400 / max(gray.shape))
    small = cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    dx, dy = image.offset_px
    column = int((x - dx) / image.reduction * scale)
    row = int((y - dy) / image.reduction * scale)
    if not (0 <= row < small.shape[0] and 0 <= column < small.shape[1]):
        return None
    box = _flooded(small, row, column)
    if box is None:
        return None
    rough = image.to_source(Outline.box(*(v / scale for v in box)))
    return snapped(image, rough, 10.0 / scale * image.reduction)


def _flooded(
    small: np.ndarray[Any, Any], row: int, column: int
) -> tuple[float, float, float, float] | None:
    mask = np.zeros((small.shape[0] + 2, small.shape[1] + 2), np.uint8)
    flags = 4 | cv2.FLOODFILL_MASK_ONLY | cv2.FLOODFILL_FIXED_RANGE | (255 << 8)
    cv2.floodFill(small.copy(), mask, (column, row), (255,), (28,), (28,), flags)
    region = mask[1:-1, 1:-1]
    share = float((region > 0).mean())
    x, y, width, height = cv2.boundingRect(region)
    page = small.shape[0] * small.shape[1]
    if share < LEAST_SHARE / 4 or not LEAST_SHARE < width * height / page < MOST_SHARE:
        return None
    return float(x), float(y), float(x + width), float(y + height)
