"""Follow a border along its length: profiles across it, a coarse line, then offsets block by block.

All arrays here live in the frame of the side: u runs along it from its first corner, v across
it, positive towards the inside of the panel (which lies on the right hand of a ring that is
counterclockwise in stored numbers with y pointing down).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.vision.stroke_model import REACH, STEP, StrokeShape, basis, profile_places, window

BLOCK_PX = 8.0
MOST_BLOCKS = 72
MOST_SAMPLES = 576


@dataclass(frozen=True)
class Strip:
    """Gray profiles across a side.

    Parameters
    ----------
    gray : ndarray of float32, shape (B, V)
        One mean profile per block along the side.
    u : ndarray of shape (B,)
        Middle of each block, in pixels from the first corner.
    v_min : float
        Place across of column 0; columns are `STEP` apart.
    noise : float
        Gray noise of one block's profile.
    """

    gray: np.ndarray
    u: np.ndarray
    v_min: float
    noise: float


def take_strip(
    gray: np.ndarray,
    p0: np.ndarray,
    p1: np.ndarray,
    half_width: float,
    ends_px: float,
    scale: float = 1.0,
) -> Strip:
    """Sample the strip along p0-p1, `half_width` to each side, leaving `ends_px` out at the ends.

    `scale` is how many pixels one unit across stands for: 1, or more for very wide borders.
    """
    length = float(np.hypot(*(p1 - p0)))
    along = (p1 - p0) / length
    across = np.array([-along[1], along[0]])
    ends = min(ends_px, 0.25 * length)
    usable = length - 2 * ends
    blocks = int(np.clip(usable / (BLOCK_PX * scale), 6, MOST_BLOCKS))
    per_block = int(np.clip(round(usable / blocks), 1, max(1, MOST_SAMPLES // blocks)))
    u = ends + (np.arange(blocks * per_block) + 0.5) * usable / (blocks * per_block)
    v = np.arange(-half_width, half_width + STEP * scale / 2, STEP * scale)
    # Pixel (0, 0) covers 0..1, so the value at array index i stands at i + 0.5.
    x = (p0[0] - 0.5 + u[:, None] * along[0] + v[None, :] * across[0]).astype(np.float32)
    y = (p0[1] - 0.5 + u[:, None] * along[1] + v[None, :] * across[1]).astype(np.float32)
    samples = cv2.remap(gray, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    values = samples.reshape(blocks, per_block, len(v)).astype(np.float32)
    profiles = values.mean(axis=1)
    return Strip(profiles, u.reshape(blocks, per_block).mean(axis=1), -half_width, _noise(profiles))


def _noise(profiles: np.ndarray) -> float:
    """Noise of the profiles, from the calmest third of their second differences."""
    second = np.abs(profiles[:, :-4:2] - 2 * profiles[:, 2:-2:2] + profiles[:, 4::2])
    return float(np.quantile(second, 0.33) / 0.43 / np.sqrt(6.0)) + 0.3


def coarse_path(strip: Strip, search: float, scale: float = 1.0) -> tuple[np.ndarray, float] | None:
    """Offsets (B,) of the strongest straight edge within the search, and its polarity.

    Votes of all blocks are summed over every straight line across the strip (as in the Hough
    transform of Duda and Hart 1972, Communications of the ACM 15:11-15, in the parameters
    "offset at the start, offset at the end"). Polarity is -1 where the tone falls inward.
    """
    votes, signs = _edge_votes(strip)
    columns = np.arange(votes.shape[2])
    v = strip.v_min + columns * STEP * scale
    keep = np.flatnonzero(np.abs(v) <= search + 1e-9)
    if len(keep) < 3:
        return None
    keep = keep[:: max(1, round(1 / STEP))] if len(keep) > 24 else keep
    best, score = _best_line(votes, v, keep, search)
    if score <= 0:
        return None
    start, end, kind = best
    share = np.linspace(0, 1, len(strip.u))
    line = v[start] + (v[end] - v[start]) * share
    path = _nearby_peaks(votes[kind], v, line, search)
    return path, float(signs[kind])


def _edge_votes(strip: Strip) -> tuple[np.ndarray, np.ndarray]:
    """Votes (3, B, V) for falling, rising and any edges; each vote lies within 0..1."""
    p = strip.gray
    slope = np.zeros_like(p)
    slope[:, 2:-2] = p[:, 4:] + p[:, 3:-1] - p[:, 1:-3] - p[:, :-4]
    slope /= 2
    floor = 4.0 * strip.noise + 3.0
    strong = np.maximum(np.abs(slope).max(axis=1, keepdims=True) * 0.5, 20.0)
    vote = np.clip((np.abs(slope) - floor) / strong, 0, 1)
    calm = _calm_outside(p, strip.noise)
    vote = vote * (0.6 + 0.4 * calm)
    falling, rising = vote * (slope < 0), vote * (slope > 0)
    return np.stack([falling, rising, 0.75 * vote]), np.array([-1.0, 1.0, 0.0])


def _calm_outside(profiles: np.ndarray, noise: float) -> np.ndarray:
    """1 where the six places just outside hold one tone (a gutter), towards 0 where they vary."""
    size = 8
    mean = cv2.blur(profiles, (size, 1), borderType=cv2.BORDER_REPLICATE)
    square = cv2.blur(profiles * profiles, (size, 1), borderType=cv2.BORDER_REPLICATE)
    spread = np.sqrt(np.maximum(square - mean**2, 0))
    outside = np.empty_like(spread)
    shift = size // 2 + 3
    outside[:, shift:] = spread[:, :-shift]
    outside[:, :shift] = spread[:, :1]
    return np.asarray(np.exp(-outside / (4 * noise + 6)))


def _best_line(
    votes: np.ndarray, v: np.ndarray, keep: np.ndarray, search: float
) -> tuple[tuple[int, int, int], float]:
    wide = cv2.dilate(votes.reshape(-1, votes.shape[2]), np.ones((1, 3), np.uint8))
    wide = wide.reshape(votes.shape)
    share = np.linspace(0, 1, votes.shape[1])
    places = v[keep]
    starts, ends = (g.ravel() for g in np.meshgrid(places, places, indexing="ij"))
    tilted = np.abs(starts - ends) <= search * 1.5
    starts, ends = starts[tilted], ends[tilted]
    columns = (starts[:, None] + (ends - starts)[:, None] * share - v[0]) / (v[1] - v[0])
    index = np.rint(columns).astype(np.intp)
    rows = np.arange(votes.shape[1])[None, :]
    sums = np.stack([w[rows, index].mean(axis=1) for w in wide])
    # The rough side is a good guess: what lies near it is preferred, a little.
    near = 1.0 - 0.25 * (np.abs(starts) + np.abs(ends)) / (2 * search)
    sums = sums * near
    kind, at = np.unravel_index(int(np.argmax(sums)), sums.shape)
    first = int(np.argmin(np.abs(v - starts[at])))
    last = int(np.argmin(np.abs(v - ends[at])))
    return (first, last, int(kind)), float(sums[kind, at])


def _nearby_peaks(votes: np.ndarray, v: np.ndarray, line: np.ndarray, search: float) -> np.ndarray:
    """Place of the best vote near the line in each block; where there is none, the line."""
    spread = max(1.5, 0.3 * search)
    smooth = cv2.blur(votes.astype(np.float32), (1, 3), borderType=cv2.BORDER_REPLICATE)
    score = smooth * np.exp(-(((v[None, :] - line[:, None]) / spread) ** 2))
    peak = score.argmax(axis=1)
    found = score.max(axis=1) > 0.12
    path = np.where(found, v[peak], line)
    return _median3(path)


def _median3(values: np.ndarray) -> np.ndarray:
    padded = np.concatenate([values[:1], values, values[-1:]])
    return np.asarray(np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0))


def shifted_profiles(strip: Strip, path: np.ndarray, scale: float = 1.0) -> np.ndarray:
    """Profiles (B, K) along `profile_places` about each block's own offset."""
    places = profile_places()
    columns = (path[:, None] - strip.v_min) / (STEP * scale) + places[None, :] / STEP
    columns = np.clip(columns, 0, strip.gray.shape[1] - 1.001)
    low = columns.astype(np.intp)
    rest = (columns - low).astype(np.float32)
    rows = np.arange(len(path))[:, None]
    return np.asarray(strip.gray[rows, low] * (1 - rest) + strip.gray[rows, low + 1] * rest)


