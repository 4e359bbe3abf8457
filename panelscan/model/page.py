"""A page before anything was found on it: where it comes from and its pixels."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.units import Resolution


class ReadingDirection(StrEnum):
    """Which way a book is read."""

    LTR = "ltr"
    RTL = "rtl"

    @property
    def mirrored(self) -> ReadingDirection:
        """The other direction."""
        return ReadingDirection.RTL if self is ReadingDirection.LTR else ReadingDirection.LTR


class PagePart(StrEnum):
    """What of the source image a page is."""

    WHOLE = "whole"
    LEFT = "left"
    RIGHT = "right"
    SPREAD = "spread"


class PageEdge(StrEnum):
    """The four edges of a page's trim, for bleeds and margins."""

    LEFT = "left"
    TOP = "top"
    RIGHT = "right"
    BOTTOM = "bottom"


@dataclass(frozen=True, slots=True)
class PageRef:
    """Which page this is, before and apart from its pixels.

    Parameters
    ----------
    source_path : str
        File as the person gave it (or found below a folder they gave), with ``/`` between parts.
    source_index : int
        Image inside a PDF, TIFF or archive, from 0; 0 for a plain image.
    content_sha256 : str
        Hash of the source image's bytes (for a PDF page: of its own objects and the dpi).
    part : PagePart
        Whole image, one half of facing pages, or a spread kept whole.
    member : str
        Name inside an archive, else empty.
    """

    source_path: str
    source_index: int = 0
    content_sha256: str = ""
    part: PagePart = PagePart.WHOLE
    member: str = ""

    @property
    def page_id(self) -> str:
        """Identity by content: same bytes and same part give the same id."""
        suffix = {"whole": "", "spread": "", "left": "-left", "right": "-right"}[self.part]
        return f"{self.content_sha256[:20]}{suffix}"

    @property
    def label(self) -> str:
        """How messages name the page."""
        place = self.member or (f"page {self.source_index + 1}" if self.source_index else "")
        half = f" ({self.part} half)" if self.part in (PagePart.LEFT, PagePart.RIGHT) else ""
        return f"{self.source_path}{': ' + place if place else ''}{half}"


@dataclass(frozen=True, eq=False)
class PageImage:
    """Pixels of one page, upright, alpha laid over white.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) gray or (M, N, 3) RGB
        M rows and N columns; as decoded, so perhaps smaller than the source.
    source_width_px, source_height_px : int
        Size of the whole upright source image at full size.
    reduction : float
        Source pixels per decoded pixel (1, 2, 4 or 8 for a JPEG decoded reduced).
    offset_px : tuple of float
        Place of the decoded array's top-left corner in the source image, in source pixels
        (not zero for the right half of facing pages).
    resolution : Resolution or None
        Of the source image at full size; None where nobody knows.
    notes : tuple of str
        What was repaired or assumed while reading.

    Notes
    -----
    A point at (x, y) of the decoded array, edges on whole numbers, lies at
    ``(offset_x + x * reduction, offset_y + y * reduction)`` of the source image.
    """

    pixels: np.ndarray
    source_width_px: int
    source_height_px: int
    reduction: float = 1.0
    offset_px: tuple[float, float] = (0.0, 0.0)
    resolution: Resolution | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.pixels.dtype != np.uint8 or self.pixels.ndim not in (2, 3) or not self.pixels.size:
            raise ValueError("a page image needs uint8 pixels of shape (M, N) or (M, N, 3)")
        if self.pixels.ndim == 3 and self.pixels.shape[2] != 3:
            raise ValueError("a colour page image needs three channels, RGB")

    @property
    def width_px(self) -> float:
        """Width of this page in source pixels."""
        return float(self.pixels.shape[1] * self.reduction)

    @property
    def height_px(self) -> float:
        """Height of this page in source pixels."""
        return float(self.pixels.shape[0] * self.reduction)

    def to_source(self, outline: Outline) -> Outline:
        """Outline in decoded pixels -> outline in source pixels."""
        dx, dy = self.offset_px
        return outline.scaled(self.reduction, self.reduction).moved(dx, dy)

    def to_decoded(self, outline: Outline) -> Outline:
        """Outline in source pixels -> outline in decoded pixels."""
        dx, dy = self.offset_px
        return outline.moved(-dx, -dy).scaled(1 / self.reduction, 1 / self.reduction)


@dataclass(frozen=True, slots=True)
class PageBoxes:
    """A PDF page's boxes in points, y up (ISO 32000, 14.11.2); None where not stated."""

    media_pt: tuple[float, float, float, float]
    crop_pt: tuple[float, float, float, float] | None = None
    bleed_pt: tuple[float, float, float, float] | None = None
    trim_pt: tuple[float, float, float, float] | None = None
    art_pt: tuple[float, float, float, float] | None = None
    rotation_deg: int = field(default=0)
