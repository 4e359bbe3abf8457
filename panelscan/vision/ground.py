"""Ground: the colour between the panels, and where it lies open to the page's edge.

The colour is looked for in the outermost strip and in long even runs; its slow change over
the page (uneven light, yellow paper, a graded ground) is fitted by a quadratic surface.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import cv2
import numpy as np

from panelscan.model.panel import Ground, GroundKind
from panelscan.vision.flood import disk, filled, flood_from_edge
from panelscan.vision.ground_colors import common_colors, seed_colors
from panelscan.vision.segments import find_lines
from panelscan.vision.working import Working

# Valleys of the colour distance: half width in thousandths, depth and floor in 8-bit levels.
SOFT_REACH = 3.5
SOFT_DEPTH = 12
SOFT_MOST = 75
# Ground darker than this (8-bit lightness) is of the ink's colour.
DARK_LIGHTNESS = 90
# So many rows at a time stay in the processor's cache.
BLOCK_ROWS = 48
_WEIGHTS = np.array([[1.0, 2.25, 2.25]], np.float32)
# Ink strokes are up to twice this wide, in thousandths of the long side.
STROKE_REACH = 2.4


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """How ground is told from art. Tolerances are in 8-bit levels of lightness."""

    small_side_px: int = 500
    strip_share: float = 0.012
    least_tolerance: float = 7.0
    most_tolerance: float = 34.0
    noise_factor: float = 4.5
    hypotheses: int = 2
    close_score: float = 0.6
    sure_edge: float = 0.97
    sure_score: float = 1.5
    stray_cost: float = 0.35
    inner_depth: tuple[float, float] = (2.5, 7.0)
    inner_agreement: float = 0.72
    inner_region_share: float = 0.35
    inner_least_share: float = 0.06


@dataclass(frozen=True, eq=False)
class GroundMap:
    """Where the page looks like ground.

    Parameters
    ----------
    ground : Ground
        Colour and its coarse name.
    tolerance : float
        Colour distance up to which a pixel counts as ground, in 8-bit levels.
    distance : ndarray of uint8, shape (M, N)
        Colour distance from the ground's colour at that place.
    mask : ndarray of uint8, shape (M, N)
        1 where the pixel looks like ground, else 0.
    open : ndarray of uint8, shape (M, N)
        1 where ground is joined to the page's edge through ground.
    score : float
        How much speaks for this colour, 0 (nothing) to about 2.
    """

    ground: Ground
    tolerance: float
    distance: np.ndarray
    mask: np.ndarray
    open: np.ndarray
    score: float

    @cached_property
    def soft(self) -> np.ndarray:
        """Mask with thin stripes nearly of the ground's colour added, uint8 of shape (M, N).

        Thin gutters are blurred with the art beside them and never reach the ground's own
        colour: they are narrow valleys of the colour distance.
        """
        if self.ground.kind is GroundKind.BLACK:
            return self.mask
        size = 2 * max(2, round(SOFT_REACH * max(self.mask.shape) / 1000)) + 1
        box = np.ones((size, size), dtype=np.uint8)
        valley = cv2.morphologyEx(self.distance, cv2.MORPH_BLACKHAT, box)
        near = (valley >= SOFT_DEPTH) & (self.distance <= SOFT_MOST)
        return self.mask | near.astype(np.uint8)


def find_ground(
    work: Working,
    settings: GroundSettings | None = None,
    expected_rgb: tuple[int, int, int] | None = None,
) -> list[GroundMap]:
    """Likely grounds of a page, best first.

    Parameters
    ----------
    work : Working
        The page at working size.
    settings : GroundSettings or None
    expected_rgb : tuple of int or None
        Ground of the other pages of the book, tried as well.

    Returns
    -------
    list of GroundMap
        At least one; the first is the most likely.
    """
    s = settings or GroundSettings()
    rows, columns = work.gray.shape
    shrink = max(1.0, max(rows, columns) / s.small_side_px)
    size = max(8, round(columns / shrink)), max(8, round(rows / shrink))
    # Nearest neighbour: averaging would invent colours between paper and ink.
    small = np.asarray(cv2.resize(work.lab, size, interpolation=cv2.INTER_NEAREST))
    tried: list[tuple[float, np.ndarray, float, float]] = []
    for color in seed_colors(small, expected_rgb, s.strip_share):
        surface, tolerance = _fit_surface(small, color, s)
        score, edge = _score(_near(small, surface, tolerance))
        # A colour that strays far is more likely a sky or a wall than paper.
        spread = (tolerance - s.least_tolerance) / (s.most_tolerance - s.least_tolerance)
        score *= 1.0 - s.stray_cost * spread
        tried.append((score, surface, tolerance, edge))
        if edge >= s.sure_edge and score >= s.sure_score:
            break
    tried.sort(key=lambda t: -t[0])
    best, _, _, edge = tried[0]
    # A margin of one colour all round leaves no doubt; else a close second is read as well.
    count = 1 if edge >= s.sure_edge else s.hypotheses
    kept = [t for t in tried if t[0] >= s.close_score * best][:count] or tried[:1]
    return [_ground_map(surface, tol, score, work) for score, surface, tol, _ in kept]


def inner_ground(
    work: Working, outer: GroundMap, settings: GroundSettings | None = None
) -> GroundMap | None:
    """Ground of a second colour inside the page's margins, e.g. black gutters on white paper.

    Where one large region of art has an even rim of its own, the rim's colour is taken for
    ground too.

    Parameters
    ----------
    work : Working
    outer : GroundMap
        The margins' ground.
    settings : GroundSettings or None

    Returns
    -------
    GroundMap or None
        Both grounds together, under the inner one's colour; None where no region has such
        a rim.
    """
    s = settings or GroundSettings()
    unit = work.unit_px
    art = 1 - outer.open
    tolerance = float(np.clip(3 * outer.tolerance, 20, s.most_tolerance))
    # Most pages have no such rim; half their pixels each way tell as much.
    if _even_rim(art[::2, ::2], work.lab[::2, ::2], unit / 2, tolerance, 0.9, s) is None:
        return None
    seen = _even_rim(art, work.lab, unit, tolerance, 1.0, s)
    if seen is None:
        return None
    region, color = seen
    distance = np.asarray(cv2.sqrt(_squared(work.lab, color)))
    alike = (distance <= tolerance).view(np.uint8)
    # The blurred rim between the two colours is neither: close it.
    both = cv2.morphologyEx(outer.open | (alike & region), cv2.MORPH_CLOSE, disk(2))
    both = _without_strokes(both, unit) | outer.open
    opened = flood_from_edge(both)
    if (opened.sum() - outer.open.sum()) < s.inner_least_share * art.size:
        return None
    rgb = np.median(work.rgb[(opened > outer.open)], axis=0)
    named = (int(rgb[0]), int(rgb[1]), int(rgb[2]))
    least = np.where(outer.open > 0, 0, np.minimum(distance, 255)).astype(np.uint8)
    return GroundMap(Ground(_kind(named), named), tolerance, least, both, opened, outer.score)


def _even_rim(
    art: np.ndarray,
    lab: np.ndarray,
    unit: float,
    tolerance: float,
    slack: float,
    s: GroundSettings,
) -> tuple[np.ndarray, np.ndarray] | None:
    """Largest region of art, 0/1, and the colour of its rim; None where it has no even one.

    `slack` is the share of the usual demands that is enough.
    """
    count, labels = cv2.connectedComponents(art, connectivity=4)
    if count < 2:
        return None
    largest = int(np.argmax(np.bincount(labels.ravel())[1:])) + 1
    region = (labels == largest).view(np.uint8)
    _, _, width, height = cv2.boundingRect(region)
    if width * height < slack * s.inner_region_share * art.size:
        return None
    depth = cv2.distanceTransform(filled(region), cv2.DIST_L2, 3)
    rim = (depth >= s.inner_depth[0] * unit) & (depth <= s.inner_depth[1] * unit)
    pixels = lab[rim]
    if len(pixels) < 50:
        return None
    color = common_colors(pixels[:: max(1, len(pixels) // 8000)], 1)[0]
    away = _squared(pixels[:, None], color)
    even = np.count_nonzero(away <= tolerance**2) >= slack * s.inner_agreement * len(pixels)
    return (region, color) if even else None


def _without_strokes(mask: np.ndarray, unit: float) -> np.ndarray:
    """Dark ground without the ink strokes of its colour that panels are drawn with."""
    size = 2 * max(1, round(STROKE_REACH * unit)) + 1
    box = np.ones((size, size), dtype=np.uint8)
    padded = np.pad(mask, size, constant_values=1)
    return np.asarray(cv2.morphologyEx(padded, cv2.MORPH_OPEN, box)[size:-size, size:-size])


def _squared(lab: np.ndarray, field: np.ndarray) -> np.ndarray:
    """Squared colour distance in levels of lightness; colour counts one and a half times.

    The field is one colour of shape (3,), or one for each pixel.
    """
    # OpenCV takes four numbers for one colour everywhere.
    color = np.append(field, 0.0) if field.ndim == 1 else None
    squared = np.empty(lab.shape[:2], np.float32)
    for first in range(0, len(lab), BLOCK_ROWS):
        rows = slice(first, first + BLOCK_ROWS)
        away = field[rows] if color is None else color
        d = cv2.subtract(lab[rows], away, dtype=cv2.CV_32F)
        cv2.transform(cv2.multiply(d, d, d), _WEIGHTS, squared[rows])
    return squared


def _near(lab: np.ndarray, surface: np.ndarray, tolerance: float) -> np.ndarray:
    """1 where a pixel is within the tolerance of the surface, else 0; uint8."""
    squared = _squared(lab, _evaluate(surface, (lab.shape[1], lab.shape[0])))
    return (squared <= tolerance**2).view(np.uint8)


@lru_cache(maxsize=4)
def _basis(rows: int, columns: int) -> np.ndarray:
    """Constant, linear and quadratic terms at every pixel, float64 of shape (M * N, 6)."""
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    x, y = x / max(columns - 1, 1) - 0.5, y / max(rows - 1, 1) - 0.5
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    return terms.reshape(-1, 6).astype(np.float64)


def _evaluate(surface: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Surface of shape (6, 3) at every pixel of an image of (width, height).

    One colour of shape (3,) where the surface is the same everywhere.
    """
    columns, rows = size
    if not np.any(surface[1:]):
        return np.asarray(surface[0])
    coarse = (_basis(24, 24) @ surface).reshape(24, 24, 3).astype(np.float32)
    return np.asarray(cv2.resize(coarse, (columns, rows), interpolation=cv2.INTER_LINEAR))


