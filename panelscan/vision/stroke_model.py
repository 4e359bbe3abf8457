"""Two-edge model of a blurred border stroke: outer tone, stroke, inner tone, width, blur, offset.

A border crossed at right angles reads outer tone, stroke tone, inner tone, with both edges
blurred alike. Taking the crossing of the half level of one edge instead is biased outward on
thin or blurred strokes, because the blurred stroke never reaches its own tone.

All sides of a page are fitted together: arrays have the sides S first.

Notes
-----
The blurred edge is the normal distribution function, by Page's approximation (E. Page 1977,
"Approximations to the cumulative normal function and its inverse for use on a pocket
calculator", Applied Statistics 26:75-76; formula from memory, checked against SciPy in the
tests: error below 2e-4).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

STEP = 0.5
REACH = 16.0
_WIDTHS = np.array(
    [1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 14.0]
)
_BLURS = np.array([0.45, 0.7, 1.0, 1.5, 2.2, 3.2])
UNEXPLAINED_SHARE = 0.12
STEADINESS = 1.8


@dataclass(frozen=True, eq=False)
class StrokeShapes:
    """What the borders of S sides look like across, in units of the profiles' places.

    Parameters
    ----------
    known : ndarray of bool, shape (S,)
        False where the profile is flat; the other fields mean nothing there.
    shape : ndarray of float64, shape (S, 3)
        Place of the stroke's middle (or of the edge of tone), width (0 for a mere edge), and
        standard deviation of the blur of each edge.
    tones : ndarray of float64, shape (S, 3)
        Outer, stroke and inner gray (outer, outer, inner for a mere edge).
    residual : ndarray of float64, shape (S,)
        RMS distance of the profile from the model, in gray levels.
    """

    known: np.ndarray
    shape: np.ndarray
    tones: np.ndarray
    residual: np.ndarray

    @property
    def is_line(self) -> np.ndarray:
        """True for a drawn line, False for an edge of tone; bool of shape (S,)."""
        return np.asarray(self.shape[:, 1] > 0)


def soft_step(x: np.ndarray) -> np.ndarray:
    """Normal distribution function of x (an edge blurred to unit deviation)."""
    z = np.minimum(np.maximum(x, -7.0), 7.0)
    return np.asarray(1.0 / (1.0 + np.exp(-z * (1.5957691 + 0.0713551 * z * z))))


def profile_places() -> np.ndarray:
    """Places across a border at which profiles are taken, shape (K,), from -16 to 16."""
    return np.arange(-REACH, REACH + STEP / 2, STEP)


def basis(places: np.ndarray, shape: np.ndarray, line: bool) -> np.ndarray:
    """Shares of outer tone, (stroke,) and inner tone at each place, shape (S, K, 3 or 2)."""
    off = places - shape[:, :1]
    half, blur = shape[:, 1:2] / 2, shape[:, 2:]
    if not line:
        inner = soft_step(off / blur)
        return np.stack([1.0 - inner, inner], axis=2)
    first, second = soft_step((off + half) / blur), soft_step((off - half) / blur)
    return np.stack([1.0 - first, first - second, second], axis=2)


def window(places: np.ndarray, shape: np.ndarray) -> np.ndarray:
    """Places near enough to the stroke to be held against the model, bool of shape (S, K)."""
    reach = shape[:, 1:2] / 2 + 2.5 * shape[:, 2:] + 2.0
    return np.asarray(np.abs(places - shape[:, :1]) <= reach)


@dataclass(frozen=True)
class _Catalog:
    """Shapes to try: parameters (J, 3), bases and inverses (J * C, K), windows (J, K).

    Bases are orthonormal; inverses give the C tones of a profile under each shape. They are
    kept flat so that one matrix product serves the whole catalog.
    """

    shapes: np.ndarray
    bases: np.ndarray
    inverses: np.ndarray
    windows: np.ndarray


@lru_cache(maxsize=2)
def _catalog(line: bool) -> _Catalog:
    places = profile_places()
    widths = _WIDTHS if line else np.array([0.0])
    rows = [(c, w, s) for w in widths for s in _BLURS for c in _centers(w) if not w or s <= w]
    shapes = np.array(rows)
    windows = window(places, shapes).astype(np.float64)
    b = basis(places, shapes, line) * windows[:, :, None]
    bases = np.linalg.qr(b)[0].transpose(0, 2, 1)
    inverses = np.linalg.pinv(b, rcond=1e-4)
    flat = (-1, len(places))
    return _Catalog(shapes, bases.reshape(flat).copy(), inverses.reshape(flat).copy(), windows)


def _centers(width: float) -> np.ndarray:
    """Middles such that either edge of the stroke, or its middle, lies near place 0."""
    near = np.arange(-1.5, 1.51, 0.5)
    return np.unique(np.concatenate([near - width / 2, near, near + width / 2]))


@dataclass(frozen=True, eq=False)
class _Profiles:
    """Mean profiles (S, K), how the gray varies along the side there, contrast, noise (S,)."""

    gray: np.ndarray
    spread: np.ndarray
    contrast: np.ndarray
    noise: np.ndarray

    def __getitem__(self, some: np.ndarray) -> _Profiles:
        return _Profiles(self.gray[some], self.spread[some], self.contrast[some], self.noise[some])

    def __len__(self) -> int:
        return len(self.gray)

    @property
    def unexplained(self) -> np.ndarray:
        """Price of a place that a shape does not explain, shape (S,)."""
        return np.asarray((UNEXPLAINED_SHARE * self.contrast) ** 2 + self.noise**2)


def fit_shapes(
    profiles: np.ndarray, noise: np.ndarray, spread: np.ndarray | None = None
) -> StrokeShapes:
    """Strokes or edges that explain mean profiles best.

    Parameters
    ----------
    profiles : ndarray of shape (S, K)
        Gray along `profile_places`, negative places outside the panel; an edge of the border
        or its middle is expected near place 0.
    noise : ndarray of shape (S,)
        Gray noise of each profile, for the least contrast that counts.
    spread : ndarray of shape (S, K) or None
        How much the gray varies along the side at each place: a drawn stroke keeps its tone,
        art does not.
    """
    # Only the tones within the reach of the offsets tried say how strong the border is.
    contrast = np.ptp(profiles[:, np.abs(profile_places()) <= 9.0], axis=1)
    known = contrast >= np.maximum(6.0, 4.0 * noise)
    steady = np.zeros_like(profiles) if spread is None else spread
    found = _empty(known)
    p = _Profiles(profiles, steady, contrast, noise)[np.flatnonzero(known)]
    if not len(p):
        return found
    where = np.flatnonzero(known)
    lines, at = _lines(p)
    if len(at):
        _put(found, where[at], lines)
    rest = np.setdiff1d(np.arange(len(p)), at)
    if len(rest):
        some = p[rest]
        _put(found, where[rest], polished(some.gray, _best_edges(some), line=False))
    return found


def refit_shapes(profiles: np.ndarray, before: StrokeShapes) -> StrokeShapes:
    """Improve shapes on better profiles, in which they are centred on place 0."""
    found = _empty(before.known)
    for line in (False, True):
        at = np.flatnonzero(before.known & (before.is_line == line))
        if len(at):
            start = before.shape[at] * [0.0, 1.0, 1.0]
            _put(found, at, polished(profiles[at], start, line))
    return found


def _empty(known: np.ndarray) -> StrokeShapes:
    count = len(known)
    shape = np.tile([0.0, 0.0, 1.0], (count, 1))
    return StrokeShapes(known, shape, np.zeros((count, 3)), np.zeros(count))


def _put(found: StrokeShapes, at: np.ndarray, part: StrokeShapes) -> None:
    found.shape[at], found.tones[at], found.residual[at] = part.shape, part.tones, part.residual


def _lines(p: _Profiles) -> tuple[StrokeShapes, np.ndarray]:
    """Drawn lines, and the profiles that they explain better than an edge does."""
    known = _catalog(True)
    cost = _costs(p, known)
    tones = (known.inverses @ p.gray.T).reshape(len(known.shapes), 3, -1).transpose(2, 0, 1)
    cost[~_is_stroke(known.shapes[:, 0], tones, p)] = np.inf
    found, done = _empty(np.ones(len(p), bool)), np.zeros(len(p), bool)
    open_ = np.arange(len(p))
    for _ in range(3):
        best = cost[open_].argmin(axis=1)
        open_, best = _pair(open_, best, np.isfinite(cost[open_, best]))
        if not len(open_):
            break
        line = polished(p.gray[open_], known.shapes[best], line=True)
        some = p[open_]
        good = _is_stroke(line.shape[:, :1], line.tones[:, None], some)[:, 0]
        beaten = _beaten_by_edge(some, line, known.shapes[best])
        keep = open_[good & ~beaten]
        found.shape[keep] = line.shape[good & ~beaten]
        found.tones[keep] = line.tones[good & ~beaten]
        found.residual[keep] = line.residual[good & ~beaten]
        done[keep] = True
        near = np.abs(known.shapes[None, :, 0] - known.shapes[best, 0][:, None]) < 1.1
        cost[open_] = np.where(near, np.inf, cost[open_])
        open_ = open_[~good]
    at = np.flatnonzero(done)
    part = StrokeShapes(done[at], found.shape[at], found.tones[at], found.residual[at])
    return part, at


def _pair(a: np.ndarray, b: np.ndarray, keep: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return a[keep], b[keep]


def _beaten_by_edge(p: _Profiles, line: StrokeShapes, start: np.ndarray) -> np.ndarray:
    """Whether a mere edge of tone explains the line's own window about as well."""
    beaten = _apart(line.tones) <= 0.5 * p.contrast
    at = np.flatnonzero(beaten)
    if len(at):
        some = p[at]
        inside = window(profile_places(), start[at])
        edge = polished(some.gray, _best_edges(some), line=False, inside=inside)
        beaten[at] = edge.residual <= 1.4 * line.residual[at] + 0.01 * some.contrast
    return np.asarray(beaten)


