"""What a person changes on a page: one small value for each kind of correction.

Panels are named by keys that stay the same whatever is corrected: ``d0``, ``d1`` … for the
panels of the detection (their index in ``PageFinding.panels``), ``n4`` for the panel that
revision 4 added or merged, ``n4a`` and ``n4b`` for the halves that it split. Places are
source pixels of the upright image, like outlines.
"""

from __future__ import annotations

from dataclasses import dataclass

from panelscan.model.outline import Outline, Point
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import SideState


@dataclass(frozen=True, slots=True)
class MoveCorner:
    """Corner ``corner`` (from 0) of a panel lies at ``to``."""

    panel: str
    corner: int
    to: Point


@dataclass(frozen=True, slots=True)
class SetOutline:
    """A panel has this outline."""

    panel: str
    outline: Outline


@dataclass(frozen=True, slots=True)
class AddPanel:
    """There is a panel that was not found."""

    outline: Outline


@dataclass(frozen=True, slots=True)
class DeletePanel:
    """There is no such panel."""

    panel: str


@dataclass(frozen=True, slots=True)
class SplitPanel:
    """A panel is two, on both sides of the straight line through two points.

    Parameters
    ----------
    gutter_px : float
        Width of the gutter between the two, half of it on each side of the line.
    """

    panel: str
    start: Point
    end: Point
    gutter_px: float = 0.0


@dataclass(frozen=True, slots=True)
class MergePanels:
    """Panels are one; the gutters between them belong to it."""

    panels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reorder:
    """Panels are read in this order; panels not named keep their place among the rest."""

    order: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetDirection:
    """The page is read this way."""

    direction: ReadingDirection


@dataclass(frozen=True, slots=True)
class SetPageFrame:
    """The page lies here in the image."""

    outline: Outline


@dataclass(frozen=True, slots=True)
class SetPageFormat:
    """The page frame is this large, so lengths in millimetres follow from it."""

    name: str
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        if not (1 <= self.width_mm <= 5000 and 1 <= self.height_mm <= 5000):
            raise ValueError("a page is between 1 and 5000 mm wide and high")


@dataclass(frozen=True, slots=True)
class SetFold:
    """The fold of the spread lies at ``x_px``; None: the picture shows a single page."""

    x_px: float | None

    def __post_init__(self) -> None:
        if self.x_px is not None and not abs(self.x_px) <= 1e6:
            raise ValueError("a fold lies on the page")


@dataclass(frozen=True, slots=True)
class SetSideState:
    """A side (from corner ``side`` to the next, from 0) of a panel is drawn, inferred, …."""

    panel: str
    side: int
    state: SideState


@dataclass(frozen=True, slots=True)
class PageIsFine:
    """A person has looked at the page: everything is right as it stands."""


@dataclass(frozen=True, slots=True)
class Undo:
    """The correction of revision ``revision`` no longer counts (of an undoing: counts again)."""

    revision: int


Correction = (
    MoveCorner
    | SetOutline
    | AddPanel
    | DeletePanel
    | SplitPanel
    | MergePanels
    | Reorder
    | SetDirection
    | SetPageFrame
    | SetPageFormat
    | SetFold
    | SetSideState
    | PageIsFine
    | Undo
)