def follow(
    strip: Strip, path: np.ndarray, shape: StrokeShape, scale: float = 1.0, rounds: int = 4
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Refine the offset of every block with a stroke of known shape.

    Returns
    -------
    path : ndarray of shape (B,)
        Offset across of the stroke's middle (or edge) in each block.
    sharpness : ndarray of shape (B,)
        Inverse variance of that offset in 1 / px2; 0 where the block shows nothing.
    contrast : ndarray of shape (B,)
        Gray difference carried by the stroke or edge in each block.

    Notes
    -----
    Gauss-Newton on the offset alone with the tones of each block solved for exactly
    (variable projection, Golub and Pereyra 1973, SIAM J. Numer. Anal. 10:413-432). All blocks
    share one shape, so the basis is inverted once.
    """
    places = profile_places()
    inside = window(places, 0.0, shape.width, shape.blur)
    t = places[inside]
    b = basis(t, 0.0, shape.width, shape.blur)
    h = 0.02
    slope = (basis(t, h, shape.width, shape.blur) - basis(t, -h, shape.width, shape.blur)) / (2 * h)
    inverse = np.linalg.solve(b.T @ b + 1e-4 * np.eye(b.shape[1]), b.T)
    path = path.copy()
    for _ in range(rounds):
        y = shifted_profiles(strip, path, scale)[:, inside]
        tones = y @ inverse.T
        residual = y - tones @ b.T
        pull = tones @ slope.T
        pull -= pull @ inverse.T @ b.T
        strength = (pull**2).sum(axis=1)
        step = (pull * residual).sum(axis=1) / np.maximum(strength, 1e-9)
        path += scale * np.clip(step, -0.7, 0.7) * (strength > 1e-9)
    variance = np.maximum((residual**2).mean(axis=1), strip.noise**2) * scale**2
    contrast = np.abs(np.diff(tones, axis=1)).max(axis=1)
    sharpness = strength / variance * (contrast > 3 * strip.noise + 4)
    return path, sharpness, contrast


def needed_half_width(search: float, scale: float) -> float:
    """How far to each side a strip must reach for a given search."""
    return search + (REACH + 3.0) * scale