def _is_stroke(centers: np.ndarray, tones: np.ndarray, p: _Profiles) -> np.ndarray:
    """Which shapes have a stroke apart from both flanks, of one tone along the side.

    Parameters
    ----------
    centers : ndarray of shape (J,), or (S, J) where each profile has its own
    tones : ndarray of shape (S, J, 3)
    p : _Profiles

    Returns
    -------
    ndarray of bool, shape (S, J)
    """
    outer, stroke, inner = np.moveaxis(tones, 2, 0)
    apart, contrast = _apart(tones), p.contrast[:, None]
    same_way = (stroke - outer) * (stroke - inner) > 0
    # A blurred hairline's own tone is beyond what can be measured, but not without limit.
    low, high = p.gray.min(axis=1)[:, None], p.gray.max(axis=1)[:, None]
    likely = (stroke > low - 3 * contrast) & (stroke < high + 3 * contrast)
    at = np.clip(np.rint((centers + REACH) / STEP), 0, p.gray.shape[1] - 1).astype(np.intp)
    spread = p.spread[:, at] if at.ndim == 1 else np.take_along_axis(p.spread, at, axis=1)
    steady = np.minimum(apart, contrast) >= STEADINESS * spread
    # A tone that nobody saw must at least show in the middle, else it only mends a bad edge.
    beyond = (stroke > high + 0.02 * contrast) | (stroke < low - 0.02 * contrast)
    middle = p.gray[:, at] if at.ndim == 1 else np.take_along_axis(p.gray, at, axis=1)
    flank = np.where(np.abs(stroke - outer) < np.abs(stroke - inner), outer, inner)
    shows = (middle - flank) * np.sign(stroke - flank) >= 0.15 * np.abs(stroke - flank)
    real = ~beyond | shows | (apart >= 0.6 * contrast)
    return np.asarray(
        same_way & likely & steady & real & (apart >= np.maximum(8.0, 0.12 * contrast))
    )


