"""Two-edge model of a blurred border stroke: outer tone, stroke, inner tone, width, blur, offset.

A border crossed at right angles reads outer tone, stroke tone, inner tone, with both edges
blurred alike. Taking the crossing of the half level of one edge instead is biased outward on
thin or blurred strokes, because the blurred stroke never reaches its own tone.

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
_WIDTHS = np.array([1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0])
_BLURS = np.array([0.45, 0.7, 1.0, 1.5, 2.2, 3.2])
UNEXPLAINED_SHARE = 0.12
STEADINESS = 1.8


@dataclass(frozen=True, slots=True)
class StrokeShape:
    """What a border looks like across, in decoded pixels.

    Parameters
    ----------
    center : float
        Where the stroke's middle (or the edge of tone) lies on the profile.
    width : float
        Width of the stroke; 0 for a mere edge of tone.
    blur : float
        Standard deviation of the blur of each edge.
    tones : tuple of float
        Outer, stroke and inner gray (outer, outer, inner for a mere edge).
    residual : float
        RMS distance of the profile from the model, in gray levels.
    """

    center: float
    width: float
    blur: float
    tones: tuple[float, float, float]
    residual: float

    @property
    def is_line(self) -> bool:
        """True for a drawn line, False for an edge of tone."""
        return self.width > 0


def soft_step(x: np.ndarray) -> np.ndarray:
    """Normal distribution function of x (an edge blurred to unit deviation)."""
    z = np.minimum(np.maximum(x, -7.0), 7.0)
    return np.asarray(1.0 / (1.0 + np.exp(-z * (1.5957691 + 0.0713551 * z * z))))


def profile_places() -> np.ndarray:
    """Places across a border at which profiles are taken, shape (K,), from -16 to 16."""
    return np.arange(-REACH, REACH + STEP / 2, STEP)


def basis(places: np.ndarray, center: float, width: float, blur: float) -> np.ndarray:
    """Shares of outer tone, (stroke,) and inner tone at each place, shape (K, 3) or (K, 2)."""
    if width <= 0:
        inner = soft_step((places - center) / blur)
        return np.stack([1.0 - inner, inner], axis=1)
    first = soft_step((places - center + width / 2) / blur)
    second = soft_step((places - center - width / 2) / blur)
    return np.stack([1.0 - first, first - second, second], axis=1)


def window(places: np.ndarray, center: float, width: float, blur: float) -> np.ndarray:
    """Places near enough to the stroke to be held against the model, bool of shape (K,)."""
    return np.asarray(np.abs(places - center) <= width / 2 + 2.5 * blur + 2.0)


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
    shapes = [(c, w, s) for w in widths for s in _BLURS for c in _centers(w) if not w or s <= w]
    columns = 3 if line else 2
    bases = np.zeros((len(shapes), columns, len(places)))
    inverses = np.zeros_like(bases)
    windows = np.zeros((len(shapes), len(places)))
    for j, (c, w, s) in enumerate(shapes):
        inside = window(places, c, w, s)
        b = basis(places, c, w, s) * inside[:, None]
        bases[j], windows[j] = np.linalg.qr(b)[0].T, inside
        inverses[j] = np.linalg.pinv(b, rcond=1e-4)
    flat = (len(shapes) * columns, len(places))
    return _Catalog(np.array(shapes), bases.reshape(flat), inverses.reshape(flat), windows)


def _centers(width: float) -> np.ndarray:
    """Middles such that either edge of the stroke, or its middle, lies near place 0."""
    near = np.arange(-1.5, 1.51, 0.5)
    return np.unique(np.concatenate([near - width / 2, near, near + width / 2]))


def fit_shape(
    profile: np.ndarray,
    noise: float,
    spread: np.ndarray | None = None,
    start: StrokeShape | None = None,
) -> StrokeShape | None:
    """Stroke or edge that explains a mean profile best, or None where it is flat.

    Parameters
    ----------
    profile : ndarray of shape (K,)
        Gray along `profile_places`, negative places outside the panel; an edge of the border
        or its middle is expected near place 0.
    noise : float
        Gray noise of the profile, for the least contrast that counts.
    spread : ndarray of shape (K,) or None
        How much the gray varies along the side at each place: a drawn stroke keeps its tone,
        art does not.
    start : StrokeShape or None
        Shape to improve (about place 0) instead of trying the whole catalog.
    """
    # Only the tones within the reach of the offsets tried say how strong the border is.
    contrast = float(np.ptp(profile[np.abs(profile_places()) <= 9.0]))
    if contrast < max(6.0, 4.0 * noise):
        return None
    if start is not None:
        return _polished(profile, 0.0, start.width, start.blur)
    steadiness = np.zeros_like(profile) if spread is None else spread
    unexplained = (UNEXPLAINED_SHARE * contrast) ** 2 + noise**2
    line = _line(profile, unexplained, contrast, steadiness)
    return line or _polished(profile, *_best_edge(profile, unexplained))


def _line(
    profile: np.ndarray, unexplained: float, contrast: float, spread: np.ndarray
) -> StrokeShape | None:
    """The drawn line that explains the profile best, if it does so better than an edge."""
    known = _catalog(True)
    cost = _costs(profile, known, unexplained)
    tones = (known.inverses @ profile).reshape(len(known.shapes), -1)
    allowed = _is_stroke(known.shapes[:, 0], tones, profile, contrast, spread)
    cost[~allowed] = np.inf
    for _ in range(3):
        best = int(np.argmin(cost))
        if not np.isfinite(cost[best]):
            return None
        line = _polished(profile, *known.shapes[best])
        measured = np.array([line.tones])
        centers = np.array([line.center])
        if _is_stroke(centers, measured, profile, contrast, spread)[0]:
            if _apart(measured)[0] > 0.5 * contrast:
                return line
            inside = window(profile_places(), *known.shapes[best])
            edge = _polished(profile, *_best_edge(profile, unexplained), inside)
            return line if edge.residual > 1.4 * line.residual + 0.01 * contrast else None
        cost[np.abs(known.shapes[:, 0] - known.shapes[best, 0]) < 1.1] = np.inf
    return None


def _is_stroke(
    centers: np.ndarray,
    tones: np.ndarray,
    profile: np.ndarray,
    contrast: float,
    spread: np.ndarray,
) -> np.ndarray:
    """Which shapes have a stroke apart from both flanks, of one tone along the side."""
    outer, stroke, inner = tones.T
    apart = _apart(tones)
    same_way = (stroke - outer) * (stroke - inner) > 0
    # A blurred hairline's own tone is beyond what can be measured, but not without limit.
    likely = (stroke > profile.min() - 3 * contrast) & (stroke < profile.max() + 3 * contrast)
    steady = np.minimum(apart, contrast) >= STEADINESS * np.interp(
        centers, profile_places(), spread
    )
    return np.asarray(same_way & likely & steady & (apart >= max(8.0, 0.12 * contrast)))


def _apart(tones: np.ndarray) -> np.ndarray:
    """Lesser distance of the stroke's tone from either flank."""
    return np.asarray(np.abs(np.diff(tones, axis=1)).min(axis=1))


