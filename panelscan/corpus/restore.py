"""A page as an object again, from its rows."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import shapely

from panelscan.corpus.record_json import blank_layout
from panelscan.model.grid import Grid
from panelscan.model.outline import Outline
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


def record_from_rows(page: Mapping[str, Any], panels: Sequence[Mapping[str, Any]]) -> PageRecord:
    """A page from its row and the rows of its panels, not laid out: its layout is an order.

    Parameters
    ----------
    page : mapping
        Row of the pages table.
    panels : sequence of mapping
        Rows of the panels table, in any order.
    """
    ordered = sorted(panels, key=lambda row: int(row["reading_order"]))
    rgb = page["ground_rgb"].lstrip("#")
    finding = PageFinding(
        frame=_outline(page["geometry"]),
        skew_deg=page["skew_deg"],
        ground=Ground(
            GroundKind(page["ground_kind"]),
            (int(rgb[0:2], 16), int(rgb[2:4], 16), int(rgb[4:6], 16)),
        ),
        panels=tuple(_panel(row) for row in ordered),
        confidence=page["confidence"],
        alternatives=_readings(page["readings"]),
        doubts=_doubts(page["doubts"]),
        balloons=tuple(_outline(b) for b in page["balloons"] or ()),
        detector=page["detector"] or "",
        fold_x_px=page["fold_x_px"],
    )
    ref = PageRef(
        page["source_path"],
        page["source_index"],
        page["content_sha256"],
        PagePart(page["part"]),
        page["source_member"] or "",
    )
    return PageRecord(
        ref,
        page["book"],
        page["page_number"],
        page["width_px"],
        page["height_px"],
        _resolution(page),
        ReadingDirection(page["direction"]),
        page["direction_confidence"],
        finding,
        blank_layout(len(ordered)),
        Grid(()),
        json.loads(page["settings"] or "{}"),
        tuple(page["notes"] or ()),
        page["look"] or b"",
    )


def _outline(wkb: bytes) -> Outline:
    """Outline with its ring exactly as stored, since sides are told in the ring's order."""
    ring = shapely.get_coordinates(shapely.get_exterior_ring(shapely.from_wkb(wkb)))
    return Outline(tuple((float(x), float(y)) for x, y in ring[:-1]))


def _panel(row: Mapping[str, Any]) -> Panel:
    count = len(row["side_states"] or ())
    blank = [None] * count
    sides = zip(
        row["side_states"] or (),
        row["side_support"] or (),
        row["side_border_px"] or blank,
        row["side_wobble_px"] or blank,
        strict=True,
    )
    host = row["host_order"]
    return Panel(
        _outline(row["geometry"]),
        tuple(Side(SideState(s), *rest) for s, *rest in sides),
        row["confidence"],
        frozenset(e for e in PageEdge if row[f"bleed_{e}"]),
        row["depth"],
        None if host is None else int(host) - 1,
        "round" if row["shape"] == "round" else "polygon",
        tuple(_outline(b) for b in row["burst"] or ()),
        _room(row),
    )


def _room(row: Mapping[str, Any]) -> LetteringRoom | None:
    if row["free_top_share"] is None:
        return None
    return LetteringRoom(row["free_top_share"], row["lettered_share"], row["ink_density"])


def _resolution(page: Mapping[str, Any]) -> Resolution | None:
    if page["x_ppi"] is None:
        return None
    return Resolution(page["x_ppi"], page["y_ppi"], ResolutionSource(page["resolution_source"]))


def _readings(text: str | None) -> tuple[Reading, ...]:
    return tuple(
        Reading(tuple(Panel(Outline.of(o)) for o in told["panels"]), told["probability"])
        for told in json.loads(text or "[]")
    )


def _doubts(text: str | None) -> tuple[Doubt, ...]:
    return tuple(
        Doubt(told["kind"], told["text"], tuple(told["place"]) if told["place"] else None)
        for told in json.loads(text or "[]")
    )
