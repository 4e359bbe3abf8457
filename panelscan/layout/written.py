"""The parts of a written grid: what the notation says, before it is drawn.

All lengths are percent of the page's width, along x and y alike, so a gutter of 2 is as
wide across as down. Angles are degrees, clockwise to the eye.
"""

from __future__ import annotations

from dataclasses import dataclass

from panelscan.model.page import PageEdge, ReadingDirection

DEFAULT_ASPECT = 2 / 3
DEFAULT_MARGINS = (5.0, 5.0, 5.0, 5.0)
DEFAULT_GUTTERS = (2.0, 2.0)


@dataclass(frozen=True)
class Joint:
    """A gutter between two parts: its own width where it differs, and its slant."""

    gap: float | None = None
    slant_deg: float = 0.0


@dataclass(frozen=True)
class Inset:
    """A panel inset in another, in percent of the host's box.

    ``corners`` holds x and y in turn; a plain inset has the four of a box.
    """

    corners: tuple[float, ...]
    is_box: bool = True
    round: bool = False
    insets: tuple[Inset, ...] = ()


@dataclass(frozen=True)
class Cell:
    """One panel.

    Parameters
    ----------
    bleed : frozenset of PageEdge
        Edges of the page that it runs off.
    round : bool
        An ellipse that fills its place.
    corners : tuple of float or None
        Its own corners, x and y in turn, in percent of the box of its place.
    insets : tuple of Inset
        Panels inset in it, in reading order.
    """

    bleed: frozenset[PageEdge] = frozenset()
    round: bool = False
    corners: tuple[float, ...] | None = None
    insets: tuple[Inset, ...] = ()


@dataclass(frozen=True)
class Split:
    """Parts one under the other (``rows``) or side by side, in reading order.

    Parameters
    ----------
    rows : bool
        True for tiers and stacks, False for a row.
    parts : tuple of Cell, Split, Loose or Wild
        At least one.
    sizes : tuple of float
        Heights (widths) against each other, gutters left out.
    joints : tuple of Joint
        Gutters between the parts, one fewer than parts.
    """

    rows: bool
    parts: tuple[Part, ...]
    sizes: tuple[float, ...]
    joints: tuple[Joint, ...]


@dataclass(frozen=True)
class Loose:
    """Panels that no straight cuts part: each with its box in percent of the block's box."""

    cells: tuple[Cell, ...]
    boxes: tuple[tuple[float, float, float, float], ...]


@dataclass(frozen=True)
class Wild:
    """A wildcard of a pattern.

    Parameters
    ----------
    least, most : int
        How many tiers (or columns) it may stand for.
    counts : tuple of int
        If not empty: a row with one of these numbers of panels.
    """

    least: int = 1
    most: int = 1
    counts: tuple[int, ...] = ()


Part = Cell | Split | Loose | Wild


@dataclass(frozen=True)
class WrittenPage:
    """A whole written grid.

    Parameters
    ----------
    body : Part
        The tiers.
    aspect : float
        Page width divided by height.
    margins : tuple of four floats
        Left, top, right, bottom, in percent of the width.
    gutters : tuple of two floats
        Width of gutters in a tier and between tiers, in percent of the page's width.
    direction : ReadingDirection
        Right to left: the first panel of a row stands at the right.
    read : tuple of int
        Reading order over the written panels, from 0, where it is given.
    fold : float or None
        Fold of facing pages, in percent of the width.
    sized : bool
        Sizes were written (a pattern without sizes leaves them open).
    """

    body: Part
    aspect: float = DEFAULT_ASPECT
    margins: tuple[float, float, float, float] = DEFAULT_MARGINS
    gutters: tuple[float, float] = DEFAULT_GUTTERS
    direction: ReadingDirection = ReadingDirection.LTR
    read: tuple[int, ...] = ()
    fold: float | None = None
    sized: bool = False
