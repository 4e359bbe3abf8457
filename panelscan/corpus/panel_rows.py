"""The panels of a page as rows of the library.

What a panel's outline, tier and shape say comes from ``layout.describe``, the one place where
it is measured; what the finder saw (sides, bleeds, hosts, room) comes from the finding.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import mean, median

from panelscan.corpus.row_parts import FrameSize, Row, bleed_columns, box_of, times, wkb
from panelscan.layout.describe import PanelMeasures, describe_panels
from panelscan.layout.shapes import PanelShape
from panelscan.model.panel import Panel
from panelscan.model.record import PageRecord


def panel_rows(record: PageRecord, size: FrameSize) -> Iterator[Row]:
    """Rows of a page's panels, in reading order.

    Parameters
    ----------
    record : PageRecord
        The page.
    size : FrameSize
        Its frame.
    """
    place = {index: k for k, index in enumerate(record.layout.order)}
    told = describe_panels(record.layout, record.grid)
    for measures, index in zip(told, record.layout.order, strict=True):
        panel = record.finding.panels[index]
        share = record.grid.panels[measures.reading_order - 1].outline
        yield {
            "page_id": record.ref.page_id,
            "book": record.book,
            "source_path": record.ref.source_path,
            "source_index": record.ref.source_index,
            "page_number": record.page_number,
            "reading_order": measures.reading_order,
            "geometry": wkb(panel.outline),
            "bbox": box_of(panel.outline),
            "geometry_page": wkb(share),
            "confidence": panel.confidence,
            **_shape_columns(panel, measures, size),
            "corner_count": len(share.points),
            "tier": measures.tier,
            "place_in_tier": measures.place_in_tier,
            "is_full_tier": measures.is_full_tier,
            "is_inset": panel.host is not None,
            "host_order": None if panel.host is None else place[panel.host] + 1,
            "depth": panel.depth,
            **bleed_columns(panel.bleed),
            **_side_columns(panel, record),
            **_room_columns(panel),
            "burst": [wkb(b) for b in panel.burst],
        }


def _shape_columns(panel: Panel, told: PanelMeasures, size: FrameSize) -> Row:
    is_round = panel.shape_hint == "round" or told.shape == PanelShape.ROUND
    return {
        "area_share": told.area_share,
        "x_min_share": told.x_min_share,
        "y_min_share": told.y_min_share,
        "x_max_share": told.x_max_share,
        "y_max_share": told.y_max_share,
        "width_mm": times(told.x_max_share - told.x_min_share, size.width_mm),
        "height_mm": times(told.y_max_share - told.y_min_share, size.height_mm),
        "area_mm2": times(told.area_share, times(size.width_mm, size.height_mm)),
        "aspect": told.aspect,
        "shape": str(PanelShape.ROUND) if is_round else told.shape,
        "slant_deg": None if is_round else told.slant_deg,
    }


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
