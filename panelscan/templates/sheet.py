"""A sheet of small empty grids to print, rough on and scan back in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from panelscan.errors import UsageError
from panelscan.model.grid import Grid
from panelscan.model.outline import Point
from panelscan.model.sheet_record import (
    SheetEntry,
    SheetRecord,
    record_of,
    record_path,
    record_text,
)
from panelscan.model.thumbnail_sheet import (
    CODE_COLUMNS,
    LEAST_CELLS,
    MODULE_MM,
    MOST_CELLS,
    PAPERS,
    Box,
    SheetPlan,
    plan_sheet,
)
from panelscan.templates.layers import (
    BLACK,
    PALE_BLUE,
    WHITE,
    Fill,
    Layer,
    LayeredPage,
    LayerKey,
    Mark,
    Stroke,
)
from panelscan.templates.options import TemplateOptions
from panelscan.templates.strokes import text_strokes, text_width
from panelscan.templates.write import refuse_overwrite, write_whole

BORDER_MM = 0.3
PAGE_MM = 0.15
_TEXT_MM = 2.2
_GRAY = (120, 120, 120)
BORDER_GRAY = (85, 85, 85)
TICK_GAP_MM, TICK_MM = 0.6, 1.4


@dataclass(frozen=True)
class SheetReport:
    """A sheet that was written.

    Parameters
    ----------
    path : Path
        The sheet.
    record_path : Path
        The record of its grids, needed to link the roughs to them again.
    plan : SheetPlan
        Where everything lies.
    """

    path: Path
    record_path: Path
    plan: SheetPlan


def write_sheet(
    entries: Sequence[SheetEntry],
    out: Path,
    paper: str = "a4",
    records: Path | None = None,
    options: TemplateOptions | None = None,
) -> SheetReport:
    """Write a thumbnail sheet, and the record that links its cells to their grids.

    Parameters
    ----------
    entries : sequence of SheetEntry
        4 to 16 grids.
    out : Path
        ``.pdf``, ``.svg``, ``.png`` or ``.tif``.
    paper : str
        ``"a4"`` or ``"letter"``.
    records : Path, optional
        Folder whose ``sheets`` folder takes the record: the library. By default the folder
        of `out`.
    options : TemplateOptions, optional
        Resolution, and whether a file may be replaced.

    Raises
    ------
    UsageError
        If there are too few or too many grids, or paper or suffix are unknown.
    OutputExistsError, LibraryError
        As for `panelscan.templates.template.write_template`.
    """
    from panelscan.templates.template import WRITERS

    options = options or TemplateOptions()
    suffix = out.suffix.lower()
    if suffix not in WRITERS or suffix == ".ora":
        raise UsageError(
            f"{out}: a thumbnail sheet is not written as {suffix!r}.",
            "Use .pdf, .svg, .png or .tif.",
        )
    if paper not in PAPERS:
        raise UsageError(f"There is no paper {paper!r}.", f"Choose {' or '.join(PAPERS)}.")
    if not LEAST_CELLS <= len(entries) <= MOST_CELLS:
        raise UsageError(
            f"A thumbnail sheet takes {LEAST_CELLS} to {MOST_CELLS} grids, not {len(entries)}.",
            "Choose fewer, or write several sheets.",
        )
    refuse_overwrite(out, options.overwrite)
    record = record_of(entries)
    plan = plan_sheet(len(entries), entries[0].grid.aspect, paper, record.sheet_id)
    page = sheet_page(plan, record)
    per_mm = options.ppi / 25.4
    size_px = (round(plan.size_mm[0] * per_mm), round(plan.size_mm[1] * per_mm))
    data = WRITERS[suffix](page, options, size_px)
    at = record_path(records or out.parent, plan.name)
    _write_record(at, record)
    write_whole(out, data, options.overwrite)
    return SheetReport(out, at, plan)


def _write_record(path: Path, record: SheetRecord) -> None:
    """The record's name follows from what is in it, so one that is there is the same."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, record_text(record).encode("utf-8"), overwrite=True)


def sheet_page(plan: SheetPlan, record: SheetRecord) -> LayeredPage:
    """The sheet as a layered page: paper, grids, marks."""
    w, h = plan.size_mm
    grids: list[Mark] = []
    marks: list[Mark] = [*_corner_marks(plan), *_codes(plan)]
    for n, (cell, entry) in enumerate(zip(plan.cells(), record.entries, strict=True)):
        grids += _thumbnail(entry.grid, cell)
        marks += _caption(n, cell, entry.caption)
    marks += _heading(plan)
    sheet = (0.0, 0.0, w, h)
    return LayeredPage(
        size_mm=(w, h),
        trim_box=sheet,
        bleed_box=sheet,
        layers=(
            Layer(LayerKey.PAPER, (Fill((_ring(sheet),), WHITE),)),
            Layer(LayerKey.BORDERS, tuple(grids)),
            Layer(LayerKey.SHEET_MARKS, tuple(marks)),
        ),
        title=f"Thumbnail sheet {plan.name}",
    )


