"""Straight runs along the edge of the ground: where a panel's side may lie.

The contours of the ground are cut into straight pieces (Douglas and Peucker 1973,
doi:10.3138/FM57-6770-U75U-7727); pieces on one line add up, whatever hides the stretch
between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

BUSY_SHARE = 0.1
"""From so many changes along the rows on, per pixel, a mask is looked through for specks."""
MANY_SPOTS = 3000


@dataclass(frozen=True, slots=True)
class SegmentSettings:
    """Pieces and lines; lengths in thousandths of the page's long side."""

    bend: float = 1.6
    least_piece: float = 16.0
    least_line: float = 45.0
    reach: float = 2.2
    most_pieces: int = 700
    most_lines: int = 90


@dataclass(frozen=True, eq=False)
class Lines:
    """Straight lines with ground on their outer side, strongest first.

    Parameters
    ----------
    point : ndarray of float64, shape (K, 2)
        A point on each line, x before y.
    along : ndarray of float64, shape (K, 2)
        Unit direction.
    outward : ndarray of float64, shape (K, 2)
        Unit normal towards the ground.
    support : ndarray of float64, shape (K,)
        Summed length of the pieces on it, in pixels.
    pieces : ndarray of float64, shape (J, 4)
        All pieces as x0, y0, x1, y1.
    """

    point: np.ndarray
    along: np.ndarray
    outward: np.ndarray
    support: np.ndarray
    pieces: np.ndarray

    def __len__(self) -> int:
        return len(self.point)


def find_lines(ground: np.ndarray, settings: SegmentSettings | None = None) -> Lines:
    """Straight lines along the edges of a ground mask.

    Parameters
    ----------
    ground : ndarray of uint8, shape (M, N)
        1 where a pixel looks like ground.
    settings : SegmentSettings or None

    Returns
    -------
    Lines
    """
    s = settings or SegmentSettings()
    unit = max(ground.shape) / 1000.0
    pieces = _pieces(ground, unit, s)
    if not len(pieces):
        empty = np.zeros((0, 2))
        return Lines(empty, empty, empty, np.zeros(0), pieces)
    return _collected(pieces, unit, s)


