"""A sheet of thumbnails: where its cells, corner marks and code lie, so that it reads back.

Both the writer and the reader work from this plan; lengths are millimetres from the sheet's
top-left corner. The code is our own: 64 bits that describe the sheet, with a check sum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Box = tuple[float, float, float, float]

PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
LEAST_CELLS, MOST_CELLS = 4, 16
MARGIN_MM = 9.0
MARK_MM = 12.0
MODULE_MM = 2.2
CODE_COLUMNS, CODE_ROWS = 40, 2
CAPTION_MM = 6.5
GAP_MM = 7.0
ID_BITS = 36
_VERSION = 1
_FIELDS = (("version", 4), ("paper", 2), ("columns", 3), ("rows", 3), ("count", 5), ("shape", 11))
_SHAPE_STEPS = 512.0


@dataclass(frozen=True)
class SheetPlan:
    """What a sheet of thumbnails holds, and where.

    Parameters
    ----------
    paper : str
        ``"a4"`` or ``"letter"``.
    columns, rows : int
        Cells across and down.
    count : int
        Cells that are used, row by row.
    aspect : float
        Width of a page divided by its height; kept to 1/512.
    sheet_id : int
        Below 2 to the 36; names the record of the sheet's grids.

    Raises
    ------
    ValueError
        If a figure does not fit the code.
    """

    paper: str
    columns: int
    rows: int
    count: int
    aspect: float
    sheet_id: int

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise ValueError(f"there is no paper {self.paper!r}; there are {', '.join(PAPERS)}")
        if not (1 <= self.columns <= 7 and 1 <= self.rows <= 7):
            raise ValueError("a sheet has one to seven cells across and down")
        if not 1 <= self.count <= min(MOST_CELLS, self.columns * self.rows):
            raise ValueError("a sheet's cells do not fit")
        if not 1 <= round(self.aspect * _SHAPE_STEPS) < 2048:
            raise ValueError("a page that narrow or wide cannot be put on a sheet")
        if not 0 <= self.sheet_id < 1 << ID_BITS:
            raise ValueError("a sheet's id has 36 bits")

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the paper."""
        return PAPERS[self.paper]

    @property
    def name(self) -> str:
        """The sheet's id as printed and as its record is called: nine letters of base 16."""
        return f"{self.sheet_id:09x}"

    def mark_boxes(self) -> tuple[Box, Box, Box, Box]:
        """Corner marks: top left, top right, bottom right, bottom left."""
        w, h = self.size_mm
        low, side = MARGIN_MM, MARK_MM
        right, bottom = w - MARGIN_MM - side, h - MARGIN_MM - side
        corners = ((low, low), (right, low), (right, bottom), (low, bottom))
        a, b, c, d = ((x, y, x + side, y + side) for x, y in corners)
        return a, b, c, d

    def code_boxes(self) -> tuple[Box, Box]:
        """The code's modules, twice: above and below the cells.

        A white row and a black bar, each one module high, lie above and below each.
        """
        w, h = self.size_mm
        wide, high = CODE_COLUMNS * MODULE_MM, CODE_ROWS * MODULE_MM
        x = (w - wide) / 2
        top = MARGIN_MM + MARK_MM - high - MODULE_MM
        bottom = h - MARGIN_MM - MARK_MM + MODULE_MM
        return (x, top, x + wide, top + high), (x, bottom, x + wide, bottom + high)

    def cells(self) -> tuple[Box, ...]:
        """The page's trim in each used cell, row by row."""
        w, h = self.size_mm
        top = MARGIN_MM + MARK_MM + 5.0
        area = (MARGIN_MM, top, w - MARGIN_MM, h - top)
        wide, high = thumbnail_size(self.columns, self.rows, self.aspect, area)
        step_x = (area[2] - area[0]) / self.columns
        step_y = (area[3] - area[1]) / self.rows
        boxes = []
        for k in range(self.count):
            x = area[0] + (k % self.columns + 0.5) * step_x - wide / 2
            y = area[1] + (k // self.columns) * step_y + (step_y - CAPTION_MM - high) / 2
            boxes.append((x, y, x + wide, y + high))
        return tuple(boxes)

    def bits(self) -> tuple[bool, ...]:
        """The code: 64 bits of description and 16 of check sum, row by row."""
        values = {
            "version": _VERSION,
            "paper": list(PAPERS).index(self.paper),
            "columns": self.columns,
            "rows": self.rows,
            "count": self.count,
            "shape": round(self.aspect * _SHAPE_STEPS),
        }
        number = 0
        for name, width in _FIELDS:
            number = number << width | values[name]
        number = number << ID_BITS | self.sheet_id
        number = number << 16 | _check_sum(number)
        total = CODE_COLUMNS * CODE_ROWS
        return tuple(bool(number >> (total - 1 - k) & 1) for k in range(total))


def plan_sheet(count: int, aspect: float, paper: str, sheet_id: int) -> SheetPlan:
    """A plan with the largest thumbnails that so many cells allow.

    Examples
    --------
    >>> plan = plan_sheet(6, 0.65, "a4", 17)
    >>> plan.columns, plan.rows, plan_of_bits(plan.bits()).sheet_id
    (3, 2, 17)
    """
    best, widest = (1, count), 0.0
    w, h = PAPERS.get(paper, PAPERS["a4"])
    top = MARGIN_MM + MARK_MM + 5.0
    for columns in range(1, 8):
        rows = math.ceil(count / columns)
        if rows > 7:
            continue
        area = (MARGIN_MM, top, w - MARGIN_MM, h - top)
        wide, _ = thumbnail_size(columns, rows, aspect, area)
        if wide > widest + 1e-6:
            best, widest = (columns, rows), wide
    kept = round(aspect * _SHAPE_STEPS) / _SHAPE_STEPS
    return SheetPlan(paper, best[0], best[1], count, kept, sheet_id)


def thumbnail_size(columns: int, rows: int, aspect: float, area: Box) -> tuple[float, float]:
    """Width and height of a page in a cell."""
    wide = (area[2] - area[0]) / columns - GAP_MM
    high = (area[3] - area[1]) / rows - CAPTION_MM - GAP_MM
    wide = min(wide, high * aspect)
    return wide, wide / aspect


def plan_of_bits(bits: tuple[bool, ...]) -> SheetPlan | None:
    """The plan that a code describes; None if its check sum or a figure is wrong."""
    if len(bits) != CODE_COLUMNS * CODE_ROWS:
        return None
    number = 0
    for bit in bits:
        number = number << 1 | bit
    number, found = number >> 16, number & 0xFFFF
    if _check_sum(number) != found:
        return None
    sheet_id = number & ((1 << ID_BITS) - 1)
    number >>= ID_BITS
    values = {}
    for name, width in reversed(_FIELDS):
        values[name] = number & ((1 << width) - 1)
        number >>= width
    if values["version"] != _VERSION or values["paper"] >= len(PAPERS):
        return None
    try:
        return SheetPlan(
            list(PAPERS)[values["paper"]],
            values["columns"],
            values["rows"],
            values["count"],
            values["shape"] / _SHAPE_STEPS,
            sheet_id,
        )
    except ValueError:
        return None


def _check_sum(number: int) -> int:
    """CRC-16 with the polynomial 0x1021 and start 0xFFFF (the CCITT one) over 8 bytes."""
    crc = 0xFFFF
    for byte in number.to_bytes(8, "big"):
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021 if crc & 0x8000 else crc << 1) & 0xFFFF
    return crc
