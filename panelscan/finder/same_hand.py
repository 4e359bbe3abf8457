"""Pages that look laid out by the same hand: margins, gutters, proportions, sizes, slants.

A grid's arrangement changes from page to page, what an artist measures does not: where the
panels begin and end, how wide the gutters are, how many panels there usually are and how even.
Each is measured against its spread over the library, so no unit outweighs another.
"""

from __future__ import annotations

import numpy as np

from panelscan.finder.hits import Hit
from panelscan.finder.index import GridIndex
from panelscan.finder.index_arrays import unpack

MEASURES = ("aspect", "left", "top", "right", "bottom", "across", "down", "panels", "uneven",
            "slant", "bleeds")  # fmt: skip
WEIGHTS = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.5, 0.5])
FAR = 3.0  # spreads from which one measure counts no farther
FACING = 0.5  # share of the smaller side by which two panels have to face each other
WIDEST_GUTTER = 0.08


def style_table(index: GridIndex) -> np.ndarray:
    """Measures of every page, each in units of its spread over the library, shape (G, 11)."""
    a = index.arrays
    boxes = unpack(a.boxes).astype(float)
    starts = a.starts[:-1]
    if not len(index):
        return np.zeros((0, len(MEASURES)))
    gutters = np.array([_gutters(boxes[s:e]) for s, e in zip(starts, a.starts[1:], strict=True)])
    areas = np.log(np.maximum(a.areas.astype(float), 1e-4))
    mean = np.add.reduceat(areas, starts) / index.panel_count
    uneven = np.add.reduceat((areas - mean[index.owner]) ** 2, starts) / index.panel_count
    table = np.column_stack(
        [
            np.log(a.aspect),
            np.minimum.reduceat(boxes[:, 0], starts),
            np.minimum.reduceat(boxes[:, 1], starts),
            1 - np.maximum.reduceat(boxes[:, 2], starts),
            1 - np.maximum.reduceat(boxes[:, 3], starts),
            gutters,
            np.log(index.panel_count),
            np.sqrt(uneven),
            np.log1p(np.maximum.reduceat(a.slants, starts)),
            np.add.reduceat((a.bleeds > 0).astype(float), starts),
        ]
    )
    return _in_spreads(table)


def _in_spreads(table: np.ndarray) -> np.ndarray:
    """Columns less their median, over their usual spread; unknown values are usual ones."""
    middle = np.nanmedian(table, axis=0)
    off = np.abs(table - middle)
    spread = np.nanquantile(off, 0.68, axis=0)
    spread = np.where(spread > 1e-6, spread, np.maximum(np.nanmean(off, axis=0), 1e-6))
    usual = np.nan_to_num((table - middle) / spread)
    weighted: np.ndarray = np.clip(usual, -FAR, FAR) * WEIGHTS
    return weighted


def _gutters(boxes: np.ndarray) -> tuple[float, float]:
    """Median width of the gutters between tiers, and between panels in a tier; NaN without."""
    return _gaps(boxes, 1), _gaps(boxes, 0)


def _gaps(boxes: np.ndarray, low: int) -> float:
    """Median gap along an axis (0 across, 1 down) of panels that face each other."""
    high, side_low, side_high = low + 2, 1 - low, 3 - low
    gap = boxes[None, :, low] - boxes[:, None, high]
    facing = np.minimum(boxes[:, None, side_high], boxes[None, :, side_high]) - np.maximum(
        boxes[:, None, side_low], boxes[None, :, side_low]
    )
    size = boxes[:, side_high] - boxes[:, side_low]
    near = (facing > FACING * np.minimum(size[:, None], size[None, :])) & (
        np.abs(gap) < WIDEST_GUTTER
    )
    return float(np.median(gap[near])) if near.any() else np.nan


def style_distances(index: GridIndex, page: int, table: np.ndarray | None = None) -> np.ndarray:
    """How far each page is from `page` in style, mean over the measures; shape (G,)."""
    table = style_table(index) if table is None else table
    far: np.ndarray = np.abs(table - table[page]).sum(axis=1) / WEIGHTS.sum()
    return far


def find_same_hand(index: GridIndex, page: int, count: int = 10) -> tuple[Hit, ...]:
    """The pages laid out most like `page` in margins, gutters and proportions, nearest first.

    Parameters
    ----------
    index : GridIndex
    page : int
        Place in the index; it is left out itself.
    count : int
        Pages wanted.
    """
    table = style_table(index)
    far = style_distances(index, page, table)
    order = [int(p) for p in np.argsort(far, kind="stable") if p != page][:count]
    return tuple(
        Hit(
            p,
            index.pages.id(p),
            index.pages.name(p),
            float(far[p]),
            distance=float(far[p]),
            reasons=(_alike(np.abs(table[p] - table[page])),),
        )
        for p in order
    )


_NAMES = {
    "aspect": "page proportions", "left": "left margin", "top": "top margin",
    "right": "right margin", "bottom": "bottom margin", "across": "gutters between tiers",
    "down": "gutters in a tier", "panels": "number of panels", "uneven": "evenness of sizes",
    "slant": "slants", "bleeds": "bleeds",
}  # fmt: skip


def _alike(apart: np.ndarray) -> str:
    order = np.argsort(apart, kind="stable")
    near = [_NAMES[MEASURES[int(k)]] for k in order[:3]]
    return f"Most alike in {near[0]}, {near[1]} and {near[2]}; least in " + (
        f"{_NAMES[MEASURES[int(order[-1])]]}."
    )
