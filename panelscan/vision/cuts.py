"""Gutters as straight cuts: the page split again and again along stripes of ground.

The recursive cut of Nagy and Seth (1984, "Hierarchical representation of optically scanned
documents", ICPR) with slanted cuts that figures and balloons may cross: a stripe counts by
the share of its length that is ground and by the straight walls along it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from panelscan.vision.halfplane import area_of, chords, clip_convex
from panelscan.vision.segments import Lines

_PAIRS = np.triu_indices(12, 1)


@dataclass(frozen=True, slots=True)
class CutSettings:
    """What counts as a cut; lengths in thousandths of the page's long side."""

    least_ground: float = 0.3
    clear_ground: float = 0.75
    least_score: float = 0.27
    least_chord: float = 55.0
    widest_gutter: float = 45.0
    shifts: tuple[float, ...] = (0.9, 1.8, 3.2, 5.0, 8.0, 12.0)
    wall_reach: float = 2.0
    least_part_share: float = 0.004
    deepest: int = 9
    samples: int = 120
    most_tried: int = 10


@dataclass(frozen=True, eq=False)
class Cut:
    """A straight stripe of ground across a region.

    Parameters
    ----------
    point, along : ndarray of shape (2,)
        A point on its line and the unit direction.
    ground : float
        Share of the line's length in the region that is ground.
    walls : tuple of float
        Share of the length along which the left and the right flank are straight and near.
    length : float
        Length in the region, in pixels.
    """

    point: np.ndarray
    along: np.ndarray
    ground: float
    walls: tuple[float, float]
    length: float

    @property
    def score(self) -> float:
        """How much like a gutter, 0..1."""
        high, low = max(self.walls), min(self.walls)
        # Straightness where the gutter is seen, and how much of it is seen at all.
        straight = min(1.0, (0.55 * high + 0.45 * low) / max(self.ground, 1e-6))
        return float(straight**1.5 * min(1.0, self.ground / 0.6))


@dataclass(eq=False)
class CutNode:
    """A convex part of the page, with the cut that splits it further, if any."""

    polygon: np.ndarray
    depth: int = 0
    cut: Cut | None = None
    children: list[CutNode] = field(default_factory=list)

    def walk(self) -> list[CutNode]:
        """Give this part and all below it."""
        return [self, *(n for child in self.children for n in child.walk())]


def cut_tree(
    ground: np.ndarray, lines: Lines, page: np.ndarray, settings: CutSettings | None = None
) -> CutNode:
    """Split a region along its gutters until none is left.

    Parameters
    ----------
    ground : ndarray of uint8, shape (M, N)
        1 where ground is open to the page's edge.
    lines : Lines
        Where the ground has straight edges.
    page : ndarray, shape (K, 2)
        The convex region to split.
    settings : CutSettings or None

    Returns
    -------
    CutNode
        Root of the tree.
    """
    s = settings or CutSettings()
    root = CutNode(page)
    total = area_of(page)
    art = 1 - ground
    waiting = [root]
    while waiting:
        node = waiting.pop()
        if node.depth >= s.deepest:
            continue
        node.polygon = _trimmed(art, node.polygon)
        if not len(node.polygon):
            continue
        for cut in ranked_cuts(ground, lines, node.polygon, s):
            normal = np.array([-cut.along[1], cut.along[0]])
            parts = [clip_convex(node.polygon, cut.point, n) for n in (normal, -normal)]
            if min(_art_in(art, p) for p in parts) < s.least_part_share * total:
                continue
            node.cut = cut
            node.children = [CutNode(p, node.depth + 1) for p in parts]
            waiting.extend(node.children)
            break
    return root


