"""Sides that nothing on the page shows, laid where the book's other pages have theirs.

Only sides without a line or an edge of tone move, and only a little: onto the edge of the
usual live area, or one usual gutter away from a neighbour whose side is seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from panelscan.vision.book_prior import BookPrior
from panelscan.vision.candidates import Candidate
from panelscan.vision.evidence import SideEvidence


@dataclass(frozen=True, slots=True)
class BookSideSettings:
    """Which sides are unseen, and how far they may move.

    Parameters
    ----------
    unseen, seen : float
        Share of a side with a wall, a shared line or the page's edge: at most, at least.
    reach : float
        Farthest move, in thousandths of the long side.
    upright : float
        Most that a side may lean, in shares of its length.
    """

    unseen: float = 0.25
    seen: float = 0.6
    reach: float = 16.0
    upright: float = 0.02


@dataclass(frozen=True, eq=False)
class _Side:
    """An upright or level side: panel, corner, axis it is measured on, outward sign, place."""

    panel: int
    corner: int
    axis: int
    sign: int
    place: float
    span: tuple[float, float]
    shown: float


def with_habits(
    panels: Sequence[Candidate],
    prior: BookPrior,
    size: tuple[int, int],
    unit: float,
    settings: BookSideSettings | None = None,
) -> list[Candidate]:
    """Panels with their unseen sides where the book usually has them.

    Parameters
    ----------
    panels : sequence of Candidate
        The chosen panels, in working pixels of the page frame.
    prior : BookPrior
    size : tuple of int
        Width and height of the working image.
    unit : float
        Working pixels in a thousandth of the long side.
    settings : BookSideSettings or None

    Returns
    -------
    list of Candidate
        In the same order.
    """
    s = settings or BookSideSettings()
    sides = [side for k, panel in enumerate(panels) for side in _sides(k, panel, s)]
    corners = [panel.corners.copy() for panel in panels]
    for side in sides:
        if side.shown > s.unseen:
            continue
        wanted = [w for w in _wanted(side, sides, prior, size, s) if w is not None]
        move = min((w - side.place for w in wanted), key=abs, default=0.0)
        if 0 < abs(move) <= s.reach * unit:
            ends = [side.corner, (side.corner + 1) % 4]
            corners[side.panel][ends, side.axis] += move
    return [
        panel if np.array_equal(ring, panel.corners) else replace(panel, corners=ring)
        for panel, ring in zip(panels, corners, strict=True)
    ]


def _sides(k: int, panel: Candidate, s: BookSideSettings) -> list[_Side]:
    """Upright and level sides of a panel of four corners."""
    ring = panel.corners
    if len(ring) != 4 or len(panel.sides) != 4:
        return []
    found = []
    for i in range(4):
        a, b = ring[i], ring[(i + 1) % 4]
        run = np.abs(b - a)
        axis = 0 if run[1] > run[0] else 1
        if run[axis] <= s.upright * run[1 - axis]:
            place = float((a[axis] + b[axis]) / 2)
            sign = 1 if place > ring[:, axis].mean() else -1
            low, high = sorted((float(a[1 - axis]), float(b[1 - axis])))
            found.append(_Side(k, i, axis, sign, place, (low, high), _shown(panel.sides[i])))
    return found


def _shown(side: SideEvidence) -> float:
    return float(min(1.0, side.wall + side.shared + side.bleed))


def _wanted(
    side: _Side, sides: list[_Side], prior: BookPrior, size: tuple[int, int], s: BookSideSettings
) -> list[float | None]:
    """Where habit has a side: at a neighbour's usual gutter, else on the live area's edge."""
    gutter = prior.gutter_share[side.axis]
    facing = [
        other
        for other in sides
        if (other.axis, other.sign) == (side.axis, -side.sign)
        and other.panel != side.panel
        and (other.place - side.place) * side.sign > 0
        and min(other.span[1], side.span[1]) > max(other.span[0], side.span[0])
    ]
    if facing:
        near = min(facing, key=lambda other: abs(other.place - side.place))
        if gutter is None or near.shown < s.seen:
            return []
        return [near.place - side.sign * gutter * size[side.axis]]
    live = prior.live_share[side.axis + (2 if side.sign > 0 else 0)]
    return [None if live is None else live * size[side.axis]]
