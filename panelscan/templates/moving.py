"""Moving the sides of a grid's panels: lines keep their direction, corners follow.

Each side is a line; a shift moves it along its outward normal. Shifts of all sides of all
panels form one vector, on which gutters, alignments and anchors are linear equations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from panelscan.layout.sides import Facing, PanelSide
from panelscan.model.grid import GridPanel
from panelscan.model.outline import Outline, Point
from panelscan.model.page import PageEdge

FREE_FORM_CORNERS = 12
_OUTWARD: dict[PageEdge, Point] = {
    PageEdge.LEFT: (-1.0, 0.0),
    PageEdge.TOP: (0.0, -1.0),
    PageEdge.RIGHT: (1.0, 0.0),
    PageEdge.BOTTOM: (0.0, 1.0),
}


@dataclass
class Equations:
    """Linear equations on the sides' shifts: rows of (side, factor), and right-hand sides."""

    count: int
    rows: list[list[tuple[int, float]]] = field(default_factory=list)
    values: list[float] = field(default_factory=list)

    def add(self, terms: list[tuple[int, float]], value: float) -> None:
        """One more equation: the sum of factor times shift is `value`."""
        self.rows.append(terms)
        self.values.append(value)

    def gutter(self, facing: Facing, target: float) -> None:
        """Make the mean gap of two facing sides `target`: outward shifts shrink it."""
        self.add([(facing.first, 1.0), (facing.second, 1.0)], facing.gap - target)

    def matrix(self) -> np.ndarray:
        """Coefficients, shape (rows, count)."""
        matrix = np.zeros((len(self.rows), self.count))
        for r, terms in enumerate(self.rows):
            for side, factor in terms:
                matrix[r, side] += factor
        return matrix

    def least_shifts(self) -> np.ndarray:
        """The smallest shifts (sum of squares) that meet all equations.

        Where equations contradict each other, the shifts that miss them least.
        """
        if not self.rows:
            return np.zeros(self.count)
        solution, *_ = np.linalg.lstsq(self.matrix(), np.array(self.values), rcond=1e-9)
        return np.asarray(solution)

    def misses(self, shifts: np.ndarray) -> np.ndarray:
        """By how much each equation is missed."""
        if not self.rows:
            return np.zeros(0)
        return np.asarray(self.matrix() @ shifts - np.array(self.values))


def moved(outline: Outline, sides: Sequence[PanelSide], shifts: Sequence[float]) -> Outline:
    """The outline with each side shifted outward along its normal; corners follow.

    Parameters
    ----------
    outline : Outline
        A panel.
    sides : sequence of PanelSide
        Its sides in ring order (they may have been turned: their lines count).
    shifts : sequence of float
        One per side, outward positive.

    Raises
    ------
    ValueError
        If the result crosses itself or turns inside out.
    """
    lines = [(s.normal, s.offset + d) for s, d in zip(sides, shifts, strict=True)]
    corners = []
    for i, corner in enumerate(outline.points):
        corners.append(_crossing(lines[i - 1], lines[i], corner))
    return Outline(tuple(corners))


def _crossing(a: tuple[Point, float], b: tuple[Point, float], near: Point) -> Point:
    """Where two lines cross; for nearly parallel ones, `near` moved onto both."""
    (ax, ay), ao = a
    (bx, by), bo = b
    det = ax * by - ay * bx
    if abs(det) > 0.03:
        return (ao * by - bo * ay) / det, (ax * bo - bx * ao) / det
    off_a = ao - (ax * near[0] + ay * near[1])
    off_b = bo - (bx * near[0] + by * near[1])
    return (
        near[0] + (off_a * ax + off_b * bx) / 2,
        near[1] + (off_a * ay + off_b * by) / 2,
    )


def bleed_side(panel: GridPanel, sides: Sequence[PanelSide], edge: PageEdge) -> int | None:
    """Which of the panel's sides runs off that edge: the outermost one that looks that way.

    Returns the place in `sides`, or None if no side looks that way.
    """
    if edge not in panel.bleed:
        return None
    ex, ey = _OUTWARD[edge]
    looking = [i for i, s in enumerate(sides) if s.normal[0] * ex + s.normal[1] * ey > 0.85]
    if not looking:
        return None
    return max(looking, key=lambda i: sides[i].middle[0] * ex + sides[i].middle[1] * ey)


def outward(edge: PageEdge) -> Point:
    """Unit vector that points off the page across that edge."""
    return _OUTWARD[edge]


def is_free_form(outline: Outline) -> bool:
    """Whether an outline has too many corners to be moved side by side (round, ragged)."""
    return len(outline.points) > FREE_FORM_CORNERS
