"""A grid: the arrangement of a page's panels without its art; and the measures taken from it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from panelscan.model.outline import Outline, Point
from panelscan.model.page import PageEdge, ReadingDirection


@dataclass(frozen=True)
class GridPanel:
    """A panel of a grid, in page-relative units.

    Parameters
    ----------
    outline : Outline
        x in shares of the page's width, y in shares of its height, both 0..1 on the page
        (a bleed panel may reach slightly past).
    bleed : frozenset of PageEdge
        Page edges it runs off.
    host : int or None
        Place in the reading order (from 0) of the panel that it is inset in.
    depth : int
        0 for the back.
    """

    outline: Outline
    bleed: frozenset[PageEdge] = frozenset()
    host: int | None = None
    depth: int = 0


@dataclass(frozen=True)
class Grid:
    """An arrangement of panels, in reading order, in page-relative units.

    Parameters
    ----------
    panels : tuple of GridPanel
        In reading order.
    aspect : float
        Width of the page divided by its height.
    direction : ReadingDirection
        Which way it is read.
    fold : float or None
        Where the fold lies if these are facing pages kept as one, in shares of the width.

    Examples
    --------
    >>> left, right = Outline.box(0.05, 0.05, 0.48, 0.95), Outline.box(0.52, 0.05, 0.95, 0.95)
    >>> grid = Grid((GridPanel(left), GridPanel(right)), aspect=0.65)
    >>> grid.mirrored().panels[0].outline.bounds[0]
    0.52
    """

    panels: tuple[GridPanel, ...]
    aspect: float = 2 / 3
    direction: ReadingDirection = ReadingDirection.LTR
    fold: float | None = None

    def __post_init__(self) -> None:
        if not 0.01 <= self.aspect <= 100:
            raise ValueError("a page's aspect lies between 0.01 and 100")

    def __len__(self) -> int:
        return len(self.panels)

    def mirrored(self) -> Grid:
        """Mirror image: panels flipped left to right, same places in the order."""
        flip = {PageEdge.LEFT: PageEdge.RIGHT, PageEdge.RIGHT: PageEdge.LEFT}
        panels = tuple(
            replace(
                p,
                outline=p.outline.mirrored(1.0),
                bleed=frozenset(flip.get(e, e) for e in p.bleed),
            )
            for p in self.panels
        )
        fold = None if self.fold is None else 1.0 - self.fold
        return Grid(panels, self.aspect, self.direction.mirrored, fold)


class GutterKind(StrEnum):
    """Where a gutter lies: between tiers (it runs across), or between panels in a tier."""

    TIER = "tier"
    COLUMN = "column"


@dataclass(frozen=True)
class Gutter:
    """The strip between two panels that face each other, in the page's frame.

    Parameters
    ----------
    kind : GutterKind
        ``tier``: the strip runs across the page and parts tiers; ``column``: it runs down.
    panels : tuple of int
        Places in the reading order (from 0) of the two panels.
    strip : Outline or None
        The strip itself; None where the two sides touch (a shared line).
    width : float
        Mean width, in units of the frame (never negative).
    width_min, width_max : float
        Least and greatest width along the strip.
    length : float
        Length of the facing part.
    angle_deg : float
        Turn of the strip from level (tier) or upright (column), 0 for straight across or
        down; counterclockwise to the eye positive.
    wobble : float
        RMS distance of both sides from straight lines, in units of the frame.
    taper_deg : float
        Angle between the two sides; 0 where they are parallel.
    position_share : float
        Middle of the strip across its run: share of the page's height (tier) or width.
    """

    kind: GutterKind
    panels: tuple[int, int]
    strip: Outline | None
    width: float
    width_min: float
    width_max: float
    length: float
    angle_deg: float = 0.0
    wobble: float = 0.0
    taper_deg: float = 0.0
    position_share: float = 0.0


@dataclass(frozen=True)
class Tier:
    """Panels that stand side by side, in reading order (places in the order, from 0)."""

    panels: tuple[int, ...]
    y_min: float
    y_max: float


@dataclass(frozen=True)
class CutNode:
    """A node of the cut tree: a cut across (``rows``), down (``columns``), or a leaf.

    Parameters
    ----------
    cut : str
        ``"rows"``, ``"columns"``, ``"pages"`` (facing pages, parted at the fold),
        ``"panel"`` (leaf), ``"insets"`` (a host, then what is inset in it) or ``"group"``
        (no clean cut exists).
    panels : tuple of int
        All panels below (places in the order, from 0).
    children : tuple of CutNode
        Parts in reading order; empty for a leaf.
    """

    cut: str
    panels: tuple[int, ...]
    children: tuple[CutNode, ...] = ()


@dataclass(frozen=True)
class OrderChoice:
    """One reading order (indices into the panels given) and its probability."""

    order: tuple[int, ...]
    probability: float


@dataclass(frozen=True)
class Parting:
    """A place where readers part: after ``panel`` some go to ``first``, others to ``second``.

    Indices are places in the best order, from 0 (``panel`` is None where they part at the
    first panel); ``reason`` is a trade or research word: ``"blockage"``, ``"overlap"``,
    ``"separation"``, ``"stagger"``, ``"inset"``, ``"fold"`` or ``"grid"``; ``probability``
    is the share of readers who go to ``second``; ``place`` lies between the two panels.
    """

    panel: int | None
    first: int
    second: int
    reason: str
    probability: float
    place: Point = (0.0, 0.0)


@dataclass(frozen=True)
class PageLayout:
    """What a page's panels say as a layout; from ``panelscan.layout``.

    Lengths are in units of the frame in which the outlines were given (page pixels, or
    page-relative units scaled by the page's size).

    Parameters
    ----------
    order : tuple of int
        ``order[k]`` is the index of the panel read as number k + 1.
    alternatives : tuple of OrderChoice
        Other orders, most likely first.
    clarity : float
        0..1, how surely readers follow the best order.
    partings : tuple of Parting
        Where they part.
    tiers : tuple of Tier
        From top to bottom.
    cut_tree : CutNode
        Recursive cuts.
    gutters : tuple of Gutter
        Strips between facing panels.
    margins : dict of PageEdge to float
        Distance of the outermost panel side from the page's edge; 0 at a bleed.
    patterns : tuple of str
        Trade words that hold for the page, e.g. ``"regular grid"``, ``"splash"``.
    measures : dict of str to float
        Named figures (evenness, symmetry, density …), documented in ``layout/structure.py``.
    """

    order: tuple[int, ...]
    alternatives: tuple[OrderChoice, ...]
    clarity: float
    partings: tuple[Parting, ...]
    tiers: tuple[Tier, ...]
    cut_tree: CutNode
    gutters: tuple[Gutter, ...]
    margins: dict[PageEdge, float]
    patterns: tuple[str, ...] = ()
    measures: dict[str, float] = field(default_factory=dict)