def art_inside(art: np.ndarray, polygon: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Art inside a convex polygon, cut out to its box, and the box's top left."""
    low = np.maximum(np.floor(polygon.min(axis=0)).astype(int), 0)
    high = np.ceil(polygon.max(axis=0)).astype(int)
    part = art[low[1] : high[1] + 1, low[0] : high[0] + 1]
    stencil = np.zeros(part.shape, dtype=np.uint8)
    cv2.fillConvexPoly(stencil, np.round(polygon - low).astype(np.int32), 1)
    return part & stencil, low


def _art_in(art: np.ndarray, polygon: np.ndarray) -> int:
    """Pixels of art inside a convex polygon."""
    return int(cv2.countNonZero(art_inside(art, polygon)[0])) if len(polygon) >= 3 else 0


def _trimmed(art: np.ndarray, polygon: np.ndarray) -> np.ndarray:
    """Convex polygon cut down to the box of the art in it."""
    part, low = art_inside(art, polygon)
    x, y, width, height = cv2.boundingRect(part)
    if not width:
        return np.zeros((0, 2))
    near = low + np.array([x, y])
    far = near + np.array([width, height])
    for axis in (0, 1):
        inward = np.eye(2)[axis]
        polygon = clip_convex(polygon, near.astype(float), inward)
        polygon = clip_convex(polygon, far.astype(float), -inward)
    return polygon


def ranked_cuts(ground: np.ndarray, lines: Lines, polygon: np.ndarray, s: CutSettings) -> list[Cut]:
    """Likely gutters right across a region, best first."""
    unit = max(ground.shape) / 1000.0
    stripes = _stripes(ground, lines, polygon, s)
    if not stripes:
        return []
    starts, ends = (np.array([stripe[k] for stripe in stripes]) for k in (1, 2))
    cuts = []
    for (share, start, end), walls in zip(
        stripes, _walls(ground, starts, ends, unit, s), strict=True
    ):
        length = float(np.hypot(*(end - start)))
        cut = Cut(start, (end - start) / length, share, walls, length)
        if cut.score >= s.least_score:
            cuts.append(cut)
    # Longer cuts come first where several are good: tiers before columns.
    longest = max((c.length for c in cuts), default=1.0)

    def rank(cut: Cut) -> float:
        # A cut that art hides in part waits until the clear ones are made.
        clear = 1.0 if cut.ground >= s.clear_ground else 0.4
        return clear * cut.score * (0.6 + 0.4 * cut.length / longest)

    return sorted(cuts, key=lambda c: -rank(c))


def _stripes(
    ground: np.ndarray, lines: Lines, polygon: np.ndarray, s: CutSettings
) -> list[tuple[float, np.ndarray, np.ndarray]]:
    """Best line beside each of the ground's edges: share of ground, start and end."""
    if not len(lines):
        return []
    unit = max(ground.shape) / 1000.0
    shifts = np.array(s.shifts) * unit
    points = (lines.point[:, None] + shifts[None, :, None] * lines.outward[:, None]).reshape(-1, 2)
    along = np.repeat(lines.along, len(shifts), axis=0)
    low, high = chords(polygon, points, along)
    length = high - low
    long = np.flatnonzero(length >= s.least_chord * unit)
    if not len(long):
        return []
    place = (np.arange(s.samples) + 0.5) / s.samples
    at = low[long, None] + place[None, :] * length[long, None]
    x = points[long, :1] + at * along[long, :1]
    y = points[long, 1:] + at * along[long, 1:]
    share = np.zeros(len(points))
    share[long] = look_up_at(ground, x, y).sum(axis=1, dtype=np.int32) / s.samples
    # The nearest of the shifts that are about as good.
    by_line = share.reshape(len(lines), len(shifts))
    pick = (by_line >= by_line.max(axis=1, keepdims=True) - 0.01).argmax(axis=1)
    chosen = np.arange(len(lines)) * len(shifts) + pick
    chosen = chosen[share[chosen] >= s.least_ground]
    chosen = chosen[np.argsort(-(share * length)[chosen], kind="stable")]
    kept: list[int] = []
    for k in chosen:
        if len(kept) >= s.most_tried:
            break
        if not any(_alike(points, along, int(k), j, unit) for j in kept):
            kept.append(int(k))
    return [
        (float(share[k]), points[k] + low[k] * along[k], points[k] + high[k] * along[k])
        for k in kept
    ]


def _alike(points: np.ndarray, along: np.ndarray, k: int, j: int, unit: float) -> bool:
    """Whether two lines are nearly the same, whichever way they run."""
    turn = abs(along[k, 0] * along[j, 1] - along[k, 1] * along[j, 0])
    off = points[k] - points[j]
    return bool(turn < 0.01 and abs(off[0] * along[j, 1] - off[1] * along[j, 0]) < 1.5 * unit)


def _walls(
    ground: np.ndarray, starts: np.ndarray, ends: np.ndarray, unit: float, s: CutSettings
) -> list[tuple[float, float]]:
    """Shares of each line's length that have a straight wall near it, on either side.

    Parameters
    ----------
    ground : ndarray of uint8, shape (M, N)
    starts, ends : ndarray of float64, shape (K, 2)
        Ends of the lines.
    unit : float
    s : CutSettings
    """
    count = s.samples // 2
    run = ends - starts
    place = (np.arange(count) + 0.5) / count
    x, y = starts.T[:, :, None] + place * run.T[:, :, None]
    across, down = np.stack([-run[:, 1], run[:, 0]]) / np.hypot(run[:, 0], run[:, 1])
    reach = np.arange(0.0, s.widest_gutter * unit, 1.0)
    # Lines, their two sides, places along them, steps away from them.
    reach = np.stack([reach, -reach])[None, :, None]
    stopped = (
        look_up_at(
            ground,
            x[:, None, :, None] + reach * across[:, None, None, None],
            y[:, None, :, None] + reach * down[:, None, None, None],
        )
        == 0
    )
    first = stopped.argmax(axis=3)
    # Where the line itself runs over art there is no wall.
    seen = (first > 0) & stopped.any(axis=3)
    shares = _straight_shares(
        first.reshape(-1, count), seen.reshape(-1, count), s.wall_reach * unit
    )
    return [(float(right), float(left)) for right, left in shares.reshape(-1, 2)]


def _straight_shares(distance: np.ndarray, seen: np.ndarray, reach: float) -> np.ndarray:
    """Largest share of a row's distances that one straight line explains, for each row.

    Parameters
    ----------
    distance : ndarray of int, shape (K, N)
    seen : ndarray of bool, shape (K, N)
        Where there is a distance at all.
    reach : float
        How far off the line a distance may be.
    """
    n = distance.shape[1]
    number = np.count_nonzero(seen, axis=1)
    # Places that were seen come first, and twelve of them, evenly spread, are paired.
    order = np.argsort(~seen, axis=1, kind="stable")
    tried = np.arange(12) * np.maximum(number - 1, 0)[:, None] // 11
    place = np.take_along_axis(order, tried, axis=1)
    height = np.take_along_axis(distance, place, axis=1)
    (a, b), (low, high) = (v[:, _PAIRS].swapaxes(0, 1) for v in (place, height))
    slope = (high - low) / np.maximum(b - a, 1)
    keep = (b - a > 0.1 * n) & (np.abs(slope) * n < 12 * reach) & (number >= 8)[:, None]
    row = np.nonzero(keep)[0]
    a, low, slope = (v[keep][:, None] for v in (a, low, slope))
    # Only where a wall was seen can a line explain it.
    on = np.abs(distance[row] - (low + slope * (np.arange(n) - a))) <= reach
    most = np.zeros(len(distance))
    np.maximum.at(most, row, np.count_nonzero(on & seen[row], axis=1))
    return np.asarray(most / n)


def look_up(mask: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Values of the pixels under points of shape (..., 2); the nearest pixel beyond the edge."""
    return look_up_at(mask, points[..., 0], points[..., 1])


def look_up_at(mask: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """`look_up` for coordinates kept apart, which is quicker for many."""
    # Plain minimum and maximum are several times faster than np.clip on short arrays.
    column = np.minimum(np.maximum(x, 0), mask.shape[1] - 1).astype(np.intp)
    place = np.minimum(np.maximum(y, 0), mask.shape[0] - 1).astype(np.intp)
    # One number per pixel is looked up twice as fast as two.
    place *= mask.shape[1]
    place += column
    return np.asarray(mask.ravel().take(place))
