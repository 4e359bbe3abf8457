"""A page laid out as another reading has it: the rows that the library would hold of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median, pstdev
from typing import Any

import numpy as np

from panelscan.layout.frame import as_outline
from panelscan.layout.pages import grid_of, lay_out
from panelscan.layout.shapes import shape_notes
from panelscan.model.grid import Grid, GutterKind, PageLayout
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection
from panelscan.model.panel import Panel

Row = dict[str, Any]
KEPT = ("border_mm", "wobble_mm", "free_top_share", "lettered_share", "ink_density")
"""Measures that need the picture: known of a panel that the best reading has too."""
FULL_WIDTH = 0.9


@dataclass(frozen=True, eq=False)
class OtherPage:
    """One reading of one page, ready to be laid out.

    Parameters
    ----------
    rings : sequence of ndarray, each of shape (V, 2)
        Panels in the upright page, in pixels.
    twins : sequence of int
        Place of the same panel in the best reading, -1 for a panel that it has not.
    bleeds : sequence of frozenset of PageEdge
        Edges that each panel runs off.
    width_px, height_px : float
        Size of the upright page.
    width_mm, height_mm : float
        The same in millimetres, NaN where not known.
    direction : ReadingDirection
        Which way the book is read.
    fold_x_px : float or None
        Where the fold lies in the upright page.
    """

    rings: Sequence[np.ndarray]
    twins: Sequence[int]
    bleeds: Sequence[frozenset[PageEdge]]
    width_px: float
    height_px: float
    width_mm: float
    height_mm: float
    direction: ReadingDirection
    fold_x_px: float | None = None

    @property
    def panels(self) -> tuple[Panel, ...]:
        """The rings as panels; one that encloses nothing is left out."""
        made = [(as_outline(r), b) for r, b in zip(self.rings, self.bleeds, strict=True)]
        return tuple(Panel(o, bleed=b) for o, b in made if o is not None)


def other_rows(page: OtherPage, known: Sequence[Row]) -> tuple[Row, list[Row], list[Row]]:
    """Rows of the page, its panels and its gutters, named as in the library.

    Parameters
    ----------
    page : OtherPage
        The reading.
    known : sequence of dict
        Rows of the best reading's panels, in reading order.

    Returns
    -------
    tuple of dict, list of dict, list of dict
    """
    panels = page.panels
    if not panels:
        return {"panel_count": 0, "tier_count": 0, "tier_pattern": ""}, [], []
    frame = Outline.box(0, 0, page.width_px, page.height_px)
    layout = lay_out(panels, frame, page.direction, fold_x=page.fold_x_px)
    grid = grid_of(panels, frame, layout, page.direction, fold_x=page.fold_x_px)
    twins = list(page.twins) if len(panels) == len(page.rings) else [-1] * len(panels)
    panel_rows = _panel_rows(page, layout, grid, twins, known)
    gutter_rows = [_gutter_row(page, layout, k) for k in range(len(layout.gutters))]
    return _page_row(page, layout, grid, panel_rows, gutter_rows), panel_rows, gutter_rows


def _page_row(
    page: OtherPage, layout: PageLayout, grid: Grid, panels: Sequence[Row], gutters: Sequence[Row]
) -> Row:
    areas = [row["area_share"] for row in panels]
    widths = [row["width_px"] for row in gutters]
    mean = sum(widths) / len(widths) if widths else 0.0
    row: Row = {
        "panel_count": len(panels),
        "tier_count": len(layout.tiers),
        "tier_pattern": "-".join(str(len(t.panels)) for t in layout.tiers),
        "clarity": layout.clarity,
        "symmetry": layout.measures.get("symmetry"),
        "density": layout.measures.get("density"),
        "contrast": max(areas) / min(areas) if min(areas) > 0 else None,
        "gutter_cv": pstdev(widths) / mean if len(widths) > 1 and mean > 0 else None,
    }
    for kind in GutterKind:
        for unit in ("mm", "share"):
            own = [g[f"width_{unit}"] for g in gutters if g["kind"] == kind]
            row[f"{kind}_gutter_{unit}"] = median(own) if own else None
    bleeds = {e for p in grid.panels for e in p.bleed}
    for edge in PageEdge:
        across = edge in (PageEdge.LEFT, PageEdge.RIGHT)
        size, size_mm = (
            (page.width_px, page.width_mm) if across else (page.height_px, page.height_mm)
        )
        share = layout.margins.get(edge, np.nan) / size
        row[f"margin_{edge}_share"] = share
        row[f"margin_{edge}_mm"] = share * size_mm
        row[f"bleed_{edge}"] = edge in bleeds
    return row


def _panel_rows(
    page: OtherPage, layout: PageLayout, grid: Grid, twins: Sequence[int], known: Sequence[Row]
) -> list[Row]:
    size = np.array([page.width_px, page.height_px])
    notes = shape_notes([p.outline.array() * size for p in grid.panels])
    boxes = np.array([p.outline.bounds for p in grid.panels])
    taken = boxes[:, 2].max() - boxes[:, 0].min()
    tier_of = {k: tier.panels for tier in layout.tiers for k in tier.panels}
    rows: list[Row] = []
    for k, (panel, note) in enumerate(zip(grid.panels, notes, strict=True)):
        x_min, y_min, x_max, y_max = boxes[k]
        wide = x_max - x_min >= FULL_WIDTH * taken
        row: Row = {
            "reading_order": k + 1,
            "area_share": panel.outline.area,
            "aspect": (x_max - x_min) * size[0] / max((y_max - y_min) * size[1], 1e-9),
            "shape": str(note.shape),
            "slant_deg": note.slant_deg,
            "is_inset": panel.host is not None,
            "is_full_tier": bool(len(tier_of.get(k, ())) == 1 and wide),
            "depth": panel.depth,
            "confidence": None,
            "x_min_share": x_min,
            "y_min_share": y_min,
            "x_max_share": x_max,
            "y_max_share": y_max,
        }
        twin = twins[layout.order[k]]
        if 0 <= twin < len(known):
            names = (*KEPT, "confidence", "depth", "shape", "slant_deg")
            row |= {name: known[twin].get(name) for name in names}
        rows.append(row)
    return rows


def _gutter_row(page: OtherPage, layout: PageLayout, index: int) -> Row:
    gutter = layout.gutters[index]
    across = gutter.kind is GutterKind.TIER
    per_px = page.height_mm / page.height_px if across else page.width_mm / page.width_px
    return {
        "kind": str(gutter.kind),
        "width_px": gutter.width,
        "width_mm": gutter.width * per_px,
        "width_share": gutter.width / page.width_px,
        "width_min_px": gutter.width_min,
        "width_max_px": gutter.width_max,
        "angle_deg": gutter.angle_deg,
        "panel_a": gutter.panels[0] + 1,
        "panel_b": gutter.panels[1] + 1,
    }
