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


def turned_page(
    angle_deg: float, rng: np.random.Generator, size: tuple[int, int] = (700, 1000)
) -> tuple[np.ndarray, list[np.ndarray]]:
    """Scanned page of five bordered panels with art, turned; gray uint8 and the true corners.

    The angle is counterclockwise to the eye positive.
    """
    width, height = size
    page = np.full((height * 2, width * 2), 246, np.float32)
    left, right = 60, width - 60
    split = rng.uniform(0.35, 0.65, 2) * (right - left) + left
    tiers = [(60, 340), (356, 640), (656, 940)]
    boxes = [(left, *tiers[0], right)]
    for (top, bottom), cut in zip(tiers[1:], split, strict=True):
        boxes += [(left, top, bottom, cut - 7), (cut + 7, top, bottom, right)]
    turn = np.radians(-angle_deg)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = np.array([width, height]) / 2
    corners = []
    for x0, y0, y1, x1 in boxes:
        ring = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.float64)
        ring = (ring - middle) @ matrix.T + middle
        corners.append(ring)
        fixed = np.round((ring * 2 - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(page, [fixed], float(rng.uniform(140, 230)), cv2.LINE_AA, 4)
        center = ring.mean(axis=0) * 2
        for _ in range(14):
            a, b = center + rng.uniform(-160, 160, (2, 2))
            cv2.line(page, a.astype(int).tolist(), b.astype(int).tolist(), 60.0, 3, cv2.LINE_AA)
        cv2.polylines(page, [fixed], True, 15.0, 6, cv2.LINE_AA, 4)
    small = cv2.resize(page, size, interpolation=cv2.INTER_AREA)
    return scanned(small, 0.8, 5.0, 70, rng), corners
