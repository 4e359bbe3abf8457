"""Small measures that the search for a fold rests on: shading, noise, surround, runs.

Frame: a small gray image, column x covers x..x+1; rows run down.
"""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np

HEIGHT_PX = 800
_BLOCKS = 15


def small_gray(pixels: np.ndarray) -> np.ndarray:
    """Gray image of at most 800 rows, float32, shrunk by area."""
    scale = min(1.0, HEIGHT_PX / pixels.shape[0])
    size = max(8, round(pixels.shape[1] * scale)), max(8, round(pixels.shape[0] * scale))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    if small.ndim == 3:
        small = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    return small.astype(np.float32)


def sheared(gray: np.ndarray, slant_deg: float) -> np.ndarray:
    """Rows moved sideways so that a line of this slant stands upright; half height stays."""
    if slant_deg == 0.0:
        return gray
    height, width = gray.shape
    slope = np.tan(np.deg2rad(slant_deg))
    back = np.array([[1, slope, -slope * height / 2], [0, 1, 0]], np.float64)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(gray, back, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE)


def without_surround(loud: np.ndarray) -> tuple[int, int]:
    """Rows without those at either end, at most a tenth, that differ all across: no page."""
    most = len(loud) // 10
    across = loud.mean(axis=1) >= 0.9
    ends = []
    for rows in (across[:most], across[::-1][:most]):
        share = np.cumsum(rows) / np.arange(1, len(rows) + 1)
        outside = np.flatnonzero(share >= 0.8)
        ends.append(int(outside[-1]) + 3 if len(outside) and rows.sum() >= 3 else 0)
    return ends[0], len(loud) - ends[1]


def sharp_sides(profile: np.ndarray) -> np.ndarray:
    """Columns at which the profile steps to another level and stays there.

    The slopes of a fold's shadow change gradually; a fold's dark line comes back.
    """
    reach = 8
    padded = np.pad(profile, reach, mode="edge")
    count = len(profile)
    far = np.abs(padded[2 * reach : 2 * reach + count] - padded[:count])
    near = np.abs(padded[reach + 1 : reach + 1 + count] - padded[reach - 1 : reach - 1 + count])
    return np.asarray((far > 20.0) & (near > 0.6 * far) & (near < 1.5 * far), dtype=bool)


def runs_of(flags: np.ndarray) -> list[tuple[int, int]]:
    """Runs of True as (start, stop)."""
    padded = np.concatenate([[False], flags, [False]]).astype(np.int8)
    change = np.flatnonzero(np.diff(padded))
    return list(zip(change[::2].tolist(), change[1::2].tolist(), strict=True))


def noise_of(gray: np.ndarray) -> float:
    """Standard deviation of fine noise (kernel of Immerkaer 1996, CVIU; by the median)."""
    kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
    fine = np.abs(cv2.filter2D(gray, cv2.CV_32F, kernel))
    return float(np.median(fine) / 0.6745 / 6.0)


def page_rows(gray: np.ndarray) -> tuple[int, int]:
    """Rows of the page without a dark scanner bed or table above and below it."""
    height, width = gray.shape
    level = np.median(gray[:, int(0.35 * width) : int(0.65 * width)], axis=1)
    inside = np.flatnonzero(level >= 0.6 * np.percentile(gray, 80))
    if not len(inside):
        return 0, height
    top, bottom = int(inside[0]), int(inside[-1]) + 1
    if bottom - top < 0.6 * height:
        return 0, height
    trim = 3  # the page's own blurred edge
    return (top + trim if top else 0), (bottom - trim if bottom < height else height)


def residual_of(rows: np.ndarray) -> np.ndarray:
    """Difference of each pixel from its column's shading: a smooth curve through most of it."""
    height, width = rows.shape
    edges = np.linspace(0, height, _BLOCKS + 1).astype(int)
    medians = np.stack([np.median(rows[a:b], axis=0) for a, b in pairwise(edges) if b > a])
    curve = smooth_curve(medians)
    shading = cv2.resize(curve.astype(np.float32), (width, height))
    return np.abs(rows - shading)


def smooth_curve(medians: np.ndarray) -> np.ndarray:
    """Quadratic along axis 0, fitted so that up to four in ten blocks may lie anywhere."""
    count = len(medians)
    t = np.linspace(-1, 1, count)
    design = np.stack([np.ones(count), t, t**2], axis=1)
    centre = np.median(medians, axis=0)
    weights = 1.0 / (1.0 + (np.abs(medians - centre) / 12.0) ** 2)
    curve = np.broadcast_to(centre, medians.shape)
    for _ in range(4):
        left = np.einsum("ki,kx,kj->xij", design, weights, design) + 1e-3 * np.eye(3)
        right = np.einsum("ki,kx,kx->xi", design, weights, medians - centre)
        fit = np.linalg.solve(left, right[..., None])[..., 0]
        curve = centre + design @ fit.T
        weights = 1.0 / (1.0 + (np.abs(medians - curve) / 8.0) ** 2)
    return curve
