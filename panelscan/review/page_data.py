"""What the desk shows of one page, as plain JSON."""

from __future__ import annotations

from statistics import median
from typing import Any

from panelscan.corpus.amend import PageState
from panelscan.corpus.corrections import Entry
from panelscan.corpus.labels import labels_now
from panelscan.corpus.store import Library
from panelscan.model.correction import Undo
from panelscan.model.correction_kinds import BY_CLASS
from panelscan.model.grid import GutterKind
from panelscan.model.outline import Outline, Point
from panelscan.model.page import PageImage
from panelscan.model.panel import Panel
from panelscan.model.record import PageRecord


def ring(outline: Outline) -> list[list[float]]:
    """Corners in source pixels, to a hundredth."""
    return [[round(x, 2), round(y, 2)] for x, y in outline.points]


def page_data(
    library: Library, page_id: str, image: PageImage, book: str | None = None
) -> dict[str, Any]:
    """A page as it stands.

    Parameters
    ----------
    library : Library
        The library.
    page_id : str
        The page.
    image : PageImage
        Its pixels, for the place of the picture in source pixels.
    book : str or None
        The page's book where it is known, which saves looking it up.

    Returns
    -------
    dict
        Outlines in source pixels, panels in reading order.
    """
    state = library.page(page_id, book)
    record = state.record
    x, y = image.offset_px
    return {
        "id": page_id,
        "name": f"{record.book}, page {record.page_number}",
        "book": record.book,
        "picture": [x, y, image.width_px, image.height_px],
        "revision": state.revision,
        "reviewed": state.reviewed,
        "direction": record.direction.value,
        "doubt": 0 if state.reviewed else round(100 * (1 - record.finding.confidence)),
        "frame": ring(record.finding.frame),
        "fold": record.finding.fold_x_px,
        "pattern": tier_pattern(record),
        "panels": [
            _panel(key, record.finding.panels[index])
            for key, index in zip(state.keys, record.layout.order, strict=True)
        ],
        "gutters": [ring(g.strip) for g in record.layout.gutters if g.strip is not None],
        "readings": [
            {"probability": round(r.probability, 3), "panels": [ring(p.outline) for p in r.panels]}
            for r in state.newest.finding.alternatives
        ],
        "doubts": [{"text": d.text, "place": d.place} for d in record.finding.doubts],
        "labels": _labels(library, page_id),
        "history": history(state),
    }


def _panel(key: str, panel: Panel) -> dict[str, Any]:
    room = panel.room
    return {
        "key": key,
        "ring": ring(panel.outline),
        "sides": [side.state.value for side in panel.sides],
        "bleed": sorted(edge.value for edge in panel.bleed),
        "confidence": round(panel.confidence, 3),
        "room": round(room.free_top_share, 3) if room else None,
    }


def usual_gutter_px(record: PageRecord, start: Point, end: Point) -> float:
    """Median width of the page's gutters that run as a line does; 0 where there are none."""
    level = abs(end[0] - start[0]) >= abs(end[1] - start[1])
    kind = GutterKind.TIER if level else GutterKind.COLUMN
    gutters = record.layout.gutters
    widths = [g.width for g in gutters if g.kind is kind and g.strip is not None]
    widths = widths or [g.width for g in gutters if g.strip is not None]
    return float(median(widths)) if widths else 0.0


def tier_pattern(record: PageRecord) -> str:
    """Panels in each tier from the top, e.g. ``2-1-3``."""
    return "-".join(str(len(tier.panels)) for tier in record.layout.tiers)


def _labels(library: Library, page_id: str) -> dict[str, str]:
    told = labels_now(library.place).by_page
    return {name: str(v[page_id]) for name, v in told.items() if v.get(page_id)}


def history(state: PageState) -> list[dict[str, Any]]:
    """Every correction in words, oldest first, and whether it still counts.

    ``group`` is the first revision of the action that it belongs to: what was done together
    is taken back together, and since it is on record also after the server was started anew.
    """
    counts = counted(state.entries)
    return [
        {"revision": e.revision, "words": BY_CLASS[type(e.correction)].words, "who": e.who,
         "at": e.at, "counts": e.revision in counts, "group": e.action,
         "undo": isinstance(e.correction, Undo),
         "of": e.correction.revision if isinstance(e.correction, Undo) else None}
        for e in state.entries
    ]


def counted(entries: tuple[Entry, ...]) -> set[int]:
    """Revisions that count: an undoing takes its correction away, unless it was undone itself."""
    live = {e.revision for e in entries}
    for entry in reversed(entries):
        if isinstance(entry.correction, Undo) and entry.revision in live:
            live.discard(entry.correction.revision)
    return live
