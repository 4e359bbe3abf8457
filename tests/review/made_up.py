"""Made-up pages with drawn frames, and libraries of them, for the review page's tests."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from panelscan.corpus.record_json import blank_layout, with_layout
from panelscan.corpus.store import Library
from panelscan.model.grid import Grid
from panelscan.model.outline import Outline
from panelscan.model.page import PagePart, PageRef, ReadingDirection
from panelscan.model.panel import (
    Doubt,
    Ground,
    GroundKind,
    LetteringRoom,
    PageFinding,
    Panel,
    Reading,
    Side,
)
from panelscan.model.record import PageRecord
from panelscan.model.units import Resolution

WIDTH, HEIGHT = 800, 1200
BORDER, GUTTER, MARGIN = 4, 20, 60
Box = tuple[float, float, float, float]


def tiers(*counts: int) -> list[Box]:
    """Boxes of a page of tiers, along the middle of their borders."""
    tall = (HEIGHT - 2 * MARGIN - GUTTER * (len(counts) - 1)) / len(counts)
    boxes = []
    for t, count in enumerate(counts):
        wide = (WIDTH - 2 * MARGIN - GUTTER * (count - 1)) / count
        for c in range(count):
            x, y = MARGIN + c * (wide + GUTTER), MARGIN + t * (tall + GUTTER)
            boxes.append((round(x), round(y), round(x + wide), round(y + tall)))
    return boxes


def draw(path: Path, boxes: Sequence[Box]) -> None:
    """A page with these frames drawn on it and a little art in each."""
    page = np.full((HEIGHT, WIDTH), 255, np.uint8)
    for k, (x0, y0, x1, y1) in enumerate(boxes):
        half = BORDER // 2
        outer = (slice(int(y0) - half, int(y1) + half), slice(int(x0) - half, int(x1) + half))
        inner = (slice(int(y0) + half, int(y1) - half), slice(int(x0) + half, int(x1) - half))
        page[outer] = 0
        page[inner] = 255
        middle = (int((x0 + x1) / 2), int(y0 + 0.7 * (y1 - y0)))
        cv2.circle(page, middle, int(min(x1 - x0, y1 - y0) / 6), 60 + 9 * (k % 12), -1)
    cv2.imwrite(str(path), page)


def record(
    path: Path,
    book: str,
    number: int,
    boxes: Sequence[Box],
    *,
    confidence: float = 0.8,
    readings: Sequence[Sequence[Box]] = (),
    fold_x: float | None = None,
    content: str = "",
) -> PageRecord:
    """A page on which these boxes were found."""
    panels = tuple(
        Panel(Outline.box(*b), (Side(),) * 4, 0.9, room=LetteringRoom(0.3, 0.1, 0.1)) for b in boxes
    )
    finding = PageFinding(
        frame=Outline.box(0, 0, WIDTH, HEIGHT),
        skew_deg=0.0,
        ground=Ground(GroundKind.WHITE, (255, 255, 255)),
        panels=panels,
        confidence=confidence,
        alternatives=tuple(
            Reading(tuple(Panel(Outline.box(*b)) for b in other), 0.3) for other in readings
        ),
        doubts=(Doubt("close-second", "Another reading is nearly as likely.", (90.0, 90.0)),),
        detector="made up",
        fold_x_px=fold_x,
    )
    part = PagePart.SPREAD if fold_x else PagePart.WHOLE
    sha = hashlib.sha256((content or f"{book}/{number}").encode()).hexdigest()
    return with_layout(
        PageRecord(
            PageRef(path.as_posix(), 0, sha, part),
            book,
            number,
            WIDTH,
            HEIGHT,
            Resolution(120.0, 120.0),
            ReadingDirection.LTR,
            1.0,
            finding,
            blank_layout(len(panels)),
            Grid(()),
        )
    )


def small_library(folder: Path) -> tuple[Library, list[str]]:
    """A book of five pages; the second is wrong in two ways. Also the pages' ids.

    1. as drawn: 2-1-2. 2. drawn 2-2-1, its first two panels found as one. 3. drawn 2-1-2,
    the panel in the middle missed; another reading has it. 4. a spread. 5. like the first.
    """
    pictures = folder / "pictures"
    pictures.mkdir()
    drawn = [tiers(2, 1, 2), tiers(2, 2, 1), tiers(2, 1, 2), tiers(2, 2), tiers(2, 1, 2)]
    found = [list(boxes) for boxes in drawn]
    a, b = drawn[1][:2]
    found[1] = [(a[0], a[1], b[2], b[3]), *drawn[1][2:]]
    del found[2][2]
    records = []
    for k, (boxes, seen) in enumerate(zip(drawn, found, strict=True), start=1):
        path = pictures / f"page_{k}.png"
        draw(path, boxes)
        records.append(
            record(
                path,
                "Kelp <b>&",
                k,
                seen,
                confidence=1 - k / 10 if k > 1 else 0.95,
                readings=[boxes] if seen != boxes else (),
                fold_x=WIDTH / 2 if k == 4 else None,
            )
        )
    library = Library.create(folder / "shelf")
    library.commit_book("Kelp <b>&", records)
    return library, [r.ref.page_id for r in records]


def outlines(library: Library, page_id: str) -> list[Outline]:
    """Outlines in reading order, as the Parquet files hold them after settling."""
    import shapely

    library.settle()
    table = library.panels(columns=["page_id", "reading_order", "geometry"])
    rows = [r for r in table.to_pylist() if r["page_id"] == page_id]
    rows.sort(key=lambda r: r["reading_order"])
    return [Outline.from_shape(shapely.from_wkb(r["geometry"])) for r in rows]


def row_of(library: Library, page_id: str, table: str = "pages") -> dict:
    """A page's row, as the Parquet file holds it after settling."""
    library.settle()
    rows = library.table(table).to_pylist()
    return next(r for r in rows if r["page_id"] == page_id)


def kinds(library: Library, page_id: str) -> list[str]:
    """What was said of a page, by the names of the corrections' classes."""
    return [type(e.correction).__name__ for e in library.page(page_id).entries]
