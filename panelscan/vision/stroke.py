"""Measure a panel's sides to a fraction of a pixel (step S6): line, width, wobble, support.

Frames: gray arrays are row, column; points are decoded pixels, x before y, pixel (0, 0)
covering 0..1. Nothing measured is snapped to the axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.model.outline import Point
from panelscan.model.panel import Side, SideState
from panelscan.vision.stroke_line import median_of, robust_lines
from panelscan.vision.stroke_model import StrokeShapes, fit_shapes, refit_shapes
from panelscan.vision.stroke_track import (
    Strips,
    coarse_paths,
    follow,
    needed_half_width,
    shifted_profiles,
    take_strips,
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
    """Measure the border or edge of tone near one rough side; see `measure_sides`.

    Examples
    --------
    >>> page = np.full((100, 200), 255, np.uint8)
    >>> page[40:44, 10:190] = 0
    >>> fit = measure_side(page, (20, 41), (180, 43), search_px=5)
    >>> fit.kind, round(fit.p0[1], 2), round(fit.border_px, 1)
    ('line', 42.0, 4.0)
    """
    return measure_sides(gray, np.array([[*p0, *p1]], dtype=np.float64), search_px, scale)[0]


def measure_sides(
    gray: np.ndarray, sides: np.ndarray, search_px: float = 6.0, scale: float = 1.0
) -> list[SideFit]:
    """Measure the borders or edges of tone near rough sides, all together.

    Parameters
    ----------
    gray : ndarray of uint8 or float32, shape (M, N)
        The page at the resolution to measure at.
    sides : ndarray of float64, shape (S, 4)
        Ends x0, y0, x1, y1 of the rough sides in decoded pixels, in ring order (inside on the
        right hand).
    search_px : float
        How far off the rough sides may be.
    scale : float
        Pixels per unit of the stroke model; 1 copes with strokes up to 14 px wide.

    Returns
    -------
    list of SideFit
        With ``kind == "none"`` and the rough ends where nothing fits.
    """
    sides = np.asarray(sides, dtype=np.float64).reshape(-1, 4)
    fits = [SideFit((float(a), float(b)), (float(c), float(d))) for a, b, c, d in sides]
    length = np.hypot(*(sides[:, 2:] - sides[:, :2]).T)
    at = np.flatnonzero(length >= SHORTEST_SIDE_PX)
    if not len(at):
        return fits
    reach = needed_half_width(search_px, scale)
    strips = take_strips(gray, sides[at], reach, search_px + 2 * scale, scale)
    path, found = coarse_paths(strips, search_px)
    at, strips, path = at[found], strips[np.flatnonzero(found)], path[found]
    if not len(at):
        return fits
    shapes, path = _shapes(strips, path)
    for line in (False, True):
        some = np.flatnonzero(shapes.known & (shapes.is_line == line))
        if len(some):
            measured = _lines(
                sides[at[some]], strips[some], _some(shapes, some), path[some], search_px
            )
            for k, fit in zip(at[some], measured, strict=True):
                fits[k] = fit or fits[k]
    return fits


def _shapes(strips: Strips, path: np.ndarray) -> tuple[StrokeShapes, np.ndarray]:
    """Shape from the mean profile, offsets from the shape, and once more the other way round."""
    profiles = shifted_profiles(strips, path)
    ordered = np.sort(profiles, axis=1)
    shapes = fit_shapes(_typical(profiles, ordered), strips.noise, _usual_spread(ordered))
    path = path + shapes.shape[:, :1] * strips.scale
    for line in (False, True):
        some = np.flatnonzero(shapes.known & (shapes.is_line == line))
        if len(some):
            path[some], _, _ = follow(strips[some], path[some], _some(shapes, some), rounds=2)
    profiles = shifted_profiles(strips, path)
    shapes = refit_shapes(_typical(profiles, np.sort(profiles, axis=1)), shapes)
    return shapes, path + shapes.shape[:, :1] * strips.scale


def _some(shapes: StrokeShapes, at: np.ndarray) -> StrokeShapes:
    return StrokeShapes(shapes.known[at], shapes.shape[at], shapes.tones[at], shapes.residual[at])


def _typical(profiles: np.ndarray, ordered: np.ndarray) -> np.ndarray:
    """Mean profile (S, K) of the blocks that are alike: leaves out what a figure hides.

    The six tenths nearest to the median profile are alike. `ordered` are the profiles with
    the blocks sorted at each place.
    """
    middle = _middle(ordered)[:, None]
    far = np.abs(profiles[:, :, 16:49] - middle[:, :, 16:49]).mean(axis=2)
    keep = np.argsort(far, axis=1, kind="stable")[:, : max(3, round(0.6 * far.shape[1]))]
    alike = np.take_along_axis(profiles, keep[:, :, None], axis=1)
    alike.sort(axis=1)
    return np.asarray(_middle(alike), dtype=np.float64)


def _middle(ordered: np.ndarray) -> np.ndarray:
    """Median along axis 1 of what is sorted along it."""
    count = ordered.shape[1]
    return np.asarray((ordered[:, (count - 1) // 2] + ordered[:, count // 2]) / 2)


def _usual_spread(ordered: np.ndarray) -> np.ndarray:
    """Deviation of the densest half of the blocks at each place, from its width; shape (S, K)."""
    half = max(1, ordered.shape[1] // 2)
    return np.asarray((ordered[:, half:] - ordered[:, :-half]).min(axis=1) * 0.74)


def _lines(
    sides: np.ndarray, strips: Strips, shapes: StrokeShapes, path: np.ndarray, search: float
) -> list[SideFit | None]:
    """Lines through the blocks' offsets; sides are all lines or all edges of tone."""
    path, sharpness, contrast = follow(strips, path, shapes, rounds=3)
    run = sides[:, 2:] - sides[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    share = strips.u / length[:, None]
    offset, tilt, off, on_line = robust_lines(share, path, sharpness, strips.scale)
    across = np.stack([-run[:, 1], run[:, 0]], axis=1) / length[:, None]
    start = sides[:, :2] + across * offset[:, None]
    end = sides[:, 2:] + across * (offset + tilt)[:, None]
    too_far = np.maximum(np.abs(offset), np.abs(offset + tilt)) > 1.6 * search + 2 * strips.scale
    number = np.count_nonzero(on_line, axis=1)
    wobble = np.sqrt((on_line * off**2).sum(axis=1) / np.maximum(number, 1))
    strength = median_of(contrast, on_line)
    bow = _bow(share, off, on_line)
    fits: list[SideFit | None] = []
    for k in range(len(sides)):
        if too_far[k] or not number[k]:
            fits.append(None)
            continue
        line = bool(shapes.is_line[k])
        _, width, blur = (float(v) * strips.scale for v in shapes.shape[k])
        outer, stroke, inner = (float(v) for v in shapes.tones[k])
        fits.append(
            SideFit(
                (float(start[k, 0]), float(start[k, 1])),
                (float(end[k, 0]), float(end[k, 1])),
                "line" if line else "edge",
                width if line else None,
                blur,
                float(wobble[k]),
                float(number[k] / on_line.shape[1]),
                float(shapes.residual[k]),
                float(strength[k]),
                (outer, stroke, inner),
                float(bow[k]),
            )
        )
    return fits


def _bow(share: np.ndarray, off: np.ndarray, on: np.ndarray) -> np.ndarray:
    """Height at the middle of the arc that fits each side's offsets best, shape (S,).

    0 with few blocks `on` the line, or where they cover less than half of the side.
    """
    first = np.where(on, share, np.inf).min(axis=1)
    last = np.where(on, share, -np.inf).max(axis=1)
    enough = (np.count_nonzero(on, axis=1) >= 8) & (last - first >= 0.5)
    share, off, on = share[enough], off[enough], on[enough]
    design = np.stack([np.ones_like(share), share, 4 * share * (1 - share)], axis=1) * on[:, None]
    gram = design @ design.transpose(0, 2, 1)
    bow = np.zeros(len(enough))
    bow[enough] = np.linalg.solve(gram, design @ off[:, :, None])[:, 2, 0]
    return bow
