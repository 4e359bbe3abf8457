"""How well found panels agree with the true ones: matching, areas, corners, splits, merges.

Everything works on outlines in one common frame (page pixels as a rule); lengths come back
in the frame's unit.

References
----------
Kuhn, H. W. (1955), "The Hungarian method for the assignment problem", Naval Research
Logistics Quarterly 2, doi 10.1002/nav.3800020109 (one-to-one matching).
Kirillov, A. et al. (2019), "Panoptic Segmentation", CVPR, doi 10.1109/CVPR.2019.00963 (PQ).
Clausner, C., Pletschacher, S., Antonacopoulos, A. (2011), "Scenario driven in-depth
performance evaluation of document layout analysis methods", ICDAR,
doi 10.1109/ICDAR.2011.282 (merge, split, miss, partial miss, false detection).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from panelscan.model.outline import Outline, Point

THRESHOLDS = (0.5, 0.75, 0.9, 0.95, 0.98)
COVER_SHARE = 0.15
"""Least share of a panel that a piece must cover to count as part of a split or merge."""


@dataclass(frozen=True, slots=True)
class Match:
    """A true panel and the found panel paired with it (indices) and their IoU."""

    true: int
    found: int
    iou: float


@dataclass(frozen=True, slots=True)
class Counts:
    """True positives, false positives and false negatives of one page or of many.

    Examples
    --------
    >>> total = Counts(3, 1, 0) + Counts(1, 0, 2)
    >>> total.precision, round(total.recall, 3), round(total.f1, 3)
    (0.8, 0.667, 0.727)
    >>> Counts(0, 0, 0).f1
    1.0
    """

    hits: int
    extra: int
    missed: int

    def __add__(self, other: Counts) -> Counts:
        return Counts(self.hits + other.hits, self.extra + other.extra, self.missed + other.missed)

    @property
    def precision(self) -> float:
        """TP / (TP + FP); 1 where nothing was found."""
        return self.hits / (self.hits + self.extra) if self.hits + self.extra else 1.0

    @property
    def recall(self) -> float:
        """TP / (TP + FN); 1 where there was nothing to find."""
        return self.hits / (self.hits + self.missed) if self.hits + self.missed else 1.0

    @property
    def f1(self) -> float:
        """2 TP / (2 TP + FP + FN); 1 where there was nothing and nothing was found."""
        total = 2 * self.hits + self.extra + self.missed
        return 2 * self.hits / total if total else 1.0


@dataclass(frozen=True)
class PageErrors:
    """What went wrong on a page, by name; indices into the true or the found panels.

    Parameters
    ----------
    splits : tuple of int
        True panels that were found in two or more pieces.
    merges : tuple of int
        Found panels that swallow two or more true ones.
    misses : tuple of int
        True panels that nothing found accounts for.
    partial : tuple of int
        True panels found in part only (a match, but below the threshold asked for).
    false_detections : tuple of int
        Found panels that answer to no true one and are no piece of a split.
    """

    splits: tuple[int, ...] = ()
    merges: tuple[int, ...] = ()
    misses: tuple[int, ...] = ()
    partial: tuple[int, ...] = ()
    false_detections: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class OutlineDistance:
    """Symmetric distance between two outlines, both directions pooled, in the frame's unit."""

    mean: float
    p95: float
    greatest: float


def iou_table(true: Sequence[Outline], found: Sequence[Outline]) -> np.ndarray:
    """IoU of each true panel with each found one, from exact polygon areas.

    Parameters
    ----------
    true, found : sequence of Outline
        T true and F found panels in one frame.

    Returns
    -------
    ndarray of float64, shape (T, F)

    Examples
    --------
    A box slid by a third of its width: (1 - d) / (1 + d).

    >>> float(iou_table([Outline.box(0, 0, 3, 3)], [Outline.box(1, 0, 4, 3)])[0, 0])
    0.5
    """
    table = np.zeros((len(true), len(found)))
    if not table.size:
        return table
    a = np.array([o.shape for o in true])[:, None]
    b = np.array([o.shape for o in found])[None, :]
    common = np.asarray(shapely.area(shapely.intersection(a, b)))
    union = np.asarray(shapely.area(a)) + np.asarray(shapely.area(b)) - common
    return np.asarray(common / union, dtype=np.float64)


