"""A page to draw on or print: trim, bleed, live area, board, gutters and borders, in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from panelscan.model.page import ReadingDirection
from panelscan.model.units import MM_PER_INCH

Box = tuple[float, float, float, float]
PRINTER_DECIDES = "The printer's own sheet decides: compare it with these figures before printing."


class PageSide(StrEnum):
    """Where a page lies in the open book, seen from the front."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True)
class PageFormat:
    """A page to draw on or print, in millimetres.

    Parameters
    ----------
    name : str
        Short name typed on the command line.
    title : str
        Name for people.
    trim_mm : tuple of float
        Width and height of the finished page.
    bleed_mm : float
        How far art must run past the trim.
    live_mm : tuple of float
        Left, top, right and bottom distance of the live area from the trim, as on a
        right-hand page (whose binding edge is its left one).
    tier_gutter_mm, column_gutter_mm : float
        Usual gutters between tiers and between panels in a tier.
    border_mm : float
        Usual weight of a panel border.
    board_mm : tuple of float or None
        Sheet drawn on, where it is larger than the bleed; the trim lies in its middle.
    standing : str
        ``"standard"`` or ``"practice"``, with the source.
    safe_mm : tuple of float or None
        Like `live_mm`, for a wider box that lettering must stay in, where a sheet has one.
    spine_mm : float
        Extra distance that the live area keeps from the binding edge.
    side : PageSide or None
        Left- or right-hand page; None where that does not matter.
    spread : bool
        True for two facing pages as one sheet; `trim_mm` is then that of both together.
    least_ppi : float
        Lowest resolution usually asked for print, at printed size.
    reduction : float
        Printed length divided by length on this page: 1 for a page drawn at printed size,
        0.65 for a board that is reduced to 65 %.

    Raises
    ------
    ValueError
        If a size is not positive, or margins leave no live area.

    Examples
    --------
    >>> from panelscan.model.formats import US_PRINT
    >>> US_PRINT.live_size_mm
    (152.4, 228.6)
    >>> US_PRINT.pixel_size(300)
    (2063, 3150)
    """

    name: str
    title: str
    trim_mm: tuple[float, float]
    bleed_mm: float
    live_mm: Box
    tier_gutter_mm: float
    column_gutter_mm: float
    border_mm: float
    board_mm: tuple[float, float] | None = None
    standing: str = "practice"
    safe_mm: Box | None = None
    spine_mm: float = 0.0
    side: PageSide | None = None
    spread: bool = False
    least_ppi: float = 300.0
    reduction: float = 1.0

    def __post_init__(self) -> None:
        sizes = (*self.trim_mm, *(self.board_mm or ()))
        if not all(math.isfinite(v) and v > 0 for v in sizes):
            raise ValueError(f"{self.name}: a page needs a width and a height above 0 mm")
        lengths = (self.bleed_mm, self.tier_gutter_mm, self.column_gutter_mm, self.border_mm)
        if not all(math.isfinite(v) and v >= 0 for v in (*lengths, self.spine_mm)):
            raise ValueError(f"{self.name}: bleed, gutters and borders cannot be negative")
        if not 0.05 <= self.reduction <= 20:
            raise ValueError(f"{self.name}: a reduction lies between 0.05 and 20")
        if min(self.live_size_mm) <= 0:
            raise ValueError(f"{self.name}: the margins leave no live area")
        if self.board_mm is not None and any(
            b < t - 1e-6 for b, t in zip(self.board_mm, self.trim_mm, strict=True)
        ):
            raise ValueError(f"{self.name}: the board is smaller than the trim")

    @property
    def live_box_mm(self) -> Box:
        """Live area as ``(left, top, right, bottom)``, origin at the trim's top-left corner."""
        return _inside(self.trim_mm, self._margins(self.live_mm))

    @property
    def safe_box_mm(self) -> Box:
        """Box that lettering must stay in, in the trim's frame; the live area if not stated."""
        return _inside(self.trim_mm, self._margins(self.safe_mm or self.live_mm))

    @property
    def live_size_mm(self) -> tuple[float, float]:
        """Width and height of the live area."""
        left, top, right, bottom = self.live_box_mm
        return round(right - left, 9), round(bottom - top, 9)

    @property
    def bleed_box_mm(self) -> Box:
        """Bleed box in the trim's frame: it starts at negative figures."""
        b, (w, h) = self.bleed_mm, self.trim_mm
        return -b, -b, w + b, h + b

    @property
    def sheet_mm(self) -> tuple[float, float]:
        """Width and height of the sheet that a template fills: the board, or trim and bleed."""
        if self.board_mm is not None:
            return self.board_mm
        return self.trim_mm[0] + 2 * self.bleed_mm, self.trim_mm[1] + 2 * self.bleed_mm

    @property
    def trim_origin_mm(self) -> tuple[float, float]:
        """Place of the trim's top-left corner on the sheet."""
        (sw, sh), (tw, th) = self.sheet_mm, self.trim_mm
        return (sw - tw) / 2, (sh - th) / 2

    @property
    def fold_x_mm(self) -> float | None:
        """Where the fold of a spread lies in the trim's frame; None for a single page."""
        return self.trim_mm[0] / 2 if self.spread else None

    def pixel_size(self, ppi: float) -> tuple[int, int]:
        """Width and height in pixels of the whole sheet; part of a pixel counts as one."""
        w, h = (_ceil(v / MM_PER_INCH * ppi) for v in self.sheet_mm)
        return w, h

    def as_spread(self) -> PageFormat:
        """Two facing pages as one sheet: double the trim, the same outer margins.

        Examples
        --------
        >>> from panelscan.model.formats import US_PRINT
        >>> [round(v, 2) for v in US_PRINT.as_spread().trim_mm]
        [336.55, 260.35]
        """
        if self.spread:
            return self
        _, top, right, bottom = self.live_mm
        outer = (right, top, right, bottom)
        board = None
        if self.board_mm is not None:
            board = (self.board_mm[0] + self.trim_mm[0], self.board_mm[1])
        safe = None
        if self.safe_mm is not None:
            safe = (self.safe_mm[2], self.safe_mm[1], self.safe_mm[2], self.safe_mm[3])
        return replace(
            self,
            name=f"{self.name}-spread",
            title=f"{self.title}, spread",
            trim_mm=(2 * self.trim_mm[0], self.trim_mm[1]),
            live_mm=outer,
            board_mm=board,
            safe_mm=safe,
            spread=True,
            side=None,
        )

    def on_side(self, side: PageSide) -> PageFormat:
        """The same page as a left- or right-hand page: margins mirrored, spine margin added."""
        return self if self.spread else replace(self, side=side)

    def _margins(self, box: Box) -> Box:
        """Margins turned for the page's side, the spine's share on the binding edge."""
        left, top, right, bottom = box
        if self.spread or self.side is None:
            return left, top, right, bottom
        if self.side is PageSide.RIGHT:
            return left + self.spine_mm, top, right, bottom
        return right, top, left + self.spine_mm, bottom


