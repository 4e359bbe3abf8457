"""What lies under and around a page: a scanner's lid or a table, with the page's shadow."""

from __future__ import annotations

import cv2
import numpy as np

from panelscan.demo.canvas import limb_points
from panelscan.demo.raster import RGB, cloud_noise, cover, lay_color, mix


def lay_on_bed(
    picture: np.ndarray, quad: np.ndarray, rgb: RGB, is_table: bool, rng: np.random.Generator
) -> np.ndarray:
    """Put texture and shadow around a page that already lies in its picture.

    Parameters
    ----------
    picture : ndarray of uint8, shape (M, N, 3)
        Page on a plain bed.
    quad : ndarray, shape (4, 2)
        Corners of the page in the picture.
    rgb : tuple of int
        Colour of the bed.
    is_table : bool
        A table photographed (texture, soft shadow, perhaps a pencil), not a scanner's lid
        (nearly plain, a thin shadow along one or two edges).
    rng : numpy Generator
        Source of all chance.

    Returns
    -------
    ndarray of uint8, shape (M, N, 3)
        With the same page pixels.
    """
    height, width = picture.shape[:2]
    bed = _table(height, width, rgb, rng) if is_table else np.full_like(picture, rgb)
    scale = height / 2000
    spread = rng.uniform(6, 16) * scale if is_table else rng.uniform(1.5, 4) * scale
    shift = rng.uniform(-10, 10, 2) * scale if is_table else rng.uniform(-3, 3, 2) * scale
    depth = rng.uniform(0.25, 0.6) if is_table else rng.uniform(0, 0.5)
    small = 4  # shadows are soft: a quarter of the size will do
    shape = np.zeros((height // small + 1, width // small + 1), np.uint8)
    cv2.fillPoly(shape, [np.round((quad + shift) / small).astype(np.int32)], 255)
    shape = cv2.GaussianBlur(shape, (0, 0), max(spread / small, 0.4))
    shadow = cv2.resize(shape, (width, height), interpolation=cv2.INTER_LINEAR)
    lit = 1 - depth * (shadow.astype(np.float32) / 255)
    bed = (bed * lit[..., None]).astype(np.uint8)
    if is_table and rng.random() < 0.3:
        _pencil(bed, quad, scale, rng)
    patch = cover(quad, (height, width))
    part = bed[patch.rows, patch.columns]
    part[...] = mix(part, picture[patch.rows, patch.columns], patch.alpha)
    return bed


def _table(height: int, width: int, rgb: RGB, rng: np.random.Generator) -> np.ndarray:
    """Wood, cloth or stone: slow clouds and, for wood, long streaks."""
    clouds = cloud_noise(rng, (height // 4 + 1, width // 4 + 1), (4, 11, 37))
    if rng.random() < 0.55:
        rows = rng.normal(size=(height // 4 + 1, 5)).astype(np.float32)
        streaks = cv2.resize(rows, clouds.shape[::-1], interpolation=cv2.INTER_CUBIC)
        clouds = 0.5 * clouds + 0.8 * streaks
        if rng.random() < 0.5:
            clouds = cv2.resize(np.ascontiguousarray(clouds.T), clouds.shape[::-1])
    big = cv2.resize(clouds, (width, height), interpolation=cv2.INTER_LINEAR)
    strength = rng.uniform(3, 11)
    table = np.asarray(rgb, np.float32) + strength * big[..., None]
    return np.asarray(np.clip(table, 0, 255).astype(np.uint8))


def _pencil(bed: np.ndarray, quad: np.ndarray, scale: float, rng: np.random.Generator) -> None:
    """A pencil beside the page, partly out of the picture."""
    x = float(quad[:, 0].max() if rng.random() < 0.5 else quad[:, 0].min())
    y = float(rng.uniform(0.2, 0.8) * bed.shape[0])
    reach = 190 * scale
    ends = np.array([(x - 30 * scale, y - reach), (x + 40 * scale, y + reach)])
    wide = 15 * scale
    colors: list[RGB] = [(214, 168, 48), (60, 92, 150), (170, 52, 46)]
    body = limb_points(ends, [wide, wide], 0)
    lay_color(bed, cover(body, bed.shape[:2]), colors[int(rng.integers(3))])