def match_panels(table: np.ndarray, threshold: float) -> tuple[Match, ...]:
    """One-to-one matches of the greatest total IoU among pairs with IoU at least ``threshold``.

    Parameters
    ----------
    table : ndarray, shape (T, F)
        From `iou_table`.
    threshold : float
        Least IoU of a pair, above 0.

    Returns
    -------
    tuple of Match
        Sorted by true panel.
    """
    from scipy.optimize import linear_sum_assignment

    if not table.size:
        return ()
    # A hair of tolerance: an IoU that is 0.9 on paper may come out as 0.8999999999.
    weights = np.where(table >= threshold - 1e-9, table, 0.0)
    rows, columns = linear_sum_assignment(weights, maximize=True)
    return tuple(
        Match(int(r), int(c), float(table[r, c]))
        for r, c in zip(rows, columns, strict=True)
        if weights[r, c] > 0
    )


def counts_at(table: np.ndarray, threshold: float) -> Counts:
    """Hits, extra and missed panels at an IoU threshold."""
    hits = len(match_panels(table, threshold))
    return Counts(hits, table.shape[1] - hits, table.shape[0] - hits)


def page_exact(table: np.ndarray, threshold: float) -> bool:
    """Whether there are as many found as true panels and each pair reaches ``threshold``."""
    counts = counts_at(table, threshold)
    return counts.extra == 0 and counts.missed == 0


def panel_quality(table: np.ndarray, threshold: float = 0.5) -> float:
    """PQ = sum of the matches' IoU / (TP + FP/2 + FN/2); 1 for an empty page left empty."""
    matches = match_panels(table, threshold)
    counts = counts_at(table, threshold)
    total = counts.hits + counts.extra / 2 + counts.missed / 2
    return sum(m.iou for m in matches) / total if total else 1.0


def cover_tables(
    true: Sequence[Outline], found: Sequence[Outline]
) -> tuple[np.ndarray, np.ndarray]:
    """Shares of the true panels, and of the found ones, that each pair has in common."""
    of_true = np.zeros((len(true), len(found)))
    of_found = np.zeros_like(of_true)
    for i, t in enumerate(true):
        for j, f in enumerate(found):
            common = t.shape.intersection(f.shape).area
            of_true[i, j], of_found[i, j] = common / t.area, common / f.area
    return of_true, of_found


def name_errors(
    true: Sequence[Outline], found: Sequence[Outline], threshold: float = 0.9
) -> PageErrors:
    """Name a page's errors: split, merge, miss, partial miss, false detection.

    Parameters
    ----------
    true, found : sequence of Outline
        Panels in one frame.
    threshold : float
        IoU from which a panel counts as found right.

    Notes
    -----
    A split is a true panel with two or more found ones each covering at least 15 % of it; a
    merge the same the other way round. A piece that is itself the right answer to another
    panel (IoU at least 0.75) does not count, so an inset does not split its host.

    Examples
    --------
    >>> page = [Outline.box(0, 0, 10, 10)]
    >>> halves = [Outline.box(0, 0, 6, 10), Outline.box(6, 0, 10, 10)]
    >>> name_errors(page, halves).splits
    (0,)
    >>> name_errors(halves, page).merges
    (0,)
    """
    table = iou_table(true, found)
    of_true, of_found = cover_tables(true, found)
    right = {(m.true, m.found) for m in match_panels(table, 0.75)}
    answered = dict(right)
    answering = {f: t for t, f in right}
    pieces = {
        i: [j for j in range(len(found)) if of_true[i, j] >= COVER_SHARE
            and answering.get(j, i) == i]
        for i in range(len(true))
    }  # fmt: skip
    swallowed = {
        j: [i for i in range(len(true)) if of_found[i, j] >= COVER_SHARE
            and answered.get(i, j) == j]
        for j in range(len(found))
    }  # fmt: skip
    splits = tuple(i for i, p in pieces.items() if len(p) >= 2)
    merges = tuple(j for j, s in swallowed.items() if len(s) >= 2)
    loose = {m.true: m for m in match_panels(table, 0.5)}
    told_true = {i for j in merges for i in swallowed[j]} | set(splits)
    told_found = {j for i in splits for j in pieces[i]} | set(merges)
    matched_found = {m.found for m in loose.values()}
    return PageErrors(
        splits,
        merges,
        tuple(i for i in range(len(true)) if i not in loose and i not in told_true),
        tuple(i for i, m in loose.items() if m.iou < threshold - 1e-9 and i not in told_true),
        tuple(j for j in range(len(found)) if j not in matched_found and j not in told_found),
    )


