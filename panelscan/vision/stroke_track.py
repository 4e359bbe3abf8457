"""Follow borders along their length: profiles across, a coarse line, then offsets block by block.

All sides of a page are followed together: arrays have the sides S first, then B blocks along
each side. In the frame of a side u runs along it from its first corner and v across it,
positive towards the inside of the panel (which lies on the right hand of a ring that is
counterclockwise in stored numbers with y pointing down).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from panelscan.vision.stroke_model import REACH, STEP, StrokeShapes, basis, profile_places, window

BLOCKS = 48
PER_BLOCK = 6


@dataclass(frozen=True, eq=False)
class Strips:
    """Gray profiles across S sides.

    Parameters
    ----------
    gray : ndarray of float32, shape (S, B, V)
        One mean profile per block along each side.
    u : ndarray of shape (S, B)
        Middle of each block, in pixels from the first corner.
    v_min : float
        Place across of column 0, in pixels; columns are `STEP` times `scale` apart.
    scale : float
        Pixels per unit of the stroke model.
    noise : ndarray of shape (S,)
        Gray noise of one block's profile.
    """

    gray: np.ndarray
    u: np.ndarray
    v_min: float
    scale: float
    noise: np.ndarray

    @property
    def v(self) -> np.ndarray:
        """Place across of each column, in pixels, shape (V,)."""
        return self.v_min + np.arange(self.gray.shape[2]) * STEP * self.scale

    def __getitem__(self, some: np.ndarray) -> Strips:
        return Strips(self.gray[some], self.u[some], self.v_min, self.scale, self.noise[some])


def take_strips(
    gray: np.ndarray, sides: np.ndarray, half_width: float, ends_px: float, scale: float
) -> Strips:
    """Sample the strip along each side, leaving `ends_px` out at its ends.

    Parameters
    ----------
    gray : ndarray, shape (M, N)
    sides : ndarray of float64, shape (S, 4)
        Rows x0, y0, x1, y1.
    half_width : float
        How far to each side the strips reach, in pixels.
    ends_px : float
        What to leave out at the ends (at most a quarter of the side).
    scale : float
        Pixels per unit across: 1, or more for very wide borders.
    """
    start, run = sides[:, :2], sides[:, 2:] - sides[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    along = run / length[:, None]
    ends = np.minimum(ends_px, 0.25 * length)
    share = (np.arange(BLOCKS * PER_BLOCK) + 0.5) / (BLOCKS * PER_BLOCK)
    u = ends[:, None] + share * (length - 2 * ends)[:, None]
    v = np.arange(-half_width, half_width + STEP * scale / 2, STEP * scale)
    # Pixel (0, 0) covers 0..1, so the value at array index i stands at i + 0.5.
    base = ((start - 0.5)[:, None] + u[:, :, None] * along[:, None]).astype(np.float32)
    # Single precision is ten times finer here than the steps of OpenCV's interpolation.
    across = v.astype(np.float32) * along.astype(np.float32)[:, None, :, None]
    x = base[:, :, :1] - across[:, :, 1]
    y = base[:, :, 1:] + across[:, :, 0]
    flat = (-1, len(v))
    samples = cv2.remap(
        gray, x.reshape(flat), y.reshape(flat), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    blocks = samples.reshape(len(sides), BLOCKS, PER_BLOCK, len(v))
    profiles = blocks.mean(axis=2, dtype=np.float32)
    middles = u.reshape(len(sides), BLOCKS, PER_BLOCK).mean(axis=2)
    return Strips(profiles, middles, -half_width, scale, _noise(profiles))


def _noise(profiles: np.ndarray) -> np.ndarray:
    """Noise of the profiles, from the calmest third of their second differences, shape (S,)."""
    p = profiles[:, ::2]
    second = np.abs(p[:, :, :-4:2] - 2 * p[:, :, 2:-2:2] + p[:, :, 4::2])
    calm = np.quantile(second.reshape(len(p), -1), 0.33, axis=1)
    return np.asarray(calm / 0.43 / np.sqrt(6.0) + 0.3, dtype=np.float64)


def coarse_paths(strips: Strips, search: float) -> tuple[np.ndarray, np.ndarray]:
    """Offsets (S, B) of the strongest straight edge within the search, and where there is one.

    Votes of all blocks are summed over every straight line across the strip (as in the Hough
    transform of Duda and Hart 1972, Communications of the ACM 15:11-15, in the parameters
    "offset at the start, offset at the end").
    """
    votes = _edge_votes(strips)
    count, kinds, blocks, width = votes.shape
    pairs, index, near = _straight_lines(blocks, width, strips.v_min, strips.scale, search)
    wide = cv2.dilate(votes.reshape(-1, width), np.ones((1, 3), np.uint8))
    half = wide.reshape(count * kinds, blocks // 2, 2, width).mean(axis=2)
    sums = half.reshape(count * kinds, -1)[:, index.ravel()].reshape(-1, *index.shape).mean(axis=2)
    # The rough side is a good guess: what lies near it is preferred, a little.
    sums = (sums * near).reshape(count, -1)
    best = sums.argmax(axis=1)
    found = sums[np.arange(count), best] > 0
    kind, line = best // len(pairs), best % len(pairs)
    share = np.linspace(0, 1, blocks)
    ends = pairs[line]
    straight = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * share
    chosen = votes[np.arange(count), kind]
    return _nearby_peaks(chosen, strips.v, straight, search), found


@lru_cache(maxsize=8)
def _straight_lines(
    blocks: int, width: int, v_min: float, scale: float, search: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lines to try: ends (L, 2), flat vote indices (L, B / 2), preference (L,)."""
    step = STEP * scale * (2 if search / scale > 3 else 1)
    places = np.arange(-np.floor(search / step), np.floor(search / step) + 1) * step
    starts, ends = (g.ravel() for g in np.meshgrid(places, places, indexing="ij"))
    level = np.abs(starts - ends) <= 1.5 * search
    starts, ends = starts[level], ends[level]
    share = (np.arange(blocks // 2) * 2 + 0.5) / (blocks - 1)
    columns = (starts[:, None] + (ends - starts)[:, None] * share - v_min) / (STEP * scale)
    index = np.rint(columns).astype(np.intp) + np.arange(blocks // 2) * width
    near = 1.0 - 0.25 * (np.abs(starts) + np.abs(ends)) / (2 * search)
    return np.stack([starts, ends], axis=1), index, near


def _edge_votes(strips: Strips) -> np.ndarray:
    """Votes (S, 3, B, V) for falling, rising and any edges; each vote lies within 0..1."""
    p = strips.gray
    slope = np.zeros_like(p)
    slope[..., 2:-2] = p[..., 4:] + p[..., 3:-1] - p[..., 1:-3] - p[..., :-4]
    slope /= 2
    size = np.abs(slope)
    noise = strips.noise[:, None, None].astype(np.float32)
    strong = np.maximum(size.max(axis=2, keepdims=True) * 0.5, 20.0)
    vote = np.clip((size - (4.0 * noise + 3.0)) / strong, 0, 1)
    vote *= 0.6 + 0.4 * _calm_outside(p, noise)
    votes = np.stack([vote, vote, 0.75 * vote], axis=1)
    votes[:, 0][slope > 0] = 0
    votes[:, 1][slope < 0] = 0
    return votes


def _calm_outside(profiles: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """1 where the places just outside hold one tone (a gutter), towards 0 where they vary."""
    size = 8
    flat = profiles.reshape(-1, profiles.shape[2])
    mean = cv2.blur(flat, (size, 1), borderType=cv2.BORDER_REPLICATE)
    square = cv2.blur(flat * flat, (size, 1), borderType=cv2.BORDER_REPLICATE)
    spread = np.sqrt(np.maximum(square - mean**2, 0)).reshape(profiles.shape)
    shift = size // 2 + 3
    outside = np.empty_like(spread)
    outside[..., shift:] = spread[..., :-shift]
    outside[..., :shift] = spread[..., :1]
    return np.asarray(np.exp(-outside / (4 * noise + 6)))


def _nearby_peaks(votes: np.ndarray, v: np.ndarray, line: np.ndarray, search: float) -> np.ndarray:
    """Place of the best vote near the line in each block; where there is none, the line."""
    spread = max(1.5, 0.3 * search)
    smooth = votes.copy()
    smooth[:, 1:-1] = (votes[:, :-2] + votes[:, 1:-1] + votes[:, 2:]) / 3
    some = np.flatnonzero(np.abs(v) <= 2.2 * search + 2)
    place = v[some].astype(np.float32)
    off = (place - line[:, :, None].astype(np.float32)) / spread
    score = smooth[:, :, some] * np.exp(-off * off)
    peak = score.argmax(axis=2)
    path = np.where(score.max(axis=2) > 0.12, v[some][peak], line)
    padded = np.concatenate([path[:, :1], path, path[:, -1:]], axis=1)
    a, b, c = padded[:, :-2], padded[:, 1:-1], padded[:, 2:]
    return np.asarray(np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c)))


def shifted_profiles(
    strips: Strips, path: np.ndarray, places: np.ndarray | None = None
) -> np.ndarray:
    """Profiles (S, B, K) along places about each block's own offset."""
    t = profile_places() if places is None else places
    columns = (path[:, :, None] - strips.v_min) / (STEP * strips.scale) + t / STEP
    columns = np.clip(columns, 0, strips.gray.shape[2] - 1.001)
    low = columns.astype(np.intp)
    rest = (columns - low).astype(np.float32)
    width = strips.gray.shape[2]
    flat = strips.gray.reshape(-1)
    rows = (np.arange(path.size) * width).reshape(*path.shape, 1)
    low += rows
    left = flat[low]
    return np.asarray(left + (flat[low + 1] - left) * rest)


def follow(
    strips: Strips, path: np.ndarray, shapes: StrokeShapes, rounds: int = 3
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Refine the offset of every block with strokes of known shape, all lines or all edges.

    Returns
    -------
    path : ndarray of shape (S, B)
        Offset across of the stroke's middle (or edge) in each block.
    sharpness : ndarray of shape (S, B)
        Inverse variance of that offset in 1 / px2; 0 where the block shows nothing.
    contrast : ndarray of shape (S, B)
        Gray difference carried by the stroke or edge in each block.

    Notes
    -----
    Gauss-Newton on the offset alone with the tones of each block solved for exactly
    (variable projection, Golub and Pereyra 1973, SIAM J. Numer. Anal. 10:413-432). All blocks
    of a side share one shape, so its basis is inverted once.
    """
    line = bool(shapes.is_line[0])
    centered = shapes.shape * [0.0, 1.0, 1.0]
    every = profile_places()
    inside = window(every, centered)
    some = np.flatnonzero(inside.any(axis=0))
    t, weight = every[some], inside[:, some, None].astype(np.float64)
    b = basis(t, centered, line) * weight
    ahead, behind = (centered + np.array([d, 0.0, 0.0]) for d in (0.02, -0.02))
    slope = ((basis(t, ahead, line) - basis(t, behind, line)) * weight / 0.04).transpose(0, 2, 1)
    turned = b.transpose(0, 2, 1)
    inverse = (np.linalg.inv(turned @ b + 1e-4 * np.eye(b.shape[2])) @ turned).transpose(0, 2, 1)
    weight = weight.transpose(0, 2, 1)
    path = path.copy()
    for _ in range(rounds):
        y = shifted_profiles(strips, path, t) * weight
        tones = y @ inverse
        residual = y - tones @ turned
        pull = tones @ slope
        pull -= (pull @ inverse) @ turned
        strength = (pull**2).sum(axis=2)
        step = (pull * residual).sum(axis=2) / np.maximum(strength, 1e-9)
        path += strips.scale * np.clip(step, -0.7, 0.7) * (strength > 1e-9)
    mean_square = (residual**2).sum(axis=2) / weight.sum(axis=2)
    noise = strips.noise[:, None]
    variance = np.maximum(mean_square, noise**2) * strips.scale**2
    contrast = np.abs(np.diff(tones, axis=2)).max(axis=2)
    sharpness = strength / variance * (contrast > 3 * noise + 4)
    return path, sharpness, contrast


def needed_half_width(search: float, scale: float) -> float:
    """How far to each side a strip must reach for a given search."""
    return search + (REACH + 3.0) * scale
