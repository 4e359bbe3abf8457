"""Measure a panel's sides to a fraction of a pixel (step S6): line, width, wobble, support.

Frames: gray arrays are row, column; points are decoded pixels, x before y, pixel (0, 0)
covering 0..1. Nothing measured is snapped to the axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.model.outline import Point
from panelscan.model.panel import Side, SideState
from panelscan.vision.stroke_model import StrokeShape, fit_shape
from panelscan.vision.stroke_track import (
    Strip,
    coarse_path,
    follow,
    needed_half_width,
    shifted_profiles,
    take_strip,
)

SHORTEST_SIDE_PX = 10.0
LEAST_SUPPORT = 0.35


@dataclass(frozen=True, slots=True)
class SideFit:
    """One measured side, in decoded pixels.

    Parameters
    ----------
    p0, p1 : tuple of float
        Ends of the fitted line abreast of the rough side's ends.
    kind : str
        ``"line"`` (p0-p1 is the middle of a drawn stroke), ``"edge"`` (it is an edge of
        tone) or ``"none"`` (nothing fits; p0-p1 is the rough side).
    border_px : float or None
        Width of the drawn stroke.
    blur_px : float or None
        Standard deviation of the edges' blur.
    wobble_px : float or None
        RMS distance of the stroke from the line where it is seen.
    support : float
        Share of the length where a stroke or edge lies on the line, 0..1.
    residual : float
        RMS gray difference between the mean profile and the model.
    contrast : float
        Median gray difference carried by the supporting blocks.
    tones : tuple of float or None
        Outer, stroke and inner gray.
    bow_px : float
        Height of the best-fitting arc over the straight line, at its middle (positive inward).
    """

    p0: Point
    p1: Point
    kind: str = "none"
    border_px: float | None = None
    blur_px: float | None = None
    wobble_px: float | None = None
    support: float = 0.0
    residual: float = 0.0
    contrast: float = 0.0
    tones: tuple[float, float, float] | None = None
    bow_px: float = 0.0

    @property
    def found(self) -> bool:
        """Whether anything was measured."""
        return self.kind != "none"

    def as_side(self) -> Side:
        """The side as the rest of the program stores it (lengths still in decoded pixels)."""
        drawn = self.found and self.support >= LEAST_SUPPORT
        state = SideState.DRAWN if drawn else SideState.INFERRED
        return Side(state, self.support, self.border_px, self.wobble_px)


def measure_side(
    gray: np.ndarray, p0: Point, p1: Point, search_px: float = 6.0, scale: float = 1.0
) -> SideFit:
    """Measure the border or edge of tone near a rough side.

    Parameters
    ----------
    gray : ndarray of uint8 or float32, shape (M, N)
        The page at the resolution to measure at.
    p0, p1 : tuple of float
        Ends of the rough side in decoded pixels, in ring order (inside on the right hand).
    search_px : float
        How far off the rough side may be.
    scale : float
        Pixels per unit of the stroke model; 1 copes with strokes up to 14 px wide.

    Returns
    -------
    SideFit
        With ``kind == "none"`` and the rough ends where nothing fits.

    Examples
    --------
    >>> page = np.full((100, 200), 255, np.uint8)
    >>> page[40:44, 10:190] = 0
    >>> fit = measure_side(page, (20, 41), (180, 43), search_px=5)
    >>> fit.kind, round(fit.p0[1], 2), round(fit.border_px, 1)
    ('line', 42.0, 4.0)
    """
    a, b = np.asarray(p0, np.float64), np.asarray(p1, np.float64)
    rough = SideFit((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
    length = float(np.hypot(*(b - a)))
    if length < SHORTEST_SIDE_PX:
        return rough
    reach = needed_half_width(search_px, scale)
    strip = take_strip(gray, a, b, reach, ends_px=search_px + 2 * scale, scale=scale)
    coarse = coarse_path(strip, search_px, scale)
    if coarse is None:
        return rough
    fitted = _fit_shape_and_path(strip, coarse[0], scale)
    if fitted is None:
        return rough
    shape, path, sharpness, contrast = fitted
    return _line_through(rough, strip, shape, path, sharpness, contrast, search_px, scale)


def _fit_shape_and_path(
    strip: Strip, path: np.ndarray, scale: float
) -> tuple[StrokeShape, np.ndarray, np.ndarray, np.ndarray] | None:
    """Shape from the mean profile, offsets from the shape, and once more the other way round."""
    shape: StrokeShape | None = None
    sharpness = contrast = np.zeros(len(path))
    for _ in range(2):
        profiles = shifted_profiles(strip, path, scale)
        used = _alike(profiles)
        mean = np.median(used, axis=0)
        spread = _usual_spread(profiles)
        shape = fit_shape(mean, strip.noise, spread, shape)
        if shape is None:
            return None
        start = path + shape.center * scale
        path, sharpness, contrast = follow(strip, start, shape, scale, rounds=3)
    assert shape is not None  # noqa: S101
    return shape, path, sharpness, contrast


def _alike(profiles: np.ndarray) -> np.ndarray:
    """The six tenths of the blocks nearest the median profile: leaves out what a figure hides."""
    far = np.abs(profiles - np.median(profiles, axis=0))[:, 16:49].mean(axis=1)
    return np.asarray(profiles[far <= np.quantile(far, 0.6)])


def _usual_spread(profiles: np.ndarray) -> np.ndarray:
    """Deviation of the densest half of the blocks at each place (0.37 of its width), shape (K,)."""
    ordered = np.sort(profiles, axis=0)
    half = max(1, len(ordered) // 2)
    return np.asarray((ordered[half:] - ordered[:-half]).min(axis=0) * 0.74)


def _line_through(
    rough: SideFit,
    strip: Strip,
    shape: StrokeShape,
    path: np.ndarray,
    sharpness: np.ndarray,
    contrast: np.ndarray,
    search: float,
    scale: float,
) -> SideFit:
    a, b = np.asarray(rough.p0), np.asarray(rough.p1)
    length = float(np.hypot(*(b - a)))
    share = strip.u / length
    offset, tilt, off, on_line = robust_line(share, path, sharpness, scale)
    if not on_line.any() or max(abs(offset), abs(offset + tilt)) > 1.6 * search + 2:
        return rough
    across = np.array([-(b - a)[1], (b - a)[0]]) / length
    q0, q1 = a + across * offset, b + across * (offset + tilt)
    wobble = float(np.sqrt(np.mean(off[on_line] ** 2)))
    return SideFit(
        (float(q0[0]), float(q0[1])),
        (float(q1[0]), float(q1[1])),
        "line" if shape.is_line else "edge",
        shape.width * scale if shape.is_line else None,
        shape.blur * scale,
        wobble,
        float(on_line.mean()),
        shape.residual,
        float(np.median(contrast[on_line])),
        shape.tones,
        _bow(share[on_line], off[on_line]),
    )


def robust_line(
    share: np.ndarray, path: np.ndarray, sharpness: np.ndarray, scale: float = 1.0
) -> tuple[float, float, np.ndarray, np.ndarray]:
    """Line through offsets by iteratively reweighted least squares (Tukey's biweight).

    Parameters
    ----------
    share : ndarray of shape (B,)
        Place along the side, 0..1.
    path : ndarray of shape (B,)
        Offset across.
    sharpness : ndarray of shape (B,)
        Inverse variance of each offset.
    scale : float
        Pixels per unit.

    Returns
    -------
    offset, tilt : float
        Offset at the start, and its change along the side.
    off : ndarray of shape (B,)
        Distance of each block from the line.
    on_line : ndarray of bool, shape (B,)
        Blocks that lie on it.
    """
    seen = sharpness > 0
    if seen.sum() < 3:
        return 0.0, 0.0, path, np.zeros(len(path), bool)
    # Wobble of the hand adds to the error of each offset, so no block may outweigh the rest.
    weight = seen / (1.0 / np.maximum(sharpness, 1e-9) + (0.1 * scale) ** 2)
    offset, tilt = _consensus(share[seen], path[seen], 2.0 * scale)
    for _ in range(8):
        off = path - offset - tilt * share
        spread = 1.4826 * float(np.median(np.abs(off[seen])))
        limit = 4.0 * float(np.clip(spread, 0.08 * scale, 2.5 * scale))
        tukey = np.clip(1 - (off / limit) ** 2, 0, None) ** 2
        offset, tilt = _weighted_line(share, path, weight * tukey)
    off = path - offset - tilt * share
    tolerance = float(np.clip(3.0 * spread, 0.8 * scale, 4.0 * scale))
    return offset, tilt, off, seen & (np.abs(off) <= tolerance)


def _consensus(share: np.ndarray, path: np.ndarray, near: float) -> tuple[float, float]:
    """Line through two blocks that most other blocks lie near (all pairs far apart are tried).

    The least total of distances cut off at `near` wins, a deterministic form of the sample
    consensus of Fischler and Bolles 1981, Communications of the ACM 24:381-395.
    """
    pick = np.unique(np.linspace(0, len(share) - 1, 26).astype(np.intp))
    first, second = np.triu_indices(len(pick), k=max(1, len(pick) // 3))
    first, second = pick[first], pick[second]
    tilts = (path[second] - path[first]) / (share[second] - share[first])
    offsets = path[first] - tilts * share[first]
    off = np.abs(path[None, :] - offsets[:, None] - tilts[:, None] * share[None, :])
    best = int(np.argmin(np.minimum(off, near).sum(axis=1)))
    return float(offsets[best]), float(tilts[best])


def _weighted_line(share: np.ndarray, path: np.ndarray, weight: np.ndarray) -> tuple[float, float]:
    total = float(weight.sum())
    if total <= 0:
        return float(np.median(path)), 0.0
    mean_u = float(weight @ share) / total
    mean_v = float(weight @ path) / total
    spread = float(weight @ (share - mean_u) ** 2)
    tilt = float(weight @ ((share - mean_u) * (path - mean_v))) / max(spread, 1e-12)
    return mean_v - tilt * mean_u, tilt


def _bow(share: np.ndarray, off: np.ndarray) -> float:
    """Height at the middle of the arc that fits the offsets best (0 with few blocks)."""
    if len(share) < 8 or np.ptp(share) < 0.5:
        return 0.0
    arc = 4 * share * (1 - share)
    design = np.stack([np.ones_like(share), share, arc], axis=1)
    return float(np.linalg.lstsq(design, off, rcond=None)[0][2])
