"""The layered page that all writers take: marks in millimetres on a sheet, layer by layer.

Nothing here knows a file format. The origin is the sheet's top-left corner, y runs down.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from panelscan.model.formats import Box
from panelscan.model.outline import Point

Colour = tuple[int, int, int]
WHITE: Colour = (255, 255, 255)
BLACK: Colour = (0, 0, 0)
NON_PHOTO_BLUE: Colour = (164, 221, 237)  # value from memory; drops out of a line-art scan
PALE_BLUE: Colour = (193, 231, 243)
DEEP_BLUE: Colour = (92, 172, 204)
MITRE_LIMIT = 10.0


class LayerKey(StrEnum):
    """The layers of a template, bottom to top."""

    PAPER = "paper"
    ROUGH_UNDERNEATH = "rough-underneath"
    LETTERING = "lettering-room"
    GUIDES = "guides"
    MASKS = "panel-masks"
    ROUGHS = "roughs"
    PENCILS = "pencils"
    INKS = "inks"
    BORDERS = "borders"
    NUMBERS = "order-numbers"
    SHEET_MARKS = "sheet-marks"


TITLES = {
    LayerKey.PAPER: "Paper",
    LayerKey.ROUGH_UNDERNEATH: "Rough underneath",
    LayerKey.LETTERING: "Lettering room",
    LayerKey.GUIDES: "Guides: trim, bleed, live area",
    LayerKey.MASKS: "Panel masks",
    LayerKey.ROUGHS: "Roughs",
    LayerKey.PENCILS: "Pencils",
    LayerKey.INKS: "Inks",
    LayerKey.BORDERS: "Panel borders",
    LayerKey.NUMBERS: "Reading order",
    LayerKey.SHEET_MARKS: "Marks to read the sheet back",
}
HELPERS = frozenset(
    {
        LayerKey.ROUGH_UNDERNEATH,
        LayerKey.LETTERING,
        LayerKey.GUIDES,
        LayerKey.MASKS,
        LayerKey.NUMBERS,
    }
)


@dataclass(frozen=True)
class Fill:
    """Filled area: one or more rings, none of which cross; a ring inside another is a hole."""

    rings: tuple[tuple[Point, ...], ...]
    colour: Colour = BLACK


@dataclass(frozen=True)
class Stroke:
    """A pen line with mitred joins and square-cut ends.

    Parameters
    ----------
    points : tuple of (x, y)
        Corners of the line, in order.
    width_mm : float
        Weight.
    colour : tuple of int
        sRGB, 0..255.
    closed : bool
        Whether the last corner joins the first.
    dash_mm : tuple of float
        Length of mark and gap; empty for a solid line.
    """

    points: tuple[Point, ...]
    width_mm: float
    colour: Colour = BLACK
    closed: bool = False
    dash_mm: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Picture:
    """Pixels laid into a box: uint8 of shape (M, N) gray or (M, N, 3) RGB."""

    pixels: np.ndarray
    box: Box


Mark = Fill | Stroke | Picture


@dataclass(frozen=True, eq=False)
class Layer:
    """One layer of the page.

    Parameters
    ----------
    key : LayerKey
        Which one.
    marks : tuple of Fill, Stroke or Picture
        From the bottom up; empty for a layer to draw on.
    visible : bool
        Whether it shows when the file is opened.
    """

    key: LayerKey
    marks: tuple[Mark, ...] = ()
    visible: bool = True

    @property
    def title(self) -> str:
        """Name of the layer for people."""
        return TITLES[self.key]

    @property
    def prints(self) -> bool:
        """Whether it belongs to the art; guides and other helpers do not print."""
        return self.key not in HELPERS


@dataclass(frozen=True, eq=False)
class LayeredPage:
    """A sheet with layers, bottom to top, and where trim and bleed lie on it.

    Parameters
    ----------
    size_mm : tuple of float
        Width and height of the sheet.
    trim_box, bleed_box : tuple of float
        ``(left, top, right, bottom)`` on the sheet.
    layers : tuple of Layer
        Bottom first.
    title : str
        Name for the file's metadata.
    """

    size_mm: tuple[float, float]
    trim_box: Box
    bleed_box: Box
    layers: tuple[Layer, ...]
    title: str = "Page"
