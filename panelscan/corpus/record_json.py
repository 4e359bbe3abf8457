"""Pages as JSON, for the files of ``corrections/``.

Layout and grid are not written: they follow from the panels.
"""

from __future__ import annotations

import base64
import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from panelscan.layout.pages import grid_of, lay_out
from panelscan.model.grid import CutNode, Grid, PageLayout
from panelscan.model.outline import Outline, Point
from panelscan.model.page import PageEdge, PagePart, PageRef, ReadingDirection
from panelscan.model.panel import (
    Doubt,
    Ground,
    GroundKind,
    LetteringRoom,
    PageFinding,
    Panel,
    Reading,
    Side,
    SideState,
)
from panelscan.model.record import PageRecord
from panelscan.model.units import Resolution, ResolutionSource

Json = dict[str, Any]


def record_to_json(record: PageRecord) -> Json:
    """A page without its layout; its panels are told in reading order."""
    finding, ppi = record.finding, record.resolution
    place = {index: k for k, index in enumerate(record.layout.order)}
    return {
        "ref": dataclasses.asdict(record.ref),
        "book": record.book,
        "page_number": record.page_number,
        "width_px": record.width_px,
        "height_px": record.height_px,
        "resolution": None if ppi is None else [ppi.x_ppi, ppi.y_ppi, str(ppi.source)],
        "direction": str(record.direction),
        "direction_confidence": record.direction_confidence,
        "frame": finding.frame.points,
        "skew_deg": finding.skew_deg,
        "ground": [str(finding.ground.kind), list(finding.ground.rgb)],
        "panels": [_panel_to_json(finding.panels[k], place) for k in record.layout.order],
        "confidence": finding.confidence,
        "alternatives": [
            [r.probability, [p.outline.points for p in r.panels]] for r in finding.alternatives
        ],
        "doubts": [[d.kind, d.text, d.place] for d in finding.doubts],
        "balloons": [b.points for b in finding.balloons],
        "detector": finding.detector,
        "fold_x_px": finding.fold_x_px,
        "measures": finding.measures,
        "settings": record.settings,
        "notes": list(record.notes),
        "look": base64.b64encode(record.look).decode(),
    }


def record_from_json(told: Mapping[str, Any]) -> PageRecord:
    """A page from what `record_to_json` wrote, not laid out: its layout is only an order.

    Raises
    ------
    KeyError, TypeError, ValueError
        If the JSON is not such a page.
    """
    ref = dict(told["ref"])
    ref["part"] = PagePart(ref["part"])
    finding = PageFinding(
        frame=Outline.of(told["frame"]),
        skew_deg=told["skew_deg"],
        ground=Ground(GroundKind(told["ground"][0]), tuple(told["ground"][1])),
        panels=tuple(_panel_from_json(p) for p in told["panels"]),
        confidence=told["confidence"],
        # Records written before other readings were kept have none.
        alternatives=tuple(_reading(*r) for r in told.get("alternatives", ())),
        doubts=tuple(Doubt(k, t, _point(p)) for k, t, p in told["doubts"]),
        balloons=tuple(Outline.of(b) for b in told["balloons"]),
        detector=told["detector"],
        fold_x_px=told["fold_x_px"],
        measures=dict(told["measures"]),
    )
    return PageRecord(
        PageRef(**ref),
        told["book"],
        told["page_number"],
        told["width_px"],
        told["height_px"],
        _resolution(told["resolution"]),
        ReadingDirection(told["direction"]),
        told["direction_confidence"],
        finding,
        blank_layout(len(finding.panels)),
        Grid(()),
        dict(told["settings"]),
        tuple(told["notes"]),
        base64.b64decode(told["look"]),
    )


def blank_layout(count: int) -> PageLayout:
    """A layout of which only the order is known: that in which the panels stand."""
    order = tuple(range(count))
    return PageLayout(order, (), 1.0, (), (), CutNode("group", order), (), {})


def with_layout(record: PageRecord, order: Sequence[int] | None = None) -> PageRecord:
    """A page with the layout and grid that follow from its panels, perhaps in a known order."""
    finding, fold = record.finding, record.finding.fold_x_px
    panels, frame, direction = finding.panels, finding.frame, record.direction
    layout = lay_out(panels, frame, direction, fold_x=fold, order=order)
    grid = grid_of(panels, frame, layout, direction, fold_x=fold)
    return dataclasses.replace(record, layout=layout, grid=grid)


def _panel_to_json(panel: Panel, place: Mapping[int, int]) -> Json:
    room = panel.room
    return {
        "outline": panel.outline.points,
        "sides": [[str(s.state), s.support, s.border_px, s.wobble_px] for s in panel.sides],
        "confidence": panel.confidence,
        "bleed": sorted(map(str, panel.bleed)),
        "depth": panel.depth,
        "host": None if panel.host is None else place[panel.host],
        "shape_hint": panel.shape_hint,
        "burst": [b.points for b in panel.burst],
        "room": None
        if room is None
        else [room.free_top_share, room.lettered_share, room.ink_density],
    }


def _panel_from_json(told: Mapping[str, Any]) -> Panel:
    return Panel(
        # Not Outline.of: sides are told in the ring's own order.
        outline=Outline(tuple((float(x), float(y)) for x, y in told["outline"])),
        sides=tuple(Side(SideState(s), *rest) for s, *rest in told["sides"]),
        confidence=told["confidence"],
        bleed=frozenset(map(PageEdge, told["bleed"])),
        depth=told["depth"],
        host=told["host"],
        shape_hint=told["shape_hint"],
        burst=tuple(Outline.of(b) for b in told["burst"]),
        room=None if told["room"] is None else LetteringRoom(*told["room"]),
    )


def _reading(probability: float, outlines: Any) -> Reading:
    return Reading(tuple(Panel(Outline.of(o)) for o in outlines), float(probability))


def _resolution(told: Any) -> Resolution | None:
    return None if told is None else Resolution(told[0], told[1], ResolutionSource(told[2]))


def _point(told: Any) -> Point | None:
    return None if told is None else (float(told[0]), float(told[1]))
