"""Figures of a page as a whole: density, symmetry, contrast, gutters' evenness, rhythm.

Names in `PageLayout.measures`:

========================  ====================================================================
``density``               share of the page covered by panels
``live_use``              share of the panels' common box covered by panels
``symmetry``              agreement with the mirror image: mean best IoU, weighted by area
``contrast``              area of the largest panel divided by the smallest
``area_cv``               coefficient of variation of the panels' areas
``rhythm``                mean change of size from panel to panel, in doublings (0: all alike)
``entropy``               Shannon entropy of area shares over its greatest value, 0..1
``tier_gutter``           median width of gutters between tiers, in units of the frame
``column_gutter``         median width of gutters in a tier
``gutter_cv``             coefficient of variation of the gutters' widths (within each kind)
``gutter_wobble``         greatest RMS distance of a gutter's sides from straight, over its length
``gutter_taper_deg``      greatest angle between a gutter's two sides
``crossings``             places where a level and an upright gutter cross (four panels meet)
``slanted_share``         share of panels with a slanted side
``bleed_count``           panels that run off the page
``inset_count``           panels inset in others
``across_fold``           panels that run across the fold, of facing pages kept as one
``page_width``            width of the page's frame, in units of the frame
``page_height``           height of the page's frame
========================  ====================================================================

A figure that a page cannot have (no gutter, no panel) is missing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from panelscan.layout.shapes import PanelShape, shape_notes
from panelscan.layout.sheet import Sheet
from panelscan.model.grid import Gutter, GutterKind
from panelscan.model.page import PageEdge


def measures_of(
    sheet: Sheet,
    order: Sequence[int],
    gutters: Sequence[Gutter],
    bleeds: Sequence[frozenset[PageEdge]],
) -> dict[str, float]:
    """Figures of a page as a whole.

    Parameters
    ----------
    sheet : Sheet
        Panels laid flat.
    order : sequence of int
        Reading order.
    gutters : sequence of Gutter
        Gutters of the page.
    bleeds : sequence of frozenset of PageEdge
        Bleeds of each panel, by index of the sheet.

    Returns
    -------
    dict of str to float
        See the table at the head of this module.
    """
    if not len(sheet):
        return {"density": 0.0, "bleed_count": 0.0, "inset_count": 0.0}
    notes = shape_notes(sheet.rings)
    slanted = sum(n.shape is not PanelShape.ROUND and n.slant_deg >= 2.0 for n in notes)
    return {
        **_cover(sheet),
        "symmetry": symmetry(sheet),
        **_sizes(sheet.areas[list(order)]),
        **_gutter_figures(gutters, order),
        "crossings": float(crossings(gutters)),
        "slanted_share": slanted / len(sheet),
        "bleed_count": float(sum(bool(b) for b in bleeds)),
        "inset_count": float(sum(h is not None for h in sheet.hosts)),
    }


def symmetry(sheet: Sheet) -> float:
    """Agreement of the panels with their mirror image, 0..1.

    Each panel is laid on its best partner in the mirror image; the mean of their
    intersection over union, weighted by area.
    """
    x0, y0, x1, y1 = sheet.boxes.T
    wide = np.minimum(x1[:, None], sheet.width - x0) - np.maximum(x0[:, None], sheet.width - x1)
    tall = np.minimum(y1[:, None], y1) - np.maximum(y0[:, None], y0)
    shared = np.maximum(wide, 0.0) * np.maximum(tall, 0.0)
    areas = sheet.areas
    if not sheet.are_boxes:
        shared = np.minimum(shared, np.minimum(areas[:, None], areas))
    iou = shared / np.maximum(areas[:, None] + areas - shared, 1e-300)
    best = iou.max(axis=1) if sheet.are_boxes else _best_partners(sheet, iou)
    return float(np.clip((best * areas).sum() / areas.sum(), 0.0, 1.0))


def _best_partners(sheet: Sheet, most: np.ndarray) -> np.ndarray:
    """Best IoU of each panel with the mirror image of another.

    ``most`` holds what each pair can reach at most, by boxes and areas. The likeliest
    partner of each panel is measured first; then only those that might still do better. A
    pair and the same pair mirrored share the same area, so each is measured once.
    """
    count = len(sheet)
    best, asked = np.zeros(count), np.zeros((count, count), dtype=bool)
    wanted = np.zeros((count, count), dtype=bool)
    wanted[np.arange(count), most.argmax(axis=1)] = True
    while wanted.any():
        first, second = np.nonzero(np.triu(wanted | wanted.T))
        shared = _shared_areas(sheet, first, second)
        iou = shared / np.maximum(sheet.areas[first] + sheet.areas[second] - shared, 1e-300)
        np.maximum.at(best, first, iou)
        np.maximum.at(best, second, iou)
        asked[first, second] = asked[second, first] = True
        wanted = (most > best[:, None]) & ~asked
    return best


def _shared_areas(sheet: Sheet, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Common areas of panels with mirror images of panels."""
    needed, at = np.unique(second, return_inverse=True)
    mirror = sheet.rings[needed]
    mirror[:, :, 0] = sheet.width - mirror[:, :, 0]
    partners = shapely.polygons(mirror)
    bad = ~shapely.is_valid(partners)
    partners[bad] = shapely.buffer(partners[bad], 0)
    shared: np.ndarray = shapely.area(shapely.intersection(sheet.shapes[first], partners[at]))
    return shared