def _apart(tones: np.ndarray) -> np.ndarray:
    """Lesser distance of the stroke's tone from either flank (last axis)."""
    return np.asarray(np.abs(np.diff(tones, axis=-1)).min(axis=-1))


def _best_edges(p: _Profiles) -> np.ndarray:
    known = _catalog(False)
    return np.asarray(known.shapes[_costs(p, known).argmin(axis=1)])


def _costs(p: _Profiles, known: _Catalog) -> np.ndarray:
    """Squared residuals of each shape plus a price for what it leaves unexplained, (S, J)."""
    y = p.gray - p.gray.mean(axis=1, keepdims=True)
    fitted = (known.bases @ y.T).reshape(len(known.shapes), -1, len(p))
    cost = known.windows @ (y**2).T - (fitted**2).sum(axis=1)
    outside = y.shape[1] - known.windows.sum(axis=1)
    return np.asarray((cost + outside[:, None] * p.unexplained).T)


def polished(
    profiles: np.ndarray, start: np.ndarray, line: bool, inside: np.ndarray | None = None
) -> StrokeShapes:
    """Improve offset, width and blur by damped Gauss-Newton (Levenberg-Marquardt).

    Parameters
    ----------
    profiles : ndarray of shape (S, K)
    start : ndarray of shape (S, 3)
        Offset, width and blur to start from.
    line : bool
        Whether the shapes are lines (else mere edges of tone).
    inside : ndarray of bool, shape (S, K), or None
        Places that count; those near the starting shape if None.
    """
    t = profile_places()
    weight = (window(t, start) if inside is None else inside).astype(np.float64)
    shape = np.array(start, dtype=np.float64)
    tones, residual, moves = _linearized(t, profiles, weight, shape, line)
    best = (residual**2).sum(axis=1)
    damping, active = np.full(len(shape), 1e-2), np.ones(len(shape), bool)
    corner = np.arange(3)
    for _ in range(6):
        gram = moves.transpose(0, 2, 1) @ moves
        diagonal = gram[:, corner, corner]
        gram[:, corner, corner] += damping[:, None] * (diagonal + 1.0)
        pull = (moves.transpose(0, 2, 1) @ residual[:, :, None])[:, :, 0]
        step = np.linalg.solve(gram, pull[:, :, None])[:, :, 0]
        trial = shape + np.clip(step, -0.6, 0.6)
        trial[:, 1] = np.maximum(trial[:, 1], 0.5) if line else 0.0
        trial[:, 2] = np.clip(trial[:, 2], 0.25, 5.0)
        new = _linearized(t, profiles, weight, trial, line)
        value = (new[1] ** 2).sum(axis=1)
        better = active & (value < best)
        # Each side stops on its own, so that no side's result depends on the others.
        settled = better & (best - value < 1e-3 * best)
        shape[better], best = trial[better], np.where(better, value, best)
        tones[better], residual[better], moves[better] = (part[better] for part in new)
        damping = np.where(better, damping * 0.2, damping * 8)
        active &= ~settled
        if not active.any():
            break
    all_tones = tones if line else tones[:, [0, 0, 1]]
    rms = np.sqrt(best / np.maximum(1.0, weight.sum(axis=1)))
    return StrokeShapes(np.ones(len(shape), bool), shape, all_tones, rms)