def side_of_page(number: int, direction: ReadingDirection = ReadingDirection.LTR) -> PageSide:
    """Side of the open book on which a page lies, counting from page 1.

    Odd pages lie on the right of a book bound at the left (read left to right), and on the
    left of one bound at the right. Common practice, no source.

    Examples
    --------
    >>> side_of_page(1).value, side_of_page(1, ReadingDirection.RTL).value
    ('right', 'left')
    """
    odd = number % 2 == 1
    right = odd if direction is ReadingDirection.LTR else not odd
    return PageSide.RIGHT if right else PageSide.LEFT


@dataclass(frozen=True, slots=True)
class BoardFit:
    """How a board reduces to a printed page.

    Parameters
    ----------
    scale : float
        Printed length divided by length on the board.
    trim_on_board_mm, bleed_on_board_mm : tuple of float
        Size that trim and bleed would need on the board.
    bleed_fits : bool
        Whether art can run to the bleed on that board.
    """

    scale: float
    trim_on_board_mm: tuple[float, float]
    bleed_on_board_mm: tuple[float, float]
    bleed_fits: bool


def board_fit(board: PageFormat, printed: PageFormat, scale: float | None = None) -> BoardFit:
    """How drawing on `board` reduces to `printed`; the scale is read from the live boxes.

    Examples
    --------
    >>> from panelscan.model.formats import US_PRINT, format_named
    >>> fit = board_fit(format_named("us-board"), US_PRINT)
    >>> round(fit.scale, 4), fit.bleed_fits
    (0.6, False)
    """
    if scale is None:
        pairs = zip(printed.live_size_mm, board.live_size_mm, strict=True)
        scale = min(p / b for p, b in pairs)
    trim = (printed.trim_mm[0] / scale, printed.trim_mm[1] / scale)
    bleed = (trim[0] + 2 * printed.bleed_mm / scale, trim[1] + 2 * printed.bleed_mm / scale)
    fits = all(b <= s + 1e-6 for b, s in zip(bleed, board.sheet_mm, strict=True))
    return BoardFit(scale, trim, bleed, fits)


def _inside(size: tuple[float, float], margins: Box) -> Box:
    left, top, right, bottom = margins
    return left, top, size[0] - right, size[1] - bottom


def _ceil(value: float) -> int:
    """Round up, but not for float noise: 4125.0000001 is 4125, 2062.5 is 2063."""
    return math.ceil(value - 1e-6)
