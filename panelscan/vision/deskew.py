"""How far a page is turned: a vote of long border segments, or the sharpest projections.

Angles are in degrees, counterclockwise to the eye positive (y points down, so a segment
rising to the right has a positive angle). Both functions look at directions modulo 90
degrees, because borders run across and down.

Notes
-----
Segments vote with the square of their length: an end that is off by e turns a segment of
length L by e / L. The projection fallback follows the old idea that rows of ink line up best
when the page is straight (W. Postl 1986, "Detection of linear oblique structures and skew
scan in digitized documents", ICPR; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np

from panelscan.model.outline import Outline, Point
from panelscan.model.panel import Panel, SideState
from panelscan.vision.shrinking import shrunk

MOST_SKEW_DEG = 12.0
LEAST_SEGMENT_PX = 12.0
SMALL_LONG_SIDE_PX = 1000
MOST_POINTS = 9000
EDGE_DIRECTION = 0.4
ALIKE_SLOPE = 0.12
OUTER_WEIGHT = 3.0
"""Sides along the live area count so much more: slanted gutters lie between panels."""
BOTH_WAYS = 2.0
"""What a turn gains that sides across and sides down agree on; a slanted gutter has one kind."""
SURE_SIDES = 0.6
TRUSTED_SIDES = 0.4
"""From here on measured sides outweigh the pixels: art has long straight edges of its own."""


@dataclass(frozen=True, slots=True)
class Skew:
    """Angle by which a page is turned, in degrees, and how sure that is (0..1)."""

    angle_deg: float
    confidence: float


def find_skew(gray: np.ndarray, panels: Iterable[Panel] = (), frame: Outline | None = None) -> Skew:
    """Skew of a page, from its measured panels where they agree, else from frame or pixels.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
        The page.
    panels : iterable of Panel
        Panels that were measured on it, in any frame that is a scaled copy of the page.
    frame : Outline or None
        The page's own edge where it was seen inside the image (same frame as the panels); its
        sides then stand in for the pixels, which may have been straightened.

    Returns
    -------
    Skew
        Where both ways are used and differ by more than 0.3 degrees, confidence is halved.
    """
    from_sides = skew_of_segments(drawn_segments(panels))
    if from_sides is not None and from_sides.confidence >= SURE_SIDES:
        return from_sides
    seen = None if frame is None else np.array([[*a, *b] for a, b in frame.edges()])
    from_frame = None if seen is None else skew_of_segments(seen)
    from_pixels = from_frame or skew_of_pixels(gray)
    if from_sides is None:
        return from_pixels
    trusted = from_sides.confidence >= TRUSTED_SIDES
    best = from_sides if trusted else max(from_sides, from_pixels, key=lambda s: s.confidence)
    agree = abs(from_sides.angle_deg - from_pixels.angle_deg) <= 0.3
    return best if agree else Skew(best.angle_deg, best.confidence / 2)


def drawn_segments(panels: Iterable[Panel]) -> np.ndarray:
    """Sides along which something was seen, as rows x0, y0, x1, y1, weight; shape (K, 5)."""
    rows = []
    panels = list(panels)
    boxes = np.array([p.outline.bounds for p in panels], dtype=np.float64).reshape(-1, 4)
    for panel in panels:
        if panel.shape_hint != "polygon" or not panel.sides:
            continue
        for (a, b), side in zip(panel.outline.edges(), panel.sides, strict=True):
            if side.state in (SideState.DRAWN, SideState.SHARED):
                outer = OUTER_WEIGHT if _is_outer(a, b, boxes) else 1.0
                rows.append((*a, *b, side.support * outer))
    return np.array(rows, dtype=np.float64).reshape(-1, 5)


def _is_outer(a: Point, b: Point, boxes: np.ndarray) -> bool:
    """Whether no panel (boxes of shape (K, 4)) lies beyond a side, from ``a`` to ``b``."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    axis = 1 if abs(dx) > abs(dy) else 0
    low, high = sorted((a[1 - axis], b[1 - axis]))
    room = 0.1 * (high - low)
    beside = (boxes[:, 1 - axis] < high - room) & (boxes[:, 3 - axis] > low + room)
    place = (a[axis] + b[axis]) / 2
    middles = (boxes[:, axis] + boxes[:, axis + 2]) / 2
    # Rings run along the top from left to right, so this side is a top or a left one.
    before = dx > 0 if axis else dy < 0
    return not bool((beside & (middles < place if before else middles > place)).any())