def corner_errors(true: Outline, found: Outline) -> tuple[float, ...] | None:
    """Distance of each true corner from the found one, at the best cyclic alignment.

    Returns
    -------
    tuple of float or None
        None where the numbers of corners differ.

    Examples
    --------
    >>> corner_errors(Outline.box(0, 0, 9, 9), Outline.box(0, 0, 9, 12))
    (0.0, 0.0, 3.0, 3.0)
    """
    a, b = true.array(), found.array()
    if len(a) != len(b):
        return None
    turns = [np.linalg.norm(a - np.roll(b, k, axis=0), axis=1) for k in range(len(a))]
    return tuple(float(d) for d in min(turns, key=lambda d: float(d.sum())))


def outline_distance(true: Outline, found: Outline, step: float = 2.0) -> OutlineDistance:
    """Distance of each outline's boundary from the other one, sampled every ``step`` units."""
    there = _boundary_distances(true, found, step)
    back = _boundary_distances(found, true, step)
    both = np.concatenate([there, back])
    return OutlineDistance(
        float((there.mean() + back.mean()) / 2), float(np.percentile(both, 95)), float(both.max())
    )


def hausdorff(true: Outline, found: Outline) -> float:
    """Greatest distance from a corner of one outline to the other's boundary, both ways."""
    return max(_corner_reach(true, found), _corner_reach(found, true))


def _corner_reach(a: Outline, b: Outline) -> float:
    ring = b.shape.exterior
    return float(np.max(shapely.distance(shapely.points(a.array()), ring)))


def _boundary_distances(a: Outline, b: Outline, step: float) -> np.ndarray:
    ring = a.shape.exterior
    places = np.linspace(0, ring.length, max(math.ceil(ring.length / step), 8) + 1)[:-1]
    points = shapely.line_interpolate_point(ring, places)
    return np.asarray(shapely.distance(points, b.shape.exterior), dtype=np.float64)


def frame_jaccard(true: Outline, found: Outline) -> float:
    """Agreement of two page frames, measured on the flat page (the SmartDoc measure).

    Both quads are carried by the homography that makes the true frame a unit square; their
    IoU there does not depend on how the page was photographed.

    Parameters
    ----------
    true, found : Outline
        Four corners each.

    Raises
    ------
    ValueError
        If a frame has not four corners.

    References
    ----------
    Burie, J.-C. et al. (2015), "ICDAR2015 competition on smartphone document capture and
    OCR (SmartDoc)", ICDAR, doi 10.1109/ICDAR.2015.7333943.

    Examples
    --------
    >>> page = Outline.box(10, 10, 110, 160)
    >>> round(frame_jaccard(page, Outline.box(10, 10, 100, 160)), 6)
    0.9
    """
    if len(true.points) != 4 or len(found.points) != 4:
        raise ValueError("page frames have four corners")
    h = _homography(true.points, ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)))
    flat = np.c_[found.array(), np.ones(4)] @ h.T
    if (flat[:, 2] <= 1e-9).any():
        return 0.0
    carried = shapely.Polygon(flat[:, :2] / flat[:, 2:]).buffer(0)
    square = shapely.box(0, 0, 1, 1)
    union = carried.union(square).area
    return float(carried.intersection(square).area / union)


def _homography(source: Sequence[Point], target: Sequence[Point]) -> np.ndarray:
    rows, right = [], []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    solved = np.linalg.solve(np.array(rows, dtype=np.float64), np.array(right))
    return np.append(solved, 1.0).reshape(3, 3)