def _fit_surface(
    small: np.ndarray, color: np.ndarray, s: GroundSettings
) -> tuple[np.ndarray, float]:
    """Slow change of the ground's colour over the page, and how far pixels stray from it."""
    rows, columns = small.shape[:2]
    surface: np.ndarray = np.zeros((6, 3))
    surface[0] = color
    basis = _basis(rows, columns)
    flat = small.reshape(-1, 3)
    tolerance = 24.0
    for _ in range(3):
        near = _near(small, surface, tolerance)
        near = flood_from_edge(near) | cv2.erode(near, np.ones((3, 3)))
        chosen = np.flatnonzero(near.view(np.bool_))
        if len(chosen) < 60:
            break
        some = chosen[:: max(1, len(chosen) // 6000)]
        ridge = np.diag([0, 1, 1, 2, 2, 2]) * 0.02 * len(some)
        a, seen = basis[some], flat[some].astype(np.float64)
        surface = np.linalg.solve(a.T @ a + ridge * 0.01, a.T @ seen)
        stray = seen - a @ surface
        noise = 1.4826 * np.median(np.abs(stray[:, 0] - np.median(stray[:, 0])))
        tolerance = float(np.clip(s.noise_factor * noise + 5, s.least_tolerance, s.most_tolerance))
    return surface, tolerance


def _score(mask: np.ndarray) -> tuple[float, float]:
    """How much a colour behaves like ground, and its share of the page's edge.

    Ground is open at the page's edge and leaves straight sides.
    """
    opened = flood_from_edge(mask)
    edge = np.concatenate([opened[0], opened[-1], opened[:, 0], opened[:, -1]]).mean()
    lines = find_lines(opened)
    # Straight sides in page lengths; a page of nine panels has about eight of them.
    straight = float(lines.support.sum()) / max(mask.shape)
    return float(0.6 * edge + min(straight, 6.0) / 3.0), float(edge)


def _ground_map(surface: np.ndarray, tolerance: float, score: float, work: Working) -> GroundMap:
    distance = np.asarray(cv2.sqrt(_squared(work.lab, _evaluate(surface, work.size))))
    mask = (distance <= tolerance).view(np.uint8)
    middle = _evaluate(surface, (3, 3)).reshape(-1, 3)
    if middle[len(middle) // 2, 0] < DARK_LIGHTNESS:
        mask = _without_strokes(mask, work.unit_px)
    open_ = flood_from_edge(mask)
    places = np.flatnonzero((open_ if open_.any() else mask).view(np.bool_))
    sample = work.rgb.reshape(-1, 3)[places[:: max(1, len(places) // 5000)]]
    rgb = np.median(sample, axis=0) if len(sample) else (255,) * 3
    color = (int(rgb[0]), int(rgb[1]), int(rgb[2]))
    return GroundMap(
        Ground(_kind(color), color),
        tolerance,
        np.minimum(distance, 255).astype(np.uint8),
        mask,
        open_,
        score,
    )


def _kind(rgb: tuple[int, int, int]) -> GroundKind:
    low, high = min(rgb), max(rgb)
    if high < 70:
        return GroundKind.BLACK
    if low >= 200:
        return GroundKind.WHITE if high - low <= 18 and low >= 225 else GroundKind.TINTED
    return GroundKind.COLOUR