def _pieces(ground: np.ndarray, unit: float, s: SegmentSettings) -> np.ndarray:
    """Straight pieces with the ground on their left in (x right, y down) turning sense."""
    padded = cv2.copyMakeBorder(ground, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=1)
    least = 2 * s.least_piece * unit
    art = _without_specks(1 - padded, least / 2)
    contours, _ = cv2.findContours(art, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    rings = [
        cv2.approxPolyDP(contour, s.bend * unit, True)[:, 0]
        for contour in contours
        if len(contour) >= least
    ]
    if not rings:
        return np.zeros((0, 4))
    pieces = _sides(rings) - 1.0
    run = pieces[:, 2:] - pieces[:, :2]
    pieces = pieces[np.hypot(run[:, 0], run[:, 1]) >= s.least_piece * unit]
    pieces = pieces[_inside_page(pieces, ground.shape)]
    # Contours run through pixel centres of the art: half a pixel out is the edge.
    along = pieces[:, 2:] - pieces[:, :2]
    length = np.hypot(*along.T)
    pieces = pieces[np.argsort(-length, kind="stable")[: s.most_pieces]]
    along = pieces[:, 2:] - pieces[:, :2]
    normal = _outward(along / np.hypot(*along.T)[:, None])
    return np.asarray(pieces + 0.5 + 0.5 * np.hstack([normal, normal]))


def _sides(rings: list[np.ndarray]) -> np.ndarray:
    """Sides of closed rings as x0, y0, x1, y1; float64."""
    corners = np.concatenate(rings).astype(np.float64)
    last = np.cumsum([len(ring) for ring in rings]) - 1
    after = np.arange(1, len(corners) + 1)
    after[last] = np.concatenate([[0], last[:-1] + 1])
    return np.hstack([corners, corners[after]])


def _without_specks(art: np.ndarray, most: float) -> np.ndarray:
    """A 0/1 mask without the small spots and holes of dot screens, whose contours are many.

    A spot of n pixels has a contour of at most 2 n steps, a hole one of 2 n + 2.
    """
    changes = cv2.countNonZero(cv2.absdiff(art[:, 1:], art[:, :-1]))
    if changes < BUSY_SHARE * art.size:
        return art
    for value, connectivity, least in ((1, 8, most), (0, 4, most - 1)):
        mask = art if value else 1 - art
        # Counting pixels apart from telling spots apart takes half the time of both at once.
        count, labels = cv2.connectedComponents(mask, connectivity=connectivity)
        if count > MANY_SPOTS:
            keep = (np.bincount(labels.ravel()) >= least).astype(np.uint8)
            keep[0] = 0
            kept = keep.take(np.asarray(labels))
            art = kept if value else 1 - kept
    return art


def _inside_page(pieces: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    rows, columns = shape[:2]
    middle = (pieces[:, :2] + pieces[:, 2:]) / 2
    x, y = middle[:, 0], middle[:, 1]
    return np.asarray((x > 1) & (y > 1) & (x < columns - 2) & (y < rows - 2))


def _outward(along: np.ndarray) -> np.ndarray:
    """Normal away from the art; OpenCV runs outer contours so that it lies at the left."""
    return np.stack([-along[:, 1], along[:, 0]], axis=1)


def _collected(pieces: np.ndarray, unit: float, s: SegmentSettings) -> Lines:
    """Lines from the longest pieces, each fitted to all pieces that lie on it."""
    start, end = pieces[:, :2], pieces[:, 2:]
    run = end - start
    length = np.hypot(run[:, 0], run[:, 1])
    along = run / length[:, None]
    normal = _outward(along)
    on_line, total = _company(start, end, normal, length, s.reach * unit)
    free = total >= s.least_line * unit
    leads: list[int] = []
    members: list[np.ndarray] = []
    for k in np.flatnonzero(free):
        if not free[k]:
            continue
        if len(leads) >= s.most_lines:
            break
        on = np.flatnonzero(on_line[k])
        free[on] = False
        leads.append(int(k))
        members.append(on)
    if not leads:
        empty = np.zeros((0, 2))
        return Lines(empty, empty, empty, np.zeros(0), pieces)
    points, directions = _through(start, end, length, members)
    directions[(directions * along[leads]).sum(axis=1) < 0] *= -1
    support = total[leads]
    order = np.argsort(-support, kind="stable")
    along = directions[order]
    return Lines(points[order], along, _outward(along), support[order], pieces)


def _company(
    start: np.ndarray, end: np.ndarray, normal: np.ndarray, length: np.ndarray, reach: float
) -> tuple[np.ndarray, np.ndarray]:
    """Which pieces lie on the line of each piece, bool (K, K), and their summed length, (K,)."""
    place = (start * normal).sum(axis=1)
    on_line = np.empty((len(start), len(start)), dtype=bool)
    total = np.empty(len(start))
    # A few rows at a time stay in the processor's cache.
    for first in range(0, len(start), 48):
        rows = slice(first, first + 48)
        some, here = normal[rows], place[rows, None]
        on = (some @ normal.T > 0.97) & (np.abs(some @ start.T - here) < reach)
        on &= np.abs(some @ end.T - here) < reach
        on_line[rows] = on
        total[rows] = on.astype(np.float64) @ length
    return on_line, total


def _through(
    start: np.ndarray, end: np.ndarray, length: np.ndarray, members: list[np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Least-squares lines through the ends of pieces, weighted by their length.

    `members` are the pieces of each line; gives a point and a direction each, shape (K, 2).
    """
    counts = np.array([len(on) for on in members])
    first = np.cumsum(counts) - counts
    every = np.concatenate(members)
    weight = length[every]
    ends = np.concatenate([start[every], end[every]], axis=1)
    total = np.add.reduceat(weight, first)
    sums = np.add.reduceat(ends * weight[:, None], first)
    middle = (sums[:, :2] + sums[:, 2:]) / (2 * total[:, None])
    x0, y0, x1, y1 = (ends - np.repeat(np.tile(middle, 2), counts, axis=0)).T
    # Larger axis of each line's 2 x 2 scatter matrix in closed form.
    spread = np.stack([x0 * y0 + x1 * y1, x0 * x0 + x1 * x1 - y0 * y0 - y1 * y1])
    mixed, apart = np.add.reduceat(spread * weight, first, axis=1)
    turn = 0.5 * np.arctan2(2 * mixed, apart)
    return middle, np.stack([np.cos(turn), np.sin(turn)], axis=1)
