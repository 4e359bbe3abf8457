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
AT_ONCE = 2_000_000  # pairs of panels looked at together, to bound memory


def style_table(index: GridIndex) -> np.ndarray:
    """Measures of every page, each in units of its spread over the library, shape (G, 11)."""
    a = index.arrays
    boxes = unpack(a.boxes).astype(float)
    starts = a.starts[:-1]
    if not len(index):
        return np.zeros((0, len(MEASURES)))
    gutters = _gutters(boxes, starts, index.panel_count)
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


def _gutters(boxes: np.ndarray, starts: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """Median width of the gutters between tiers, and in a tier; NaN without; shape (G, 2)."""
    found = np.full((len(starts), 2), np.nan)
    for count in np.unique(counts):
        pages = np.flatnonzero(counts == count)
        step = max(1, AT_ONCE // int(count) ** 2)
        for first in range(0, len(pages), step):
            part = pages[first : first + step]
            own = boxes[starts[part][:, None] + np.arange(count)]
            found[part] = np.column_stack([_gaps(own, 1), _gaps(own, 0)])
    return found


def _gaps(boxes: np.ndarray, low: int) -> np.ndarray:
    """Median gap along an axis (0 across, 1 down) of panels that face each other.

    Parameters
    ----------
    boxes : ndarray, shape (K, N, 4)
        Panels of K pages with N panels each.
    low : int
        The axis.

    Returns
    -------
    ndarray, shape (K,)
        NaN where no panels face each other.
    """
    high, side_low, side_high = low + 2, 1 - low, 3 - low
    one, other = boxes[:, :, None, :], boxes[:, None, :, :]
    gap = other[..., low] - one[..., high]
    facing = np.minimum(one[..., side_high], other[..., side_high]) - np.maximum(
        one[..., side_low], other[..., side_low]
    )
    size = boxes[..., side_high] - boxes[..., side_low]
    near = (facing > FACING * np.minimum(size[:, :, None], size[:, None, :])) & (
        np.abs(gap) < WIDEST_GUTTER
    )
    kept = np.sort(np.where(near, gap, np.inf).reshape(len(boxes), -1), axis=1)
    many = near.sum(axis=(1, 2))
    rows = np.arange(len(boxes))
    middle = (kept[rows, np.maximum(many - 1, 0) // 2] + kept[rows, many // 2]) / 2
    return np.where(many > 0, middle, np.nan)


def style_distances(index: GridIndex, page: int, table: np.ndarray | None = None) -> np.ndarray:
    """How far each page is from `page` in style, mean over the measures; shape (G,)."""
    table = style_table(index) if table is None else table
    far: np.ndarray = np.abs(table - table[page]).sum(axis=1) / WEIGHTS.sum()
    return far


def find_same_hand(
    index: GridIndex, page: int, count: int = 10, among: np.ndarray | None = None
) -> tuple[Hit, ...]:
    """The pages laid out most like `page` in margins, gutters and proportions, nearest first.

    Parameters
    ----------
    index : GridIndex
    page : int
        Place in the index; it is left out itself.
    count : int
        Pages wanted.
    among : ndarray of bool, shape (G,), optional
        Pages that may be found.
    """
    table = style_table(index)
    far = style_distances(index, page, table)
    meant = np.ones(len(far), dtype=bool) if among is None else among
    order = [int(p) for p in np.argsort(far, kind="stable") if p != page and meant[p]][:count]
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