def rhythm(sheet: Sheet, order: Sequence[int]) -> tuple[float, ...]:
    """Share of the panels' whole area that each panel takes, along the order."""
    areas = sheet.areas[list(order)]
    return tuple((areas / areas.sum()).tolist()) if len(areas) else ()


def crossings(gutters: Sequence[Gutter]) -> int:
    """Places where four panels meet: a level gutter runs on across an upright one.

    Counted as sets of four panels tied in a ring by two tier and two column gutters.
    """
    beside: dict[int, set[int]] = {}
    under = []
    for gutter in gutters:
        a, b = gutter.panels
        if gutter.kind is GutterKind.COLUMN:
            beside.setdefault(a, set()).add(b)
            beside.setdefault(b, set()).add(a)
        else:
            under.append((a, b))
    pairs = {frozenset(pair) for pair in under}
    rings = set()
    for a, b in under:
        for c in beside.get(a, ()):
            for d in beside.get(b, ()):
                if c != d and frozenset((c, d)) in pairs and len({a, b, c, d}) == 4:
                    rings.add(frozenset((a, b, c, d)))
    return len(rings)


def _cover(sheet: Sheet) -> dict[str, float]:
    boxes = sheet.boxes
    live = float((boxes[:, 2].max() - boxes[:, 0].min()) * (boxes[:, 3].max() - boxes[:, 1].min()))
    covered = covered_area(sheet)
    page = sheet.width * sheet.height
    return {"density": min(1.0, covered / page), "live_use": min(1.0, covered / max(live, 1e-300))}


def covered_area(sheet: Sheet) -> float:
    """Area that the panels cover together; where they overlap it counts once."""
    if not sheet.overlaps:
        return float(sheet.areas.sum())
    if sheet.are_boxes:
        return _area_of_boxes(sheet.boxes)
    met = sorted({i for pair in sheet.overlaps for i in pair})
    alone = np.delete(sheet.areas, met).sum()
    return float(alone + shapely.area(shapely.union_all(sheet.shapes[met])))


def _area_of_boxes(boxes: np.ndarray) -> float:
    """Area of a union of boxes: the fields between all their sides that some box covers."""
    xs, ys = np.unique(boxes[:, [0, 2]]), np.unique(boxes[:, [1, 3]])
    across = (boxes[:, None, 0] <= xs[:-1]) & (boxes[:, None, 2] >= xs[1:])
    down = (boxes[:, None, 1] <= ys[:-1]) & (boxes[:, None, 3] >= ys[1:])
    covered = down.T.astype(np.float64) @ across.astype(np.float64) > 0
    return float(np.diff(ys) @ covered @ np.diff(xs))


def _sizes(areas: np.ndarray) -> dict[str, float]:
    shares = areas / areas.sum()
    steps = np.abs(np.diff(np.log2(areas)))
    entropy = float(-(shares * np.log(shares)).sum())
    return {
        "contrast": float(areas.max() / areas.min()),
        "area_cv": float(areas.std() / areas.mean()),
        "rhythm": float(steps.mean()) if len(steps) else 0.0,
        "entropy": entropy / math.log(len(areas)) if len(areas) > 1 else 1.0,
    }


def _gutter_figures(gutters: Sequence[Gutter], order: Sequence[int]) -> dict[str, float]:
    found: dict[str, float] = {}
    residual, count = 0.0, 0
    for kind in GutterKind:
        widths = np.array([g.width for g in gutters if g.kind is kind])
        if not len(widths):
            continue
        found[f"{kind}_gutter"] = float(np.median(widths))
        if widths.mean() > 0:
            residual += float(((widths / widths.mean() - 1) ** 2).sum())
            count += len(widths)
    if count:
        found["gutter_cv"] = math.sqrt(residual / count)
    if gutters:
        found["gutter_wobble"] = max(g.wobble / max(g.length, 1e-300) for g in gutters)
        found["gutter_taper_deg"] = max(g.taper_deg for g in gutters)
    return found
