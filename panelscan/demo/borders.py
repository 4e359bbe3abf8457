"""Panel borders: ruled bands, shaking hand-drawn sides with overshoots and gaps, soft edges."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import shapely

from panelscan.demo.grids import PanelPlan
from panelscan.demo.hands import Hand
from panelscan.demo.raster import (
    RGB,
    Patch,
    cover,
    lay_color,
    line_band,
    resample,
    ring_band,
    smooth_noise,
)


@dataclass(frozen=True, eq=False)
class BorderPath:
    """The line that a border really takes.

    Parameters
    ----------
    ring : ndarray, shape (N, 2)
        Closed course of the line: the panel's true outline.
    sides : tuple of ndarray
        One path per planned side; a single closed path for round panels.
    """

    ring: np.ndarray
    sides: tuple[np.ndarray, ...]


def straight_path(plan: PanelPlan) -> BorderPath:
    """The course of a ruled border: the plan itself."""
    n = len(plan.points)
    sides = tuple(np.array([plan.points[k], plan.points[(k + 1) % n]]) for k in range(n))
    return BorderPath(plan.points, sides)


def shaky_path(plan: PanelPlan, wobble_px: float, rng: np.random.Generator) -> BorderPath:
    """The course of a hand-drawn border: corners missed a little, sides that bend and shake."""
    points = plan.points
    n = len(points)
    if plan.kind in ("round", "rounded", "jagged"):
        out = points - points.mean(axis=0)
        out = out / np.maximum(np.hypot(*out.T), 1e-6)[:, None]
        t = np.linspace(0, 2 * np.pi, n, endpoint=False)
        swing = sum(rng.normal() / k * np.sin(k * t + rng.uniform(0, 6.28)) for k in (2, 3, 5, 8))
        ring = points + out * (np.asarray(swing) * wobble_px * 0.8)[:, None]
        return BorderPath(ring, (np.concatenate([ring, ring[:1]]),))
    corners = points + np.clip(rng.normal(size=points.shape), -2, 2) * wobble_px * 0.6
    sides = []
    for k in range(n):
        path = resample(np.array([corners[k], corners[(k + 1) % n]]), 12.0)
        d = path[-1] - path[0]
        length = max(float(np.hypot(*d)), 1e-6)
        across = np.array([-d[1], d[0]]) / length
        t = np.linspace(0, 1, len(path))
        ends = np.minimum(1, np.minimum(t, 1 - t) * 12)
        slow = smooth_noise(rng, len(path), max(int(length / 170), 2))
        quick = smooth_noise(rng, len(path), max(int(length / 38), 2))
        bow = 4 * t * (1 - t) * rng.normal() * 0.5
        sides.append(
            path + across * ((0.75 * slow + 0.22 * quick + bow) * ends * wobble_px)[:, None]
        )
    ring = np.concatenate([s[:-1] for s in sides])
    return BorderPath(ring, tuple(sides))


def true_ring(path: BorderPath, tolerance_px: float = 0.35) -> np.ndarray:
    """The ring with no more corners than it needs; shape (N, 2)."""
    simple = shapely.Polygon(path.ring).simplify(tolerance_px)
    if simple.is_valid and simple.geom_type == "Polygon" and len(simple.exterior.coords) > 3:
        return np.asarray(simple.exterior.coords)[:-1]
    return path.ring


def draw_border(
    page: np.ndarray,
    plan: PanelPlan,
    path: BorderPath,
    width_px: float,
    rgb: RGB,
    hand: Hand,
    rng: np.random.Generator,
    unit: float,
) -> None:
    """Draw the sides of a panel that are to be drawn."""
    size = page.shape[:2]
    if plan.border == "ruled":
        if not plan.open_sides:
            lay_color(page, cover(ring_band(path.ring, width_px), size), rgb)
            return
        for k, side in enumerate(path.sides):
            if k not in plan.open_sides:
                band = shapely.LineString(side).buffer(width_px / 2, cap_style="square")
                lay_color(page, cover(band, size), rgb)
        return
    for k, side in enumerate(path.sides):
        if k not in plan.open_sides:
            _draw_hand_side(page, side, width_px, rgb, hand, rng, unit)


def _draw_hand_side(
    page: np.ndarray, side: np.ndarray, width_px: float, rgb: RGB, hand: Hand,
    rng: np.random.Generator, unit: float,
) -> None:  # fmt: skip
    path = side
    if len(path) > 2 and not np.allclose(path[0], path[-1]):
        reach = rng.normal(size=2) * hand.overshoot * unit
        head, tail = path[0] - path[1], path[-1] - path[-2]
        if reach[0] > 0:
            path = np.concatenate([[path[0] + head / np.hypot(*head) * reach[0]], path])
        if reach[1] > 0:
            path = np.concatenate([path, [path[-1] + tail / np.hypot(*tail) * reach[1]]])
        if reach.min() < -1.2 * hand.overshoot * unit and len(path) > 8:
            path = path[1:-1]
    t = np.linspace(0, 1, len(path))
    widths = width_px * (1 + 0.13 * smooth_noise(rng, len(path), max(len(path) // 8, 2)))
    widths *= 1 - 0.35 * hand.taper * np.abs(2 * t - 1) ** 6
    pieces = [(0, len(path))]
    if hand.overshoot and len(path) > 30 and rng.random() < 0.18:
        gap = int(rng.integers(8, len(path) - 8))
        pieces = [(0, gap), (gap + 2, len(path))]
    for a, b in pieces:
        if b - a >= 2:
            band = shapely.make_valid(
                shapely.Polygon(line_band(path[a:b], np.maximum(widths[a:b], 1.0)))
            )
            for part in getattr(band, "geoms", [band]):
                if part.geom_type == "Polygon":
                    lay_color(page, cover(part, page.shape[:2]), rgb)


def soften(patch: Patch, spread_px: float, ragged: bool, rng: np.random.Generator) -> Patch:
    """Coverage that fades over ``spread_px`` about the edge, evenly or in ragged strokes."""
    if patch.is_empty:
        return patch
    alpha = cv2.GaussianBlur(
        patch.alpha, (0, 0), max(spread_px / 2, 0.5), borderType=cv2.BORDER_CONSTANT
    )
    if ragged:
        rows, columns = alpha.shape
        cell = max(spread_px * 0.35, 2)
        noise = rng.normal(size=(max(int(rows / cell), 2), max(int(columns / cell), 2)))
        big = cv2.resize(noise.astype(np.float32), (columns, rows), interpolation=cv2.INTER_LINEAR)
        edge = (alpha > 4) & (alpha < 251)
        shaken = np.clip(alpha.astype(np.float32) + big * 90, 0, 255)
        alpha = np.where(edge, shaken, alpha).astype(np.uint8)
    return Patch(patch.rows, patch.columns, alpha)
