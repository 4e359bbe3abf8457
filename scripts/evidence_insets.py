"""Small panels laid over others in drawn pages (a part of train_evidence.py).

The page maker lays insets into the corners of a page's largest panel. Artists lay them
anywhere, so copies of a page's own panels go, smaller, into any of its others: with a rim of
ground around or without one, inside their host or over its side.
"""

from __future__ import annotations

import cv2
import numpy as np
import shapely

WIDE_SHARES = (0.16, 0.48)
SCALES = (0.4, 1.0)
"""Width of an inset in widths of its host, and how much smaller than its model it may be."""

RIMS_PX = ((1.5, 4.0), (4.0, 11.0))
"""How much of the ground around its model a copy brings with it: its line alone, or a rim."""

LEAST_PX = 34
TRIES = 30


def with_insets(
    pixels: np.ndarray, rings: list[np.ndarray], rng: np.random.Generator, most: int = 3
) -> tuple[np.ndarray, list[np.ndarray]]:
    """Page with copies of some panels laid over others.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N, 3)
        Changed in place.
    rings : list of ndarray, shape (K, 2)
        Panels in pixels of the page, from back to front.
    rng : Generator
    most : int
        At most so many copies.

    Returns
    -------
    tuple of ndarray and list of ndarray
        The page, and its rings with those of the copies added in front.
    """
    models = _models(rings, pixels.shape)
    wanted = int(rng.integers(1, most + 1))
    kept, before = list(rings), pixels.copy()
    two_tone = len(np.unique(pixels[::7, ::7])) <= 2
    for _ in range(TRIES):
        if not models or len(kept) - len(rings) == wanted:
            break
        model = models[int(rng.integers(len(models)))]
        spot = _spot(model, rings, kept[len(rings) :], pixels.shape, rng)
        if spot is not None:
            rim_px = float(rng.uniform(*RIMS_PX[int(rng.random() < 0.55)]))
            copy, ring = _copied(before, model, spot, rim_px, two_tone, rng)
            left, top = (round(v) for v in spot[1:])
            pixels[top : top + copy.shape[0], left : left + copy.shape[1]] = copy
            kept.append(ring)
    return pixels, kept


def _models(rings: list[np.ndarray], shape: tuple[int, ...]) -> list[np.ndarray]:
    """Rings of nearly upright rectangles that nothing lies over, off the page's edges."""
    areas = [shapely.make_valid(shapely.Polygon(r)) for r in rings]
    room = 2 + RIMS_PX[1][1]
    page = shapely.box(room, room, shape[1] - room, shape[0] - room)
    found = []
    for k, area in enumerate(areas):
        alone = all(area.intersection(b).area < 9 for j, b in enumerate(areas) if j != k)
        if alone and page.contains(area) and area.area > 0.94 * area.envelope.area:
            found.append(rings[k])
    return found


def _spot(
    model: np.ndarray,
    rings: list[np.ndarray],
    laid: list[np.ndarray],
    shape: tuple[int, ...],
    rng: np.random.Generator,
) -> tuple[float, float, float] | None:
    """Scale and upper left corner (x, y) of a copy; None where none was found."""
    host = rings[int(rng.integers(len(rings)))]
    x0, y0, x1, y1 = *host.min(axis=0), *host.max(axis=0)
    size = np.ptp(model, axis=0)
    scale = float(np.clip(rng.uniform(*WIDE_SHARES) * (x1 - x0) / size[0], *SCALES))
    w, h = size * scale
    if min(w, h) < LEAST_PX or w > 0.6 * (x1 - x0) or h > 0.6 * (y1 - y0):
        return None
    out = 0.12 * min(w, h) if rng.random() < 0.3 else -0.02 * (x1 - x0)
    x = float(rng.uniform(x0 - out, x1 - w + out))
    y = float(rng.uniform(y0 - out, y1 - h + out))
    if rng.random() < 0.4:
        x = float(rng.choice([x0 - out, x1 - w + out]))
    if rng.random() < 0.4:
        y = float(rng.choice([y0 - out, y1 - h + out]))
    room = 2 * RIMS_PX[1][1] + 2
    if min(x, y) < room or x + w > shape[1] - room or y + h > shape[0] - room:
        return None
    copy = shapely.box(x, y, x + w, y + h)
    if any(copy.buffer(room).intersects(shapely.Polygon(r)) for r in laid):
        return None
    for ring in rings:
        panel = shapely.make_valid(shapely.Polygon(ring))
        hidden = copy.intersection(panel).area
        if ring is not host and hidden > 0.12 * min(panel.area, copy.area):
            return None
    return scale, x, y


def _copied(
    pixels: np.ndarray,
    model: np.ndarray,
    spot: tuple[float, float, float],
    rim_px: float,
    two_tone: bool,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Copy of a model at its scale, and its ring where it is to lie."""
    low = np.floor(model.min(axis=0) - rim_px).astype(int)
    high = np.ceil(model.max(axis=0) + rim_px).astype(int)
    part = np.ascontiguousarray(pixels[low[1] : high[1], low[0] : high[0]])
    size = np.maximum(np.round((high - low) * spot[0]).astype(int), 2)
    scale = size / (high - low)
    small = cv2.resize(part, (int(size[0]), int(size[1])), interpolation=cv2.INTER_AREA)
    if two_tone:
        small = np.where(small > 127, 255, 0).astype(np.uint8)
    if rng.random() < 0.5:
        x0, y0 = np.round(rim_px * scale).astype(int)
        inner = small[y0 : size[1] - y0, x0 : size[0] - x0]
        inner[:] = inner[:, ::-1].copy()
    left, top = (round(v) for v in spot[1:])
    return small, (model - low) * scale + (left, top)
