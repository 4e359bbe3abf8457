"""Outlines with more than four corners: hulls of regions, few-cornered and L-shaped rings."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.flood import disk


@dataclass(frozen=True, slots=True)
class ShapeSettings:
    """Tolerances in thousandths of the page's long side.

    A region that fills ``full_share`` of its box has the corners of the box and no others.
    """

    smooth: float = 3.0
    fine: float = 0.9
    coarse: float = 4.0
    least_corner_side: float = 30.0
    square_turn: float = 0.14
    full_share: float = 0.993


def shaped_outlines(
    mask: np.ndarray, unit: float, settings: ShapeSettings | None = None
) -> list[np.ndarray]:
    """Rings with other than four corners that a region may have, in the mask's pixels.

    Parameters
    ----------
    mask : ndarray of uint8, shape (M, N)
        1 inside the region.
    unit : float
        Pixels in a thousandth of the page's long side.
    settings : ShapeSettings or None

    Returns
    -------
    list of ndarray of float64, shape (K, 2)
        Positive shoelace area; edges on whole numbers.
    """
    s = settings or ShapeSettings()
    _, _, width, height = cv2.boundingRect(mask)
    if cv2.countNonZero(mask) >= s.full_share * width * height:
        return []
    radius = max(1, round(s.smooth * unit))
    padded = cv2.copyMakeBorder(mask, *(radius + 1,) * 4, cv2.BORDER_CONSTANT, value=0)
    opened = cv2.morphologyEx(padded, cv2.MORPH_OPEN, disk(radius))
    contours, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return []
    contour = max(contours, key=cv2.contourArea)
    rings = []
    hull = _outer_hull(contour)
    for tolerance in (s.fine, s.coarse):
        ring = cv2.approxPolyDP(hull, tolerance * unit, True)[:, 0]
        if len(ring) > 4:
            rings.append(ring.astype(np.float64))
    bent = cv2.approxPolyDP(contour, 2 * s.coarse * unit, True)[:, 0].astype(np.float64)
    if 6 <= len(bent) <= 8 and _is_square_cut(bent, unit, s):
        rings.append(bent + 0.5)
    return [_positive(ring - (radius + 1)) for ring in rings]


def _outer_hull(contour: np.ndarray) -> np.ndarray:
    """Convex hull of the pixels' corners, so that edges lie on whole numbers."""
    # Only corners of the hull of the pixels' middles can be corners of the hull of the pixels.
    points = cv2.convexHull(contour)[:, 0].astype(np.float32)
    corners = np.concatenate([points + d for d in ([0, 0], [1, 0], [0, 1], [1, 1])])
    return np.asarray(cv2.convexHull(corners.astype(np.float32)))


def _is_square_cut(ring: np.ndarray, unit: float, s: ShapeSettings) -> bool:
    """Whether all sides are long and run along the axes, as an L's do."""
    run = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(*run.T)
    turn = np.abs(run).min(axis=1) / np.maximum(length, 1e-9)
    return bool(length.min() >= s.least_corner_side * unit and turn.max() <= s.square_turn)


def _positive(ring: np.ndarray) -> np.ndarray:
    x, y = ring.T
    area = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
    return ring if area > 0 else ring[::-1].copy()
