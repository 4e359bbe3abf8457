"""The gutters of a page as rows of the library."""

from __future__ import annotations

from panelscan.corpus.row_parts import FrameSize, Row, box_of, times, wkb
from panelscan.model.grid import Gutter, GutterKind
from panelscan.model.record import PageRecord
from panelscan.model.units import MM_PER_INCH


def gutter_row(record: PageRecord, size: FrameSize, gutter: Gutter) -> Row:
    """One gutter's row."""
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
        "width_mm": times(gutter.width, per_px),
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
