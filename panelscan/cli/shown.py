"""The record and the picture of a page for showing: from its file, or from the library."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from panelscan.errors import InputError

if TYPE_CHECKING:
    from panelscan.model.page import PageImage
    from panelscan.model.record import PageRecord
    from panelscan.pipeline.options import ScanOptions
    from panelscan.vision.trace import Trace


def look_again(
    name: str, library: Path | None, page: int, options: ScanOptions, trace: Trace | None
) -> tuple[PageRecord, PageImage]:
    """Record and pixels of a page.

    A page of the library is drawn as the library has it, corrections and all; its picture
    is read from where it was scanned.

    Raises
    ------
    InputError
        If the picture is no longer there.
    """
    from panelscan.pipeline.stages import look_at

    if library is None or Path(name).is_file():
        return look_at(name, page - 1, options, trace=trace)
    from panelscan.cli.pages import find_page
    from panelscan.corpus.store import Library

    shelf = Library.open(library)
    page_id, title = find_page(shelf, name)
    row = _row(shelf, page_id)
    if not Path(row["source_path"]).exists():
        raise InputError(
            f"{title}: its picture {row['source_path']} is no longer there.",
            "Bring it back, or scan the page where it lies now.",
        )
    part = row["part"] if row["part"] in ("left", "right") else None
    record, image = look_at(row["source_path"], row["source_index"], options, part, trace)
    return _as_stored(shelf, page_id, record), image


def _row(shelf: Any, page_id: str) -> dict[str, Any]:
    import pyarrow.compute as pc

    columns = ["source_path", "source_index", "part", "direction"]
    row: dict[str, Any] = shelf.pages(
        columns=columns, where=pc.field("page_id") == page_id
    ).to_pylist()[0]
    return row


def _as_stored(shelf: Any, page_id: str, record: PageRecord) -> PageRecord:
    """The record with the library's outlines and order in place of what was just found."""
    import pyarrow.compute as pc
    import shapely

    from panelscan.model.outline import Outline
    from panelscan.model.page import PageEdge
    from panelscan.model.panel import Panel

    bleeds = [f"bleed_{e}" for e in PageEdge]
    columns = ["reading_order", "geometry", "confidence", "depth", *bleeds]
    rows = shelf.panels(columns=columns, where=pc.field("page_id") == page_id).to_pylist()
    rows.sort(key=lambda r: r["reading_order"])
    panels = tuple(
        Panel(
            outline=Outline.from_shape(shapely.from_wkb(r["geometry"])),
            confidence=r["confidence"] if r["confidence"] is not None else 1.0,
            bleed=frozenset(e for e in PageEdge if r[f"bleed_{e}"]),
            depth=r["depth"] or 0,
        )
        for r in rows
    )
    finding = replace(record.finding, panels=panels)
    from panelscan.layout.pages import lay_out

    layout = lay_out(panels, finding.frame, record.direction, fold_x=finding.fold_x_px)
    return replace(
        record, finding=finding, layout=replace(layout, order=tuple(range(len(panels))))
    )
