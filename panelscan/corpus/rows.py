"""A scanned page as rows of the library's three tables."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import mean, median, pstdev
from typing import Any

import shapely

from panelscan.corpus.measures import PageMeasures, measure_page
from panelscan.layout.frame import frame_map
from panelscan.model.grid import Gutter, GutterKind
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.model.panel import Panel
from panelscan.model.record import PageRecord
from panelscan.model.units import MM_PER_INCH

Row = dict[str, Any]


@dataclass(frozen=True)
class PageRows:
    """The rows of one page."""

    page: Row
    panels: tuple[Row, ...]
    gutters: tuple[Row, ...]


@dataclass(frozen=True)
class FrameSize:
    """Size of the page frame in source pixels and, where known, in millimetres."""

    width_px: float
    height_px: float
    width_mm: float | None
    height_mm: float | None

    @classmethod
    def of(cls, record: PageRecord) -> FrameSize:
        """Size of a page's frame, laid flat."""
        flat = frame_map(record.finding.frame)
        width, height = flat.width, flat.height
        if record.resolution is None:
            return cls(width, height, None, None)
        return cls(width, height, record.resolution.x_mm(width), record.resolution.y_mm(height))


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
    panels = tuple(_panel_rows(record, size))
    gutters = tuple(_gutter_row(record, size, gutter) for gutter in record.layout.gutters)
    page = {
        **_origin_columns(record),
        **_frame_columns(record, size),
        **_finding_columns(record),
        **_layout_columns(record, panels, measures),
        **_margin_columns(record, size),
        **_gutter_columns(record.layout.gutters, gutters),
        **_bleed_columns(e for p in record.finding.panels for e in p.bleed),
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
        columns[f"margin_{edge}_mm"] = _times(share, extent_mm)
    return columns


def _gutter_columns(gutters: tuple[Gutter, ...], rows: tuple[Row, ...]) -> Row:
    columns: Row = {}
    for kind in GutterKind:
        own = [row for row in rows if row["kind"] == kind]
        columns[f"{kind}_gutter_share"] = _median(row["width_share"] for row in own)
        columns[f"{kind}_gutter_mm"] = _median(row["width_mm"] for row in own)
    widths = [g.width for g in gutters]
    known = len(widths) > 1 and mean(widths) > 0
    columns["gutter_cv"] = pstdev(widths) / mean(widths) if known else None
    return columns


def _panel_rows(record: PageRecord, size: FrameSize) -> Iterable[Row]:
    place = {index: k for k, index in enumerate(record.layout.order)}
    spots = _tier_spots(record)
    for k, index in enumerate(record.layout.order):
        panel = record.finding.panels[index]
        share = record.grid.panels[k].outline
        yield {
            "page_id": record.ref.page_id,
            "book": record.book,
            "source_path": record.ref.source_path,
            "source_index": record.ref.source_index,
            "page_number": record.page_number,
            "reading_order": k + 1,
            "geometry": wkb(panel.outline),
            "bbox": box_of(panel.outline),
            "geometry_page": wkb(share),
            "confidence": panel.confidence,
            **_shape_columns(panel, share, size),
            **spots.get(k, {"tier": None, "place_in_tier": None, "is_full_tier": False}),
            "is_inset": panel.host is not None,
            "host_order": None if panel.host is None else place[panel.host] + 1,
            "depth": panel.depth,
            **_bleed_columns(panel.bleed),
            **_side_columns(panel, record),
            **_room_columns(panel),
            "burst": [wkb(b) for b in panel.burst],
        }


def _tier_spots(record: PageRecord) -> Mapping[int, Row]:
    spots: dict[int, Row] = {}
    for t, tier in enumerate(record.layout.tiers):
        for p, k in enumerate(tier.panels):
            spots[k] = {
                "tier": t + 1,
                "place_in_tier": p + 1,
                "is_full_tier": len(tier.panels) == 1 and _is_full_width(record, k),
            }
    return spots


def _is_full_width(record: PageRecord, k: int) -> bool:
    """Whether a panel spans nine tenths of the width that the page's panels take up."""
    boxes = [p.outline.bounds for p in record.grid.panels]
    taken = max(b[2] for b in boxes) - min(b[0] for b in boxes)
    return boxes[k][2] - boxes[k][0] >= 0.9 * taken


def _shape_columns(panel: Panel, share: Outline, size: FrameSize) -> Row:
    x_min, y_min, x_max, y_max = share.bounds
    width, height = x_max - x_min, y_max - y_min
    slant = largest_slant_deg(share.scaled(size.width_px, size.height_px))
    is_round = panel.shape_hint == "round"
    page_mm2 = _times(size.width_mm, size.height_mm)
    return {
        "area_share": share.area,
        "x_min_share": x_min,
        "y_min_share": y_min,
        "x_max_share": x_max,
        "y_max_share": y_max,
        "width_mm": _times(width, size.width_mm),
        "height_mm": _times(height, size.height_mm),
        "area_mm2": _times(share.area, page_mm2),
        "aspect": width * size.width_px / (height * size.height_px),
        "corner_count": len(share.points),
        "shape": _shape_word(len(share.points), slant, is_round),
        "slant_deg": None if is_round else slant,
    }


SLANT_DEG = 2.0


def _shape_word(corners: int, slant_deg: float, is_round: bool) -> str:
    if is_round:
        return "round"
    if corners != 4:
        return "polygon"
    return "slanted" if slant_deg > SLANT_DEG else "rectangle"


def largest_slant_deg(outline: Outline) -> float:
    """Largest turn of a side from upright or level, 0..45 degrees.

    Sides shorter than a twentieth of the ring do not count: their direction is noise.

    Examples
    --------
    >>> round(largest_slant_deg(Outline.of([(0, 0), (10, 0), (11, 10), (0, 10)])), 3)
    5.711
    """
    sides = [(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in outline.edges()]
    ring = sum(math.hypot(*side) for side in sides)
    turns = [
        math.degrees(math.atan2(min(abs(dx), abs(dy)), max(abs(dx), abs(dy))))
        for dx, dy in sides
        if math.hypot(dx, dy) >= ring / 20
    ]
    return max(turns, default=0.0)


def _side_columns(panel: Panel, record: PageRecord) -> Row:
    borders = [s.border_px for s in panel.sides if s.border_px is not None]
    wobbles = [s.wobble_px for s in panel.sides if s.wobble_px is not None]
    ppi = record.resolution
    border_px = median(borders) if borders else None
    rms_px = math.sqrt(mean(w * w for w in wobbles)) if wobbles else None
    return {
        "side_states": [str(s.state) for s in panel.sides],
        "side_support": [s.support for s in panel.sides],
        "side_border_px": [s.border_px for s in panel.sides],
        "side_wobble_px": [s.wobble_px for s in panel.sides],
        "border_px": border_px,
        "border_mm": None if ppi is None or border_px is None else ppi.px_to_mm(border_px),
        "wobble_mm": None if ppi is None or rms_px is None else ppi.px_to_mm(rms_px),
    }


def _room_columns(panel: Panel) -> Row:
    room = panel.room
    return {
        "free_top_share": room.free_top_share if room else None,
        "lettered_share": room.lettered_share if room else None,
        "ink_density": room.ink_density if room else None,
    }


def _gutter_row(record: PageRecord, size: FrameSize, gutter: Gutter) -> Row:
    across = gutter.kind is GutterKind.TIER
    ppi = record.resolution
    per_px = None if ppi is None else MM_PER_INCH / (ppi.y_ppi if across else ppi.x_ppi)
    return {
        "page_id": record.ref.page_id,
        "book": record.book,
        "page_number": record.page_number,
        "kind": str(gutter.kind),
        "panel_a": gutter.panels[0] + 1,
        "panel_b": gutter.panels[1] + 1,
        "geometry": None if gutter.strip is None else wkb(gutter.strip),
        "bbox": None if gutter.strip is None else box_of(gutter.strip),
        "width_px": gutter.width,
        "width_mm": _times(gutter.width, per_px),
        "width_share": gutter.width / size.width_px,
        "width_min_px": gutter.width_min,
        "width_max_px": gutter.width_max,
        "length_share": gutter.length / size.width_px,
        "position_share": _gutter_position(record, gutter, across),
        "angle_deg": gutter.angle_deg,
    }


def _gutter_position(record: PageRecord, gutter: Gutter, across: bool) -> float:
    """Middle between the two panels' facing sides, as a share of the page frame."""
    first, second = (record.grid.panels[k].outline.bounds for k in gutter.panels)
    low, high = (1, 3) if across else (0, 2)
    if first[low] + first[high] > second[low] + second[high]:
        first, second = second, first
    return (first[high] + second[low]) / 2


def _bleed_columns(edges: Iterable[PageEdge]) -> Row:
    run_off = set(edges)
    return {f"bleed_{edge}": edge in run_off for edge in PageEdge}


def wkb(outline: Outline) -> bytes:
    """WKB of an outline, little endian."""
    return bytes(shapely.to_wkb(outline.shape, byte_order=1))


def box_of(outline: Outline) -> Row:
    """Bounding box as the struct column wants it."""
    return dict(zip(("xmin", "ymin", "xmax", "ymax"), outline.bounds, strict=True))


def _rounded(outline: Outline) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in outline.points]


def _times(value: float | None, factor: float | None) -> float | None:
    return None if value is None or factor is None else value * factor


def _median(values: Iterable[float | None]) -> float | None:
    known = [v for v in values if v is not None]
    return median(known) if known else None
