"""A scanned page as rows of the library's three tables."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from statistics import mean, pstdev

from panelscan.corpus.gutter_rows import gutter_row
from panelscan.corpus.measures import PageMeasures, measure_page
from panelscan.corpus.panel_rows import panel_rows
from panelscan.corpus.row_parts import (
    FrameSize,
    Row,
    bleed_columns,
    box_of,
    median_of,
    times,
    wkb,
)
from panelscan.model.grid import Gutter, GutterKind
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.model.record import PageRecord


@dataclass(frozen=True)
class PageRows:
    """The rows of one page."""

    page: Row
    panels: tuple[Row, ...]
    gutters: tuple[Row, ...]


def rows_of(
    record: PageRecord, scanned_at: str, *, reviewed: bool = False, revision: int = 0
) -> PageRows:
    """Rows of a page.

    Parameters
    ----------
    record : PageRecord
        The page.
    scanned_at : str
        UTC time, ISO 8601.
    reviewed : bool
        Whether a person has put it right.
    revision : int
        Number of corrections made to it.

    Returns
    -------
    PageRows
        Columns of `panelscan.corpus.schema`.
    """
    size = FrameSize.of(record)
    measures = measure_page(record)
    panels = tuple(panel_rows(record, size))
    gutters = tuple(gutter_row(record, size, gutter) for gutter in record.layout.gutters)
    page = {
        **_origin_columns(record),
        **_frame_columns(record, size),
        **_finding_columns(record),
        **_layout_columns(record, panels, measures),
        **_margin_columns(record, size),
        **_gutter_columns(record.layout.gutters, gutters),
        **bleed_columns(e for p in record.finding.panels for e in p.bleed),
        "scanned_at": scanned_at,
        "reviewed": reviewed,
        "revision": revision,
        "detection": detection_of(record),
    }
    return PageRows(page, panels, gutters)


def detection_of(record: PageRecord) -> str:
    """Short hash of what was detected: detector, frame and outlines."""
    told = [
        record.finding.detector,
        record.finding.frame.points,
        [record.finding.panels[k].outline.points for k in record.layout.order],
    ]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:12]


def _origin_columns(record: PageRecord) -> Row:
    ref, ppi = record.ref, record.resolution
    return {
        "page_id": ref.page_id,
        "book": record.book,
        "source_path": ref.source_path,
        "source_index": ref.source_index,
        "source_member": ref.member,
        "part": str(ref.part),
        "page_number": record.page_number,
        "page_side": page_side(record),
        "content_sha256": ref.content_sha256,
        "width_px": record.width_px,
        "height_px": record.height_px,
        "x_ppi": ppi.x_ppi if ppi else None,
        "y_ppi": ppi.y_ppi if ppi else None,
        "resolution_source": str(ppi.source) if ppi else None,
    }


def page_side(record: PageRecord) -> str:
    """Side of the open book: of a split scan its half, else by the page's number.

    Odd pages lie on the right of a book read left to right, and on the left of one read
    right to left (common practice, no source).
    """
    if record.ref.part in ("left", "right", "spread"):
        return str(record.ref.part)
    odd = record.page_number % 2 == 1
    return "right" if odd == (record.direction == "ltr") else "left"


def _frame_columns(record: PageRecord, size: FrameSize) -> Row:
    finding = record.finding
    return {
        "width_mm": size.width_mm,
        "height_mm": size.height_mm,
        "geometry": wkb(finding.frame),
        "bbox": box_of(finding.frame),
        "aspect": size.width_px / size.height_px,
        "skew_deg": finding.skew_deg,
        "ground_kind": str(finding.ground.kind),
        "ground_rgb": "#{:02x}{:02x}{:02x}".format(*finding.ground.rgb),
        "fold_x_px": finding.fold_x_px,
        "look": record.look or None,
    }


def _finding_columns(record: PageRecord) -> Row:
    finding = record.finding
    inks = [p.room.ink_density for p in finding.panels if p.room]
    return {
        "direction": str(record.direction),
        "direction_confidence": record.direction_confidence,
        "confidence": finding.confidence,
        "readings": json.dumps(
            [
                {
                    "probability": r.probability,
                    "panels": [_rounded(p.outline) for p in r.panels],
                }
                for r in finding.alternatives
            ]
        ),
        "doubts": json.dumps(
            [{"kind": d.kind, "text": d.text, "place": d.place} for d in finding.doubts]
        ),
        "ink_density": mean(inks) if inks else None,
        "detector": finding.detector,
        "settings": json.dumps(record.settings, sort_keys=True),
        "notes": list(record.notes),
        "balloons": [wkb(b) for b in finding.balloons],
    }


def _layout_columns(record: PageRecord, panels: tuple[Row, ...], measures: PageMeasures) -> Row:
    layout = record.layout
    areas = [row["area_share"] for row in panels]
    return {
        "panel_count": len(panels),
        "tier_count": len(layout.tiers),
        "tier_pattern": "-".join(str(len(t.panels)) for t in layout.tiers),
        "grid_text": measures.grid_text,
        "clarity": layout.clarity,
        "patterns": list(layout.patterns),
        "alternative_orders": json.dumps(
            [
                {"order": list(choice.order), "probability": choice.probability}
                for choice in layout.alternatives
            ]
        ),
        "symmetry": measures.symmetry,
        "density": measures.density,
        "contrast": max(areas) / min(areas) if areas and min(areas) > 0 else None,
        "vector": list(measures.vector),
        "measures": json.dumps(
            {**record.finding.measures, **layout.measures}, sort_keys=True, default=float
        ),
    }


def _margin_columns(record: PageRecord, size: FrameSize) -> Row:
    columns: Row = {}
    for edge in PageEdge:
        along_x = edge in (PageEdge.LEFT, PageEdge.RIGHT)
        extent_px = size.width_px if along_x else size.height_px
        extent_mm = size.width_mm if along_x else size.height_mm
        margin_px = record.layout.margins.get(edge)
        share = None if margin_px is None else margin_px / extent_px
        columns[f"margin_{edge}_share"] = share
        columns[f"margin_{edge}_mm"] = times(share, extent_mm)
    return columns


def _gutter_columns(gutters: tuple[Gutter, ...], rows: tuple[Row, ...]) -> Row:
    columns: Row = {}
    for kind in GutterKind:
        own = [row for row in rows if row["kind"] == kind]
        columns[f"{kind}_gutter_share"] = median_of(row["width_share"] for row in own)
        columns[f"{kind}_gutter_mm"] = median_of(row["width_mm"] for row in own)
    widths = [g.width for g in gutters]
    known = len(widths) > 1 and mean(widths) > 0
    columns["gutter_cv"] = pstdev(widths) / mean(widths) if known else None
    return columns


def _rounded(outline: Outline) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in outline.points]
