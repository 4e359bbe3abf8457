"""Straight runs along the edge of the ground: where a panel's side may lie.

The contours of the ground are cut into straight pieces (Douglas and Peucker 1973,
doi:10.3138/FM57-6770-U75U-7727); pieces on one line add up, whatever hides the stretch
between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np


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
    contours, _ = cv2.findContours(1 - padded, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    kept = []
    for contour in contours:
        if len(contour) < 2 * s.least_piece * unit:
            continue
        corners = cv2.approxPolyDP(contour, s.bend * unit, True)[:, 0].astype(np.float64)
        ends = np.roll(corners, -1, axis=0)
        long = np.hypot(*(ends - corners).T) >= s.least_piece * unit
        kept.append(np.hstack([corners[long], ends[long]]))
    if not kept:
        return np.zeros((0, 4))
    pieces = np.concatenate(kept) - 1.0
    pieces = pieces[_inside_page(pieces, ground.shape)]
    # Contours run through pixel centres of the art: half a pixel out is the edge.
    along = pieces[:, 2:] - pieces[:, :2]
    length = np.hypot(*along.T)
    pieces = pieces[np.argsort(-length, kind="stable")[: s.most_pieces]]
    along = pieces[:, 2:] - pieces[:, :2]
    normal = _outward(along / np.hypot(*along.T)[:, None])
    return np.asarray(pieces + 0.5 + 0.5 * np.hstack([normal, normal]))


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
    length = np.hypot(*run.T)
    along = run / length[:, None]
    normal = _outward(along)
    free = np.ones(len(pieces), dtype=bool)
    points: list[np.ndarray] = []
    directions: list[np.ndarray] = []
    normals: list[np.ndarray] = []
    supports: list[float] = []
    for k in range(len(pieces)):
        if not free[k] or len(points) >= s.most_lines:
            continue
        off_start = np.abs((start - start[k]) @ normal[k])
        off_end = np.abs((end - start[k]) @ normal[k])
        on = (off_start < s.reach * unit) & (off_end < s.reach * unit)
        on &= normal @ normal[k] > 0.97
        total = length[on].sum()
        if total < s.least_line * unit:
            continue
        free &= ~on
        point, direction = _through(start[on], end[on], length[on])
        if direction @ along[k] < 0:
            direction = -direction
        points.append(point)
        directions.append(direction)
        normals.append(_outward(direction[None])[0])
        supports.append(total)
    order = np.argsort(-np.array(supports), kind="stable")
    if not len(order):
        empty = np.zeros((0, 2))
        return Lines(empty, empty, empty, np.zeros(0), pieces)
    return Lines(
        np.array(points)[order],
        np.array(directions)[order],
        np.array(normals)[order],
        np.array(supports)[order],
        pieces,
    )


def _through(
    start: np.ndarray, end: np.ndarray, length: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Least-squares line through the ends of pieces, weighted by their length."""
    points = np.concatenate([start, end])
    weight = np.concatenate([length, length])
    middle = (points * weight[:, None]).sum(axis=0) / weight.sum()
    off = (points - middle) * np.sqrt(weight)[:, None]
    _, vectors = np.linalg.eigh(off.T @ off)
    return middle, vectors[:, 1]