def _linearized(
    t: np.ndarray, y: np.ndarray, weight: np.ndarray, shape: np.ndarray, line: bool
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Best tones for a shape, what is left over, and how the model moves with the shape.

    Variable projection in Kaufman's form (L. Kaufman 1975, BIT 15:49-57; from memory): the
    part of each derivative that the tones could take up is removed.
    """
    b = basis(t, shape, line) * weight[:, :, None]
    turned = b.transpose(0, 2, 1)
    inverse = np.linalg.inv(turned @ b + 1e-5 * np.eye(b.shape[2])) @ turned
    tones = (inverse @ (y * weight)[:, :, None])[:, :, 0]
    moves = _derivatives(t, shape, tones, line) * weight[:, :, None]
    moves -= b @ (inverse @ moves)
    return tones, y * weight - (b @ tones[:, :, None])[:, :, 0], moves


def _derivatives(t: np.ndarray, shape: np.ndarray, tones: np.ndarray, line: bool) -> np.ndarray:
    """Change of the modelled profile with center, width and blur, shape (S, K, 3)."""
    blur = shape[:, 2:]
    off, half = (t - shape[:, :1]) / blur, shape[:, 1:2] / (2 * blur)
    jumps = np.diff(tones, axis=1) / (np.sqrt(2 * np.pi) * blur)
    first = off + half
    density = jumps[:, :1] * np.exp(-0.5 * first * first)
    if not line:
        return np.stack([-density, np.zeros_like(density), -density * first], axis=2)
    second = off - half
    other = jumps[:, 1:] * np.exp(-0.5 * second * second)
    return np.stack(
        [-density - other, (density - other) / 2, -density * first - other * second], axis=2
    )