def skew_of_segments(segments: np.ndarray, most_deg: float = MOST_SKEW_DEG) -> Skew | None:
    """Skew by a vote of segments, modulo 90 degrees.

    Parameters
    ----------
    segments : ndarray of shape (K, 4) or (K, 5)
        Rows x0, y0, x1, y1 and, if given, a weight.
    most_deg : float
        Greatest skew looked for.

    Returns
    -------
    Skew or None
        None where no segment is long enough or near enough to an axis.

    Examples
    --------
    >>> level, plumb = [0, 0, 100, -1], [0, 0, -2, -200]
    >>> round(skew_of_segments(np.array([level, plumb], float)).angle_deg, 2)
    0.57
    """
    if not len(segments):
        return None
    dx, dy = segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1]
    length = np.hypot(dx, dy)
    angle = (-np.degrees(np.arctan2(dy, dx)) + 45.0) % 90.0 - 45.0
    near = (length >= LEAST_SEGMENT_PX) & (np.abs(angle) <= most_deg)
    if not near.any():
        return None
    weight = length**2 * (segments[:, 4] if segments.shape[1] > 4 else 1.0)
    every = float(weight[length >= LEAST_SEGMENT_PX].sum())
    across = (np.abs(dx) >= np.abs(dy))[near]
    peak, share = _peak(angle[near], weight[near], length[near], across, every)
    return Skew(peak, share)


def _peak(
    angle: np.ndarray, weight: np.ndarray, length: np.ndarray, across: np.ndarray, every: float
) -> tuple[float, float]:
    """Densest angle, refined by a robust mean, and the share of all votes that stand behind it."""
    # An end known to about a pixel blurs the direction of a short segment.
    blur = np.degrees(np.arctan(0.7 / length)) + 0.08
    grid = np.arange(-MOST_SKEW_DEG - 0.5, MOST_SKEW_DEG + 0.51, 0.04)
    votes = np.zeros((2, len(grid)))
    for a, w, s, way in zip(angle, weight, blur, across.astype(int), strict=True):
        votes[way] += w * np.exp(-0.5 * ((grid - a) / s) ** 2) / s
    agreed = votes.sum(axis=0) + BOTH_WAYS * np.sqrt(votes.prod(axis=0))
    center = float(grid[int(np.argmax(agreed))])
    for _ in range(6):
        limit = 4.0 * np.maximum(blur, 0.12)
        tukey = np.clip(1 - ((angle - center) / limit) ** 2, 0, None) ** 2
        total = float((weight * tukey).sum())
        if total <= 0:
            break
        center = float((weight * tukey * angle).sum() / total)
    behind = np.abs(angle - center) <= np.maximum(3 * blur, 0.35)
    share = float(weight[behind].sum()) / max(every, 1e-9)
    few = 1.0 - 0.5 ** int(behind.sum())
    return center, min(1.0, share) * few


def skew_of_pixels(gray: np.ndarray, most_deg: float = MOST_SKEW_DEG) -> Skew:
    """Skew from a page's pixels alone: sharpest projections, then a vote of the lines in them.

    Parameters
    ----------
    gray : ndarray of uint8, shape (M, N)
    most_deg : float
        Greatest skew looked for.

    Returns
    -------
    Skew
        ``Skew(0, 0)`` on a page without edges.
    """
    if min(gray.shape) < 2 * LEAST_SEGMENT_PX:
        return Skew(0.0, 0.0)
    scale = min(1.0, SMALL_LONG_SIDE_PX / max(gray.shape))
    rows, columns = gray.shape
    small, _ = shrunk(gray, (max(1, round(columns * scale)), max(1, round(rows * scale))))
    families = _edge_points(small)
    if sum(len(f) for f in families) < 60:
        return Skew(0.0, 0.0)
    rough = _sharpest(families, most_deg)
    lines = [
        _lines_of(points, sign * rough) for points, sign in zip(families, (1, -1), strict=True)
    ]
    segments = np.concatenate([lines[0], lines[1][:, [1, 0, 3, 2, 4]]])
    voted = skew_of_segments(segments, most_deg)
    if voted is None or abs(voted.angle_deg - rough) > 1.0 or _lines_behind(segments, voted) < 2:
        # One line, or none, may be anything in the art: then nothing is known.
        return Skew(0.0, 0.1)
    # Lines were looked for at the rough angle only, so agreement among them proves less.
    return Skew(voted.angle_deg, 0.8 * voted.confidence)


def _lines_behind(segments: np.ndarray, skew: Skew) -> int:
    """How many lines have about the angle voted for."""
    dx, dy = segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1]
    angle = (-np.degrees(np.arctan2(dy, dx)) + 45.0) % 90.0 - 45.0
    return int((np.abs(angle - skew.angle_deg) <= 0.35).sum())


