"""What can be asked of a template, checked when it is made."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from panelscan.errors import UsageError
from panelscan.model.outline import Outline
from panelscan.templates.layers import LayerKey

RESOLUTIONS = (300, 400, 600, 1200)


class InkMode(StrEnum):
    """How pixels are stored: black and white only, gray, or colour."""

    BLACK_AND_WHITE = "bw"
    GRAY = "gray"
    COLOUR = "colour"


class RoughPlace(StrEnum):
    """What of the new page an artist's rough is laid onto."""

    TRIM = "trim"
    BLEED = "bleed"
    LIVE = "live"
    SHEET = "sheet"
    PANELS = "panels"


@dataclass(frozen=True, eq=False)
class Rough:
    """An image of the artist's, to be laid underneath and lightened.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3)
        The image, rows down.
    onto : RoughPlace
        ``panels`` lays it so that `panels` fall on the template's panels as well as a shift
        and a stretch can; the others lay `frame` onto that box.
    frame : Outline or None
        Four corners of the page inside the image, in its pixels; the whole image if None.
    panels : tuple of Outline
        Panels of the rough in its pixels, in reading order (for ``panels``).
    lightness : float
        0 leaves it as it is, 1 makes it white.
    """

    pixels: np.ndarray
    onto: RoughPlace = RoughPlace.TRIM
    frame: Outline | None = None
    panels: tuple[Outline, ...] = ()
    lightness: float = 0.65

    def __post_init__(self) -> None:
        if self.pixels.dtype != np.uint8 or self.pixels.ndim not in (2, 3) or not self.pixels.size:
            raise ValueError("a rough needs uint8 pixels of shape (M, N) or (M, N, 3)")
        if not 0.0 <= self.lightness <= 1.0:
            raise ValueError("lightness is a share from 0 to 1")
        if self.frame is not None and len(self.frame.points) != 4:
            raise ValueError("a page's frame in a picture has four corners")
        if self.onto is RoughPlace.PANELS and not self.panels:
            raise ValueError("to lay a rough onto the panels, its own panels are needed")


@dataclass(frozen=True, eq=False)
class TemplateOptions:
    """How a template is written.

    Parameters
    ----------
    ppi : int
        300, 400, 600 or 1200; also sets how fine a rough is stored in a PDF or SVG.
    ink : InkMode
        For PNG and TIFF; OpenRaster is always colour, PDF and SVG keep colours.
    border_mm, tier_gutter_mm, column_gutter_mm : float or None
        Instead of the page format's.
    words : tuple of int
        Words in each panel, in reading order, where a scene is given: they size the
        lettering room. Panels beyond the list get the usual top third.
    rough : Rough or None
        Laid underneath.
    numbers, lettering, guides, masks : bool
        Whether to make those layers.
    layers : frozenset of LayerKey
        If not empty, only these.
    overwrite : bool
        Whether a file that is there may be replaced.
    title : str
        Name for the file's metadata.

    Raises
    ------
    UsageError
        If a figure cannot be.
    """

    ppi: int = 600
    ink: InkMode = InkMode.COLOUR
    border_mm: float | None = None
    tier_gutter_mm: float | None = None
    column_gutter_mm: float | None = None
    words: tuple[int, ...] = ()
    rough: Rough | None = None
    numbers: bool = True
    lettering: bool = True
    guides: bool = True
    masks: bool = False
    layers: frozenset[LayerKey] = field(default_factory=frozenset)
    overwrite: bool = False
    title: str = ""

    def __post_init__(self) -> None:
        if self.ppi not in RESOLUTIONS:
            listed = ", ".join(str(r) for r in RESOLUTIONS)
            raise UsageError(
                f"Templates are not made at {self.ppi} dpi.", f"Choose one of {listed}."
            )
        for name in ("border_mm", "tier_gutter_mm", "column_gutter_mm"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and 0 <= value <= 100):
                what = name.removesuffix("_mm").replace("_", " ")
                raise UsageError(f"A {what} of {value} mm is not possible.", "Give 0 to 100 mm.")
        if any(w < 0 for w in self.words):
            raise UsageError("A panel cannot have fewer than no words.")
