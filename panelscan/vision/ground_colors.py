"""Colours that may be the ground's: the commonest of the page's strip and of its even parts."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

import cv2
import numpy as np

_LIGHT_CELL = np.arange(256) // 12 * 4096
_TINT_CELL = np.arange(256) // 8


def seed_colors(
    small: np.ndarray, expected: tuple[int, int, int] | None, strip_share: float
) -> Iterator[np.ndarray]:
    """Colours to try: the commonest of the strip and of the even parts, white, black."""
    rows, columns = small.shape[:2]
    band = max(2, round(strip_share * max(rows, columns)))
    strip = np.concatenate(
        [
            small[:band].reshape(-1, 3),
            small[-band:].reshape(-1, 3),
            small[:, :band].reshape(-1, 3),
            small[:, -band:].reshape(-1, 3),
        ]
    )
    kept: list[np.ndarray] = []
    for seed in chain(common_colors(strip, 2), _further_seeds(small, expected)):
        if all(np.abs(seed - other).max() > 10 for other in kept):
            kept.append(seed)
            yield seed


def _further_seeds(
    small: np.ndarray, expected: tuple[int, int, int] | None
) -> Iterator[np.ndarray]:
    yield from common_colors(_even_pixels(small), 3)
    yield np.array([253.0, 128.0, 128.0])
    yield np.array([4.0, 128.0, 128.0])
    if expected is not None:
        pixel = cv2.cvtColor(np.array([[expected]], dtype=np.uint8), cv2.COLOR_RGB2LAB)
        yield pixel[0, 0].astype(np.float64)


def _even_pixels(small: np.ndarray) -> np.ndarray:
    light = np.ascontiguousarray(small[..., 0])
    spread = cv2.dilate(light, np.ones((3, 3))) - cv2.erode(light, np.ones((3, 3)))
    even = small[spread < 10]
    return even if len(even) else small.reshape(-1, 3)


def common_colors(pixels: np.ndarray, count: int) -> list[np.ndarray]:
    """Commonest colours of uint8 pixels, each refined to the median of its neighbourhood."""
    # Coarse cells of 12 levels of lightness and 8 of colour are wide enough for paper grain.
    keys = _LIGHT_CELL[pixels[:, 0]] + _TINT_CELL[pixels[:, 1]] * 64 + _TINT_CELL[pixels[:, 2]]
    counts = np.bincount(keys)
    values = np.flatnonzero(counts)
    found = []
    for key in values[np.argsort(-counts[values], kind="stable")][:count]:
        center = median_color(pixels[keys == key])
        low, high = np.maximum(np.ceil(center - 12), 0), np.minimum(np.floor(center + 12), 255)
        near = cv2.inRange(pixels[None], low, high)[0] > 0
        found.append(median_color(pixels[near]))
    return found


def median_color(pixels: np.ndarray) -> np.ndarray:
    """Median of each channel of uint8 pixels of shape (K, 3), by counting."""
    ranks = np.array([(len(pixels) - 1) // 2, len(pixels) // 2])
    below = [np.cumsum(np.bincount(pixels[:, k], minlength=256)) for k in range(3)]
    return np.array([np.searchsorted(b, ranks, side="right").mean() for b in below])
