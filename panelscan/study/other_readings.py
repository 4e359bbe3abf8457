"""What detection left open: other readings of pages, drawn with their probabilities.

A reading that only has the same panels again (each within IoU 0.9 of one of the best
reading, the measure by which a panel's confidence is defined) is no other reading for the
habits; its probability goes to the best one. The rest are laid out anew, with the measured
outlines of the panels that they share with the best reading.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from panelscan.layout.frame import FrameMap, frame_map
from panelscan.model.page import PageEdge, ReadingDirection
from panelscan.study.other_layouts import OtherPage, Row, other_rows
from panelscan.study.source import PageFrame, Source
from panelscan.study.uncertainty import IMPUTATIONS

if TYPE_CHECKING:
    import pandas as pd

MOST_READ = 4000
"""Pages whose readings are looked at; of a larger shelf, as many drawn at random."""
SAME_IOU = 0.9
LEAST_PROBABILITY = 0.005
AT_EDGE = 0.004
SHARES = ("x_min_share", "y_min_share", "x_max_share", "y_max_share")


@dataclass(frozen=True, eq=False)
class OtherReadings:
    """Drawn readings other than the best ones, laid out.

    Parameters
    ----------
    chosen : ndarray of int, shape (M, P)
        Reading drawn for each page in each imputed library; 0 is the best one.
    scale : float
        Pages in doubt for each page whose readings were looked at: 1 unless the shelf is large.
    pages, panels, gutters : DataFrame
        Rows of the readings drawn: ``page`` (row in the shelf's pages), ``reading`` (from 1),
        and columns as in the library.
    """

    chosen: np.ndarray
    scale: float
    pages: pd.DataFrame
    panels: pd.DataFrame
    gutters: pd.DataFrame


@dataclass(eq=False)
class _Doubtful:
    """A page with readings that differ from the best one."""

    page: int
    flat: FrameMap
    fold_x_px: float | None
    known: np.ndarray
    odds: list[float] = field(default_factory=list)
    rings: list[list[np.ndarray]] = field(default_factory=list)
    twins: list[np.ndarray] = field(default_factory=list)
    boxes: list[np.ndarray] = field(default_factory=list)
    inset_px: float = float("nan")


def other_readings(
    pages: pd.DataFrame, panels: pd.DataFrame, source: Source, seed: int
) -> OtherReadings:
    """Draw readings for every page and lay out those that were drawn.

    Parameters
    ----------
    pages : DataFrame
        The shelf's pages.
    panels : DataFrame
        Panels with ``page``, sorted by page and place in the order.
    source : Source
        Gives readings, frames and outlines.
    seed : int
        The same seed gives the same draws.
    """
    rng = np.random.default_rng(seed + 1)
    asked, scale = _pages_asked(pages, rng)
    starts = np.searchsorted(panels["page"].to_numpy(), np.arange(len(pages) + 1))
    doubtful = _doubtful_pages(pages, panels, source, asked, starts)
    chosen = np.zeros((IMPUTATIONS, len(pages)), dtype=np.int16)
    for one in doubtful:
        chosen[:, one.page] = _draw(np.array(one.odds), rng)
    doubtful = [d for d in doubtful if chosen[:, d.page].any()]
    tables = _laid_out(pages, panels, source, doubtful, chosen, starts)
    return OtherReadings(chosen, scale, *tables)


def _pages_asked(pages: pd.DataFrame, rng: np.random.Generator) -> tuple[np.ndarray, float]:
    sure = pages["reviewed"].fillna(False).to_numpy(dtype=bool)
    asked = np.flatnonzero(~sure)
    if len(asked) <= MOST_READ:
        return asked, 1.0
    scale = len(asked) / MOST_READ
    return np.sort(rng.choice(asked, MOST_READ, replace=False)), scale


def _draw(odds: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """One reading for each imputed library, 0 for the best; each with its own probability.

    Systematic draws (a common offset, then shuffled) hit each probability as nearly as the
    number of imputed libraries allows.
    """
    others = odds / max(1.0, odds.sum())
    ends = np.cumsum(np.concatenate([[max(0.0, 1.0 - others.sum())], others]))
    at = (rng.random() + np.arange(IMPUTATIONS)) / IMPUTATIONS
    drawn = np.minimum(np.searchsorted(ends, at, side="right"), len(others))
    return np.asarray(rng.permutation(drawn))


def _doubtful_pages(
    pages: pd.DataFrame,
    panels: pd.DataFrame,
    source: Source,
    asked: np.ndarray,
    starts: np.ndarray,
) -> list[_Doubtful]:
    ids = pages["page_id"].to_numpy()[asked].tolist()
    texts = source.readings(ids)
    open_ids = [i for i in ids if len(texts.get(i) or "") > 2]
    frames = source.frames(open_ids)
    boxes = {name: panels[name].to_numpy() for name in (*SHARES, "area_share")}
    place = dict(zip(ids, asked.tolist(), strict=True))
    found = []
    for page_id in open_ids:
        readings = [r for r in json.loads(texts[page_id]) if _counts(r)]
        if readings and page_id in frames:
            page = place[page_id]
            own = slice(starts[page], starts[page + 1])
            known = np.column_stack([boxes[name][own] for name in (*SHARES, "area_share")])
            one = _compared(page, readings, frames[page_id], known.astype(float))
            if one.odds:
                found.append(one)
    return found


def _counts(reading: dict[str, Any]) -> bool:
    return float(reading["probability"]) >= LEAST_PROBABILITY


def _compared(
    page: int, readings: Sequence[dict[str, Any]], where: PageFrame, known: np.ndarray
) -> _Doubtful:
    """The readings of a page that differ from the best one and from each other."""
    flat = frame_map(where.frame)
    one = _Doubtful(page, flat, _fold(flat, where), known)
    rings = [ring for reading in readings for ring in reading["panels"]]
    if rings:
        points, ends = _flattened(rings, flat)
        boxes, areas = _boxes_of(points, ends)
        twin = _twins(boxes, areas, known)
        one.inset_px = _inset(points, ends, areas, twin, known, flat)
    at = 0
    for reading in readings:
        own = slice(at, at + len(reading["panels"]))
        at = own.stop
        if own.start == own.stop:
            _add(one, reading, [], np.zeros(0, dtype=int), np.zeros((0, 4)))
        elif not _is_best(twin[own], len(known)):
            parts = [points[ends[k] : ends[k + 1]] for k in range(own.start, own.stop)]
            _add(one, reading, parts, twin[own], boxes[own])
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
    one: _Doubtful,
    reading: dict[str, Any],
    rings: list[np.ndarray],
    twin: np.ndarray,
    boxes: np.ndarray,
) -> None:
    """Keep a reading, or add its probability to the same one kept before."""
    odds = float(reading["probability"])
    new = boxes[twin < 0]
    for k, (other, seen) in enumerate(zip(one.twins, one.boxes, strict=True)):
        if sorted(other) == sorted(twin) and len(new) == len(seen):
            if not len(new) or (_box_ious(new, seen).max(axis=1) >= SAME_IOU).all():
                one.odds[k] += odds
                return
    one.odds.append(odds)
    one.rings.append(rings)
    one.twins.append(twin)
    one.boxes.append(new)


def _laid_out(
    pages: pd.DataFrame,
    panels: pd.DataFrame,
    source: Source,
    doubtful: Sequence[_Doubtful],
    chosen: np.ndarray,
    starts: np.ndarray,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    import pandas as pd

    ids = pages["page_id"].to_numpy()
    outlines = source.outlines([ids[d.page] for d in doubtful]) if doubtful else {}
    insets = [d.inset_px for d in doubtful if np.isfinite(d.inset_px)]
    usual = float(np.median(insets)) if insets else 0.0
    tables: tuple[list[Row], list[Row], list[Row]] = ([], [], [])
    for one in doubtful:
        told = pages.iloc[one.page]
        own = panels.iloc[starts[one.page] : starts[one.page + 1]]
        known: list[Row] = [{str(k): v for k, v in r.items()} for r in own.to_dict("records")]
        measured = outlines.get(ids[one.page], [])
        for reading in np.unique(chosen[:, one.page][chosen[:, one.page] > 0]).tolist():
            page = _other_page(one, reading - 1, told, measured, usual)
            key = {"page": one.page, "reading": reading}
            page_row, panel_rows, gutter_rows = other_rows(page, known)
            tables[0].append(key | page_row)
            tables[1].extend(key | row for row in panel_rows)
            tables[2].extend(key | row for row in gutter_rows)
    frames = [pd.DataFrame(rows) for rows in tables]
    for frame in frames:
        if frame.empty:
            frame[["page", "reading"]] = np.zeros((0, 2), dtype=np.int64)
    return frames[0], frames[1], frames[2]


def _other_page(
    one: _Doubtful, index: int, told: pd.Series, measured: Sequence[np.ndarray], usual: float
) -> OtherPage:
    size = np.array([one.flat.width, one.flat.height])
    inset = one.inset_px if np.isfinite(one.inset_px) else usual
    rings, bleeds = [], []
    for ring, twin in zip(one.rings[index], one.twins[index].tolist(), strict=True):
        own = measured[twin] if 0 <= twin < len(measured) else None
        rings.append(own * size if own is not None else _grown(ring * size, inset))
        bleeds.append(_bleeds(ring, one.known, told))
    return OtherPage(
        rings,
        one.twins[index].tolist(),
        bleeds,
        float(size[0]),
        float(size[1]),
        float(told["width_mm"]) if told.get("width_mm") is not None else float("nan"),
        float(told["height_mm"]) if told.get("height_mm") is not None else float("nan"),
        ReadingDirection.RTL if told.get("direction") == "rtl" else ReadingDirection.LTR,
        one.fold_x_px,
    )


def _grown(ring: np.ndarray, by: float) -> np.ndarray:
    """The ring with every side moved outward (inward where negative)."""
    if abs(by) < 1e-6:
        return ring
    shape = shapely.buffer(shapely.polygons(ring), by, join_style="mitre")
    if shape.geom_type != "Polygon" or shape.is_empty:
        return ring
    return np.asarray(shapely.get_coordinates(shape.exterior)[:-1])


def _bleeds(ring: np.ndarray, known: np.ndarray, told: pd.Series) -> frozenset[PageEdge]:
    """Edges that a panel runs off: it reaches the edge, or as far as the panel that bleeds."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    found = set()
    for edge, value, end, column, sign in (
        (PageEdge.LEFT, low[0], 0.0, 0, 1),
        (PageEdge.TOP, low[1], 0.0, 1, 1),
        (PageEdge.RIGHT, high[0], 1.0, 2, -1),
        (PageEdge.BOTTOM, high[1], 1.0, 3, -1),
    ):
        limit = end
        if len(known) and told.get(f"bleed_{edge}") == True:  # noqa: E712  may be null
            outermost = (sign * known[:, column]).min() * sign
            limit = sign * max(sign * end, sign * float(outermost))
        if sign * (value - limit) < AT_EDGE:
            found.add(edge)
    return frozenset(found)