def _ring(b: Box) -> tuple[Point, ...]:
    return (b[0], b[1]), (b[2], b[1]), (b[2], b[3]), (b[0], b[3])


def _corner_marks(plan: SheetPlan) -> list[Mark]:
    """Square marks 0 to 3 of a general-purpose marker dictionary, clockwise from top left."""
    import cv2

    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    marks: list[Mark] = []
    for number, (x0, y0, x1, _) in enumerate(plan.mark_boxes()):
        cells = cv2.aruco.generateImageMarker(dictionary, number, 6)
        side = (x1 - x0) / 6
        marks += _runs([[v == 0 for v in row] for row in cells.tolist()], x0, y0, side)
    return marks


def _runs(table: Sequence[Sequence[bool]], x0: float, y0: float, side: float) -> list[Mark]:
    """Black modules, neighbors in a row as one bar."""
    marks: list[Mark] = []
    for r, row in enumerate(table):
        start = None
        for c, black in enumerate([*row, False]):
            if black and start is None:
                start = c
            elif not black and start is not None:
                y = y0 + r * side
                box = (x0 + start * side, y, x0 + c * side, y + side)
                marks.append(Fill((_ring(box),), BLACK))
                start = None
    return marks


def _codes(plan: SheetPlan) -> list[Mark]:
    """The code above and below the cells, a black bar on its outer and inner side."""
    bits = plan.bits()
    table = [bits[r : r + CODE_COLUMNS] for r in range(0, len(bits), CODE_COLUMNS)]
    marks: list[Mark] = []
    for x0, y0, x1, _ in plan.code_boxes():
        marks += _runs(table, x0, y0, MODULE_MM)
        bar = (x0, y0 - 2 * MODULE_MM, x1, y0 - MODULE_MM)
        marks.append(Fill((_ring(bar),), BLACK))
    return marks


def _thumbnail(grid: Grid, cell: Box) -> list[Mark]:
    """The page's edge as ticks outside its corners and a pale hairline, and its panels."""
    x0, y0, x1, y1 = cell
    marks: list[Mark] = [Stroke(_ring(cell), PAGE_MM, PALE_BLUE, True)]
    for x, out_x in ((x0, -1), (x1, 1)):
        for y, out_y in ((y0, -1), (y1, 1)):
            level = ((x + out_x * TICK_GAP_MM, y), (x + out_x * (TICK_GAP_MM + TICK_MM), y))
            upright = ((x, y + out_y * TICK_GAP_MM), (x, y + out_y * (TICK_GAP_MM + TICK_MM)))
            marks += [Stroke(level, PAGE_MM, _GRAY), Stroke(upright, PAGE_MM, _GRAY)]
    for panel in grid.panels:
        points = tuple(
            (
                x0 + min(max(x, 0.0), 1.0) * (x1 - x0),
                y0 + min(max(y, 0.0), 1.0) * (y1 - y0),
            )
            for x, y in panel.outline.points
        )
        marks.append(Stroke(points, BORDER_MM, BORDER_GRAY, True))
    return marks


def _caption(number: int, cell: Box, caption: str) -> list[Mark]:
    """The cell's number and caption below it, shortened to its width."""
    text = fitted_caption(f"{number + 1}  {caption}".rstrip(), cell[2] - cell[0] - 1.0)
    strokes = text_strokes(text, (cell[0] + 1.0, cell[3] + 2.2), _TEXT_MM)
    return [Stroke(s, 0.22, _GRAY) for s in strokes]


def fitted_caption(text: str, width_mm: float) -> str:
    """A caption no wider than its cell: what stands after the last comma stays, if it can.

    Examples
    --------
    >>> fitted_caption("3  The Long Night Ferry, page 12", 45)
    '3  The Long N, page 12'
    """
    head, comma, tail = text.rpartition(",")
    if not comma or text_width(f"{text[:4]},{tail}", _TEXT_MM) > width_mm:
        head, comma, tail = text, "", ""
    while len(head) > 2 and text_width(head + comma + tail, _TEXT_MM) > width_mm:
        head = head[:-1].rstrip()
    return head + comma + tail


def _heading(plan: SheetPlan) -> list[Mark]:
    """The sheet's id and what to do, between the lower corner marks."""
    w, h = plan.size_mm
    text = f"Sheet {plan.name} - keep the corner marks clear, photograph all four"
    x = (w - text_width(text, _TEXT_MM)) / 2
    return [Stroke(s, 0.22, _GRAY) for s in text_strokes(text, (x, h - 11.4), _TEXT_MM)]