def _best_edge(profile: np.ndarray, unexplained: float) -> tuple[float, float, float]:
    known = _catalog(False)
    c, w, s = known.shapes[int(np.argmin(_costs(profile, known, unexplained)))]
    return float(c), float(w), float(s)


def _costs(profile: np.ndarray, known: _Catalog, unexplained: float) -> np.ndarray:
    """Squared residuals of each shape plus a price for the places it does not explain."""
    y = profile - profile.mean()
    fitted = (known.bases @ y).reshape(len(known.shapes), -1)
    cost = known.windows @ (y**2) - (fitted**2).sum(axis=1)
    return np.asarray(cost + (len(y) - known.windows.sum(axis=1)) * unexplained)


def _polished(
    profile: np.ndarray,
    center: float,
    width: float,
    blur: float,
    inside: np.ndarray | None = None,
) -> StrokeShape:
    """Improve offset, width and blur by damped Gauss-Newton (Levenberg-Marquardt)."""
    places = profile_places()
    inside = window(places, center, width, blur) if inside is None else inside
    t, y = places[inside], profile[inside]
    shape = np.array([center, width, blur])
    tones, residual, jacobian = _linearized(t, y, shape)
    best, damping = float(residual @ residual), 1e-2
    for _ in range(6):
        gram = jacobian.T @ jacobian
        gram[np.diag_indices(3)] += damping * (np.diag(gram) + 1.0)
        step = np.clip(np.linalg.solve(gram, jacobian.T @ residual), -0.6, 0.6)
        trial = shape + step
        trial[1] = max(trial[1], 0.5) if width > 0 else 0.0
        trial[2] = np.clip(trial[2], 0.25, 5.0)
        new = _linearized(t, y, trial)
        value = float(new[1] @ new[1])
        if value < best:
            done = best - value < 1e-3 * best
            shape, (tones, residual, jacobian), best = trial, new, value
            damping *= 0.2
            if done:
                break
        else:
            damping *= 8
    outer, inner = float(tones[0]), float(tones[-1])
    stroke = float(tones[1]) if width > 0 else outer
    rms = float(np.sqrt(np.mean(residual**2)))
    c, w, s = (float(v) for v in shape)
    return StrokeShape(c, w, s, (outer, stroke, inner), rms)


def _linearized(
    t: np.ndarray, y: np.ndarray, shape: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Best tones for a shape, what is left over, and how the model moves with the shape.

    Variable projection in Kaufman's form (L. Kaufman 1975, BIT 15:49-57; from memory): the
    part of each derivative that the tones could take up is removed.
    """
    b = basis(t, *shape)
    inverse = np.linalg.inv(b.T @ b + 1e-5 * np.eye(b.shape[1])) @ b.T
    tones = inverse @ y
    moves = _derivatives(t, shape, tones)
    moves -= b @ (inverse @ moves)
    return tones, y - b @ tones, moves


def _derivatives(t: np.ndarray, shape: np.ndarray, tones: np.ndarray) -> np.ndarray:
    """Change of the modelled profile with center, width and blur, shape (K, 3)."""
    center, width, blur = shape
    from_center = (t - center) / blur
    half = width / (2 * blur)
    jumps = np.diff(tones) / (np.sqrt(2 * np.pi) * blur)
    moves = np.zeros((len(t), 3))
    first = from_center + half
    density = jumps[0] * np.exp(-0.5 * first * first)
    moves[:, 0], moves[:, 2] = -density, -density * first
    if width > 0:
        second = from_center - half
        other = jumps[1] * np.exp(-0.5 * second * second)
        moves[:, 0] -= other
        moves[:, 1] = (density - other) / 2
        moves[:, 2] -= other * second
    return moves