def _edge_points(small: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Edge points along x and along y, each (K, 3): along, across (to sub-pixel), slope."""
    smooth = cv2.GaussianBlur(small, (3, 3), 0)
    gx = cv2.Scharr(smooth, cv2.CV_32F, 1, 0) / 32
    gy = cv2.Scharr(smooth, cv2.CV_32F, 0, 1) / 32
    return _ridges(gy, gx), _ridges(np.ascontiguousarray(gx.T), np.ascontiguousarray(gy.T))


def _ridges(strong: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Maxima down the columns of a gradient that points down: x, sub-pixel y, slope of the edge."""
    size = np.abs(strong)
    middle = size[1:-1]
    floor = max(8.0, float(np.quantile(middle[::4, ::4], 0.8)))
    peak = (middle >= size[:-2]) & (middle > size[2:]) & (middle > floor)
    peak &= np.abs(other[1:-1]) < EDGE_DIRECTION * middle
    row, column = np.nonzero(peak)
    if len(row) > MOST_POINTS:
        # Borders are among the strongest edges of a page, but pale ones have a say too.
        order = np.argsort(-middle[row, column], kind="stable")
        half = MOST_POINTS // 2
        rest = np.linspace(half, len(order) - 1, half).astype(np.intp)
        keep = np.sort(np.concatenate([order[:half], order[rest]]))
        row, column = row[keep], column[keep]
    up, here, down = size[row, column], size[row + 1, column], size[row + 2, column]
    bend = up - 2 * here + down
    shift = np.where(bend < 0, 0.5 * (up - down) / np.minimum(bend, -1e-6), 0.0)
    tilt = other[row + 1, column] / strong[row + 1, column]
    y = row + 1.5 + np.clip(shift, -0.5, 0.5)
    return np.stack([column + 0.5, y, -tilt], axis=1)


def _sharpest(families: tuple[np.ndarray, np.ndarray], most_deg: float) -> float:
    """Angle at which edge points pile up most into few rows and columns."""
    best = 0.0
    for half_width, step, cell in ((most_deg, 0.4, 3.0), (0.6, 0.1, 1.5)):
        angles = np.arange(best - half_width, best + half_width + 1e-9, step)
        scores = np.array([_pile(families, float(a), cell) for a in angles])
        best = float(angles[int(np.argmax(scores))])
    return best


def _pile(families: tuple[np.ndarray, np.ndarray], angle_deg: float, cell: float) -> float:
    score = 0.0
    for points, sign in zip(families, (1.0, -1.0), strict=True):
        slope = -sign * np.tan(np.radians(angle_deg))
        along = points[np.abs(points[:, 2] - slope) < ALIKE_SLOPE]
        if not len(along):
            continue
        across = along[:, 1] - slope * along[:, 0]
        places = (across / cell).astype(np.intp)
        counts = np.bincount(places - places.min()).astype(np.float64)
        # The cube lets one long border outweigh many short strokes of hatching or lettering.
        score += float(((counts[:-1] + counts[1:]) ** 3).sum())
    return score


def _lines_of(points: np.ndarray, angle_deg: float) -> np.ndarray:
    """Lines through the fullest rows at about an angle, as x0, y0, x1, y1, weight; (K, 5)."""
    slope = -np.tan(np.radians(angle_deg))
    points = points[np.abs(points[:, 2] - slope) < ALIKE_SLOPE]
    if len(points) < 20:
        return np.zeros((0, 5))
    across = points[:, 1] - slope * points[:, 0]
    low = across.min()
    counts = np.bincount(((across - low) / 2).astype(np.intp)).astype(np.float64)
    counts = np.convolve(counts, [1, 1, 1], mode="same")
    least = max(20.0, 0.1 * counts.max())
    found = []
    for place in np.argsort(-counts, kind="stable")[:40]:
        if counts[place] < least:
            break
        line = _fitted(points, across - low - 2 * (place + 0.5), slope)
        if line is not None:
            found.append(line)
        counts[max(0, place - 1) : place + 2] = 0
    return np.array(found).reshape(-1, 5)


def _fitted(points: np.ndarray, off: np.ndarray, slope: float) -> tuple[float, ...] | None:
    """Line through the points at the fullest place near a row, refitted to those within 1.

    A border has two edges; the line must be one of them, not their mean.
    """
    tilt, base = slope, 0.0
    counts, places = np.histogram(off, np.arange(-3.0, 3.01, 0.5))
    fullest = int(np.argmax(np.convolve(counts, [1, 1, 1], mode="same")))
    near = np.abs(off - places[fullest] - 0.25) <= 1.4
    for limit in (1.2, 1.0, 1.0):
        x, y = points[near, 0], points[near, 1]
        if len(x) < 15 or np.ptp(x) < 30:
            return None
        mean_x, mean_y = x.mean(), y.mean()
        tilt = float(((x - mean_x) @ (y - mean_y)) / ((x - mean_x) @ (x - mean_x)))
        base = float(mean_y - tilt * mean_x)
        near = np.abs(points[:, 1] - base - tilt * points[:, 0]) <= limit
    x = points[near, 0]
    if len(x) < 15:
        return None
    first, last = float(x.min()), float(x.max())
    support = min(1.0, len(x) / max(1.0, last - first))
    return first, base + tilt * first, last, base + tilt * last, support**2
