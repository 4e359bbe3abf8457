"""Small rendered pages with known geometry for the tests of this folder."""

from __future__ import annotations

import cv2
import numpy as np


def rendered_quad(
    corners: np.ndarray,
    border_px: float,
    size: tuple[int, int],
    rng: np.random.Generator,
    oversample: int = 6,
) -> np.ndarray:
    """White page with one panel of textured art and a ruled border, area-sampled, float32."""
    width, height = size
    big = np.full((height * oversample, width * oversample), 255, np.float32)
    coarse = rng.normal(0, 1, (height // 6 + 1, width // 6 + 1)).astype(np.float32)
    art = cv2.resize(coarse, big.shape[::-1], interpolation=cv2.INTER_CUBIC) * 45 + 170
    for _ in range(12):
        a, b = (rng.uniform(0, 1, (2, 2)) * big.shape[::-1]).astype(int)
        thick = int(rng.uniform(1, 4) * oversample)
        cv2.line(art, a.tolist(), b.tolist(), float(rng.uniform(0, 120)), thick)
    art = np.clip(art, 0, 255)
    y, x = np.mgrid[0 : big.shape[0], 0 : big.shape[1]].astype(np.float32)
    x, y = (x + 0.5) / oversample, (y + 0.5) / oversample
    inside = np.ones(big.shape, bool)
    stroke = np.zeros(big.shape, bool)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = np.hypot(*(b - a))
        ux, uy = (b - a) / length
        along = (x - a[0]) * ux + (y - a[1]) * uy
        across = (y - a[1]) * ux - (x - a[0]) * uy
        inside &= across > 0
        within = (along > -border_px / 2) & (along < length + border_px / 2)
        stroke |= (np.abs(across) <= border_px / 2) & within
    big[inside] = art[inside]
    big[stroke] = 0
    return cv2.resize(big, size, interpolation=cv2.INTER_AREA)


def scanned(
    page: np.ndarray, blur: float, noise: float, jpeg: int, rng: np.random.Generator
) -> np.ndarray:
    """Blur, noise and JPEG loss, uint8; 0 leaves a step out."""
    if blur:
        page = cv2.GaussianBlur(page, (0, 0), blur)
    if noise:
        page = page + rng.normal(0, noise, page.shape)
    page = np.clip(np.rint(page), 0, 255).astype(np.uint8)
    if jpeg:
        _, coded = cv2.imencode(".jpg", page, [cv2.IMWRITE_JPEG_QUALITY, jpeg])
        page = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return page
