"""A panel as it was found on a page, and all that was found on one page."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from panelscan.model.outline import Outline, Point
from panelscan.model.page import PageEdge


class SideState(StrEnum):
    """How a side of a panel is known."""

    DRAWN = "drawn"
    INFERRED = "inferred"
    BLEED = "bleed"
    SHARED = "shared"


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a panel, from corner i to corner i + 1 of its outline.

    Parameters
    ----------
    state : SideState
        Drawn (a line or a clear edge of tone lies there), inferred, bleed, or shared
        (one line serves two panels).
    support : float
        Share of the side's length with evidence beneath it, 0..1.
    border_px : float or None
        Width of the drawn border line in source pixels; None where no line is drawn.
    wobble_px : float or None
        RMS distance of the drawn line from the straight side, in source pixels.
    """

    state: SideState = SideState.DRAWN
    support: float = 1.0
    border_px: float | None = None
    wobble_px: float | None = None

    def __post_init__(self) -> None:
        if not 0.0 <= self.support <= 1.0:
            raise ValueError("support is a share from 0 to 1")


@dataclass(frozen=True, slots=True)
class LetteringRoom:
    """Where lettering lies or would fit in a panel (approximate).

    Parameters
    ----------
    free_top_share : float
        Height of the calm strip below the panel's top side, as a share of the panel's height.
    lettered_share : float
        Share of the panel's area covered by balloons and captions that were found.
    ink_density : float
        Share of dark or busy pixels in the panel, 0 (empty) to 1.
    """

    free_top_share: float
    lettered_share: float
    ink_density: float


@dataclass(frozen=True)
class Panel:
    """One panel found on a page, in source pixels.

    Parameters
    ----------
    outline : Outline
        The frame: centre line of the drawn border, or the edge of the art where there is
        none; straight on through parts hidden by figures, clipped at the trim.
    sides : tuple of Side
        One per corner of the outline, in ring order.
    confidence : float
        Probability that the outline is right (IoU at least 0.9), 0..1.
    bleed : frozenset of PageEdge
        Edges of the page that the panel runs off.
    depth : int
        0 for the back; a panel that lies over another has a greater depth.
    host : int or None
        Index (in the finding's tuple) of the panel that this one is inset in.
    shape_hint : str
        ``"polygon"`` or ``"round"`` (an ellipse or rounded frame traced by many corners).
    burst : tuple of Outline
        Parts of the art that stick out over the border.
    room : LetteringRoom or None
        Lettering room, where it was looked for.
    """

    outline: Outline
    sides: tuple[Side, ...] = ()
    confidence: float = 1.0
    bleed: frozenset[PageEdge] = frozenset()
    depth: int = 0
    host: int | None = None
    shape_hint: str = "polygon"
    burst: tuple[Outline, ...] = ()
    room: LetteringRoom | None = None

    def __post_init__(self) -> None:
        if self.sides and len(self.sides) != len(self.outline.points):
            raise ValueError("a panel needs one side per corner")
        if not 0.0 <= self.confidence <= 1.0:
            raise ValueError("confidence is a probability from 0 to 1")


class GroundKind(StrEnum):
    """What lies between the panels."""

    WHITE = "white"
    TINTED = "tinted"
    COLOUR = "colour"
    BLACK = "black"


@dataclass(frozen=True, slots=True)
class Ground:
    """Colour of the page between its panels (the gutters' colour).

    Parameters
    ----------
    kind : GroundKind
        Coarse name of the colour.
    rgb : tuple of int
        Median sRGB colour, 0..255.
    """

    kind: GroundKind
    rgb: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Doubt:
    """A place on the page, or a matter, that a person should look at.

    Parameters
    ----------
    kind : str
        Short machine word, e.g. ``"inferred-side"``, ``"close-second"``, ``"no-panels"``.
    text : str
        One sentence for a person.
    place : tuple of float or None
        Point in source pixels.
    """

    kind: str
    text: str
    place: Point | None = None


@dataclass(frozen=True)
class Reading:
    """One consistent set of panels for a page, and how likely it is among the readings kept."""

    panels: tuple[Panel, ...]
    probability: float


@dataclass(frozen=True)
class PageFinding:
    """All that was found on one page, in source pixels of the upright image.

    Parameters
    ----------
    frame : Outline
        The page itself inside the image (four corners); the whole image where the page
        fills it.
    skew_deg : float
        Angle by which the page is turned, counterclockwise to the eye positive.
    ground : Ground
        Colour between the panels.
    panels : tuple of Panel
        In no particular order; ``Panel.host`` indexes this tuple.
    confidence : float
        Probability that the page is right as a whole.
    alternatives : tuple of Reading
        Other sets of panels, most likely first.
    doubts : tuple of Doubt
        Where a person should look.
    balloons : tuple of Outline
        Balloons and captions found (approximate).
    detector : str
        Name and version of what found them.
    fold_x_px : float or None
        Where the fold of a kept spread lies.
    """

    frame: Outline
    skew_deg: float
    ground: Ground
    panels: tuple[Panel, ...]
    confidence: float
    alternatives: tuple[Reading, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    balloons: tuple[Outline, ...] = ()
    detector: str = ""
    fold_x_px: float | None = None
    measures: dict[str, float] = field(default_factory=dict)
