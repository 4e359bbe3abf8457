"""Which readings of a page differ from the best one, and in which panels.

A panel of another reading is the same as one of the best reading where their boxes agree to
IoU 0.9 and their areas to a tenth, the measure by which a panel's confidence is defined, and
both or neither run off an edge of the page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import Any

import numpy as np

from panelscan.layout.frame import FrameMap, frame_map
from panelscan.study.source import PageFrame

SAME_IOU = 0.9
AT_EDGE = 0.004
LEAST_PROBABILITY = 0.005


@dataclass(eq=False)
class Doubtful:
    """A page with the readings that differ from the best one.

    Parameters
    ----------
    page : int
        Row in the shelf's pages.
    flat : FrameMap
        Lays the page flat.
    fold_x_px : float or None
        Fold in the upright page.
    known : ndarray, shape (N, 5)
        Box and area of each panel of the best reading, page-relative.
    odds : list of float
        Probability of each differing reading.
    rings : list of list of ndarray
        Their panels, page-relative.
    twins : list of ndarray of int
        Place of the same panel in the best reading, -1 where it has none.
    inset_px : float
        How far outlines of the other readings lie within the measured ones; NaN where no
        panel is shared.
    """

    page: int
    flat: FrameMap
    fold_x_px: float | None
    known: np.ndarray
    odds: list[float] = field(default_factory=list)
    rings: list[list[np.ndarray]] = field(default_factory=list)
    twins: list[np.ndarray] = field(default_factory=list)
    inset_px: float = float("nan")
    _boxes: list[np.ndarray] = field(default_factory=list)


def _counts(reading: dict[str, Any]) -> bool:
    return float(reading["probability"]) >= LEAST_PROBABILITY


def compared(
    page: int, told: Sequence[dict[str, Any]], where: PageFrame, known: np.ndarray
) -> Doubtful:
    """The readings of a page that differ from the best one and from each other.

    Parameters
    ----------
    page : int
        Row in the shelf's pages.
    told : sequence of dict
        Readings as the library keeps them; those that are hardly ever drawn are left out.
    where : PageFrame
        The page inside its image.
    known : ndarray, shape (N, 5)
        Box and area of each panel of the best reading, page-relative.
    """
    readings = [r for r in told if float(r["probability"]) >= LEAST_PROBABILITY]
    flat = frame_map(where.frame)
    one = Doubtful(page, flat, _fold(flat, where), known)
    rings = [ring for reading in readings for ring in reading["panels"]]
    if rings:
        points, ends = _flattened(rings, flat)
        boxes, areas = _boxes_of(points, ends)
        twin = _twins(boxes, areas, known)
    at = 0
    for reading in readings:
        own = slice(at, at + len(reading["panels"]))
        at = own.stop
        if own.start == own.stop:
            _add(one, reading, [], np.zeros(0, dtype=int), np.zeros((0, 4)))
        elif not _is_best(twin[own], len(known)):
            parts = [points[ends[k] : ends[k + 1]] for k in range(own.start, own.stop)]
            _add(one, reading, parts, twin[own], boxes[own])
    if rings and one.odds:
        one.inset_px = _inset(points, ends, areas, twin, known, flat)
    return one


def _fold(flat: FrameMap, where: PageFrame) -> float | None:
    if where.fold_x_px is None:
        return None
    middle = np.mean([p[1] for p in where.frame.points])
    return float(flat.to_page(np.array([[where.fold_x_px, middle]]))[0, 0])


def _flattened(rings: Sequence[Any], flat: FrameMap) -> tuple[np.ndarray, np.ndarray]:
    """Corners of all rings in page-relative units, and where each ring begins."""
    points = np.array(list(chain.from_iterable(rings)), dtype=float)
    ends = np.concatenate([[0], np.cumsum([len(ring) for ring in rings])])
    return flat.to_page(points) / [flat.width, flat.height], ends


def _boxes_of(points: np.ndarray, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    begins = ends[:-1]
    boxes = np.column_stack(
        [np.minimum.reduceat(points, begins), np.maximum.reduceat(points, begins)]
    )
    after = np.arange(1, len(points) + 1)
    after[ends[1:] - 1] = begins
    x, y = points.T
    areas = np.abs(np.add.reduceat(x * y[after] - x[after] * y, begins)) / 2
    return boxes, areas


def _twins(boxes: np.ndarray, areas: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Place of the same panel among those known, -1 where there is none."""
    if not len(known):
        return np.full(len(boxes), -1)
    iou = _box_ious(boxes, known[:, :4])
    ratio = areas[:, None] / np.maximum(known[None, :, 4], 1e-9)
    same = (iou >= SAME_IOU) & (ratio >= SAME_IOU) & (ratio <= 1 / SAME_IOU)
    # A panel that runs off an edge is another one than a panel that ends at the margin.
    bleeds = [np.abs(b[:, :4] - [0, 0, 1, 1]) < AT_EDGE for b in (boxes, known)]
    apart = np.abs(boxes[:, None] - known[None, :, :4]) > 4 * AT_EDGE
    same &= ~(apart & (bleeds[0][:, None] != bleeds[1][None])).any(axis=2)
    best = np.where(same, iou, -1.0)
    return np.where(same.any(axis=1), best.argmax(axis=1), -1)


def _box_ious(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    low = np.maximum(first[:, None, :2], second[None, :, :2])
    high = np.minimum(first[:, None, 2:], second[None, :, 2:])
    common = np.clip(high - low, 0, None).prod(axis=2)
    sizes = [np.prod(b[:, 2:] - b[:, :2], axis=1) for b in (first, second)]
    union = sizes[0][:, None] + sizes[1][None] - common
    return np.asarray(common / np.maximum(union, 1e-12))


def _inset(
    points: np.ndarray,
    ends: np.ndarray,
    areas: np.ndarray,
    twin: np.ndarray,
    known: np.ndarray,
    flat: FrameMap,
) -> float:
    """How far outlines of the other readings lie within the measured ones, in pixels.

    Readings are kept as they were thought of, before sides were measured; panels that two
    readings share tell how far that is off.
    """
    shared = twin >= 0
    if not shared.any():
        return float("nan")
    steps = np.diff(np.vstack([points, points[:1]]), axis=0) * [flat.width, flat.height]
    steps[ends[1:] - 1] = (points[ends[:-1]] - points[ends[1:] - 1]) * [flat.width, flat.height]
    around = np.add.reduceat(np.hypot(*steps.T), ends[:-1])
    gain = (known[np.maximum(twin, 0), 4] - areas) * flat.width * flat.height / around
    return float(np.median(gain[shared]))


def _is_best(twin: np.ndarray, count: int) -> bool:
    """Whether a reading has the best one's panels, each once."""
    return len(twin) == count and bool((np.sort(twin) == np.arange(count)).all())


def _add(
    one: Doubtful,
    reading: dict[str, Any],
    rings: list[np.ndarray],
    twin: np.ndarray,
    boxes: np.ndarray,
) -> None:
    """Keep a reading, or add its probability to the same one kept before."""
    odds = float(reading["probability"])
    new = boxes[twin < 0]
    for k, (other, seen) in enumerate(zip(one.twins, one._boxes, strict=True)):
        if sorted(other) == sorted(twin) and len(new) == len(seen):
            if not len(new) or (_box_ious(new, seen).max(axis=1) >= SAME_IOU).all():
                one.odds[k] += odds
                return
    one.odds.append(odds)
    one.rings.append(rings)
    one.twins.append(twin)
    one._boxes.append(new)
