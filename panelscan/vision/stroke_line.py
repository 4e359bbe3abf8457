"""Straight lines through the offsets of many blocks, whatever hides some of them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np


def robust_lines(
    share: np.ndarray, path: np.ndarray, sharpness: np.ndarray, scale: float = 1.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Lines through offsets by iteratively reweighted least squares (Tukey's biweight).

    Parameters
    ----------
    share : ndarray of shape (S, B)
        Place along each of S sides, 0..1, rising.
    path : ndarray of shape (S, B)
        Offset across.
    sharpness : ndarray of shape (S, B)
        Inverse variance of each offset; 0 where nothing was seen.
    scale : float
        Pixels per unit.

    Returns
    -------
    offset, tilt : ndarray of shape (S,)
        Offset at the start, and its change along the side.
    off : ndarray of shape (S, B)
        Distance of each block from its line.
    on_line : ndarray of bool, shape (S, B)
        Blocks that lie on it; none where fewer than three were seen.
    """
    seen = sharpness > 0
    # Wobble of the hand adds to the error of each offset, so no block may outweigh the rest.
    weight = seen / (1.0 / np.maximum(sharpness, 1e-9) + (0.1 * scale) ** 2)
    offset, tilt = _consensus(share, path, seen, 2.0 * scale)
    for _ in range(8):
        off = path - offset[:, None] - tilt[:, None] * share
        spread = 1.4826 * median_of(np.abs(off), seen)
        limit = 4.0 * np.clip(spread, 0.08 * scale, 2.5 * scale)
        tukey = np.clip(1 - (off / limit[:, None]) ** 2, 0, None) ** 2
        offset, tilt = _weighted_lines(share, path, weight * tukey, offset, tilt)
    off = path - offset[:, None] - tilt[:, None] * share
    tolerance = np.clip(3.0 * spread, 0.8 * scale, 4.0 * scale)
    enough = seen.sum(axis=1, keepdims=True) >= 3
    return offset, tilt, off, seen & enough & (np.abs(off) <= tolerance[:, None])


@lru_cache(maxsize=8)
def _far_pairs(blocks: int) -> tuple[np.ndarray, np.ndarray]:
    pick = np.unique(np.linspace(0, blocks - 1, 24).astype(np.intp))
    first, second = np.triu_indices(len(pick), k=max(1, len(pick) // 3))
    return pick[first], pick[second]


def _consensus(
    share: np.ndarray, path: np.ndarray, seen: np.ndarray, near: float
) -> tuple[np.ndarray, np.ndarray]:
    """Lines through two blocks that most other blocks lie near (all pairs far apart are tried).

    The least total of distances cut off at `near` wins, a deterministic form of the sample
    consensus of Fischler and Bolles 1981, Communications of the ACM 24:381-395.
    """
    first, second = _far_pairs(share.shape[1])
    tilts = (path[:, second] - path[:, first]) / (share[:, second] - share[:, first])
    offsets = path[:, first] - tilts * share[:, first]
    off = np.abs(path[:, None] - offsets[:, :, None] - tilts[:, :, None] * share[:, None])
    cost = (np.minimum(off, near) * seen[:, None]).sum(axis=2)
    cost += near * len(share[0]) * ~(seen[:, first] & seen[:, second])
    best = cost.argmin(axis=1)
    rows = np.arange(len(share))
    return offsets[rows, best], tilts[rows, best]


def median_of(values: np.ndarray, seen: np.ndarray) -> np.ndarray:
    """Median of each row's seen values, shape (S,)."""
    ordered = np.sort(np.where(seen, values, np.inf), axis=1)
    count = np.maximum(1, seen.sum(axis=1))
    rows = np.arange(len(values))
    middle = (ordered[rows, (count - 1) // 2] + ordered[rows, count // 2]) / 2
    return np.where(np.isfinite(middle), middle, 0.0)


def _weighted_lines(
    share: np.ndarray, path: np.ndarray, weight: np.ndarray, offset: np.ndarray, tilt: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Weighted least squares; the lines given stay where no weight is left."""
    total = weight.sum(axis=1)
    safe = np.maximum(total, 1e-12)
    mean_u, mean_v = (weight * share).sum(axis=1) / safe, (weight * path).sum(axis=1) / safe
    du, dv = share - mean_u[:, None], path - mean_v[:, None]
    slope = (weight * du * dv).sum(axis=1) / np.maximum((weight * du * du).sum(axis=1), 1e-12)
    some = total > 0
    return np.where(some, mean_v - slope * mean_u, offset), np.where(some, slope, tilt)
