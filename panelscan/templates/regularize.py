"""A grid cleaned up: sides straight and square, gutters even, edges in line, bleeds to the line.

Sides that are nearly level or upright are turned square, slants are kept (two sides that
face each other across a slanted gutter are made parallel). Then a small linear programme
chooses which gutters can be made even and which sides can be put in line when no side may
move farther than allowed; among the ways to do that, the one that moves the sides least
(sum of squares) is taken. What is moved is said, with by how much.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from panelscan.layout.sides import PanelSide, panel_sides
from panelscan.layout.straighten import MOST_SIDES, Straightened, straightened
from panelscan.model.formats import US_PRINT, PageFormat
from panelscan.model.grid import Grid, GutterKind
from panelscan.model.outline import Outline
from panelscan.templates.evening import Wishes, settle, wishes_of
from panelscan.templates.moving import is_free_form, moved
from panelscan.templates.squaring import squared, without_needless_corners


@dataclass(frozen=True, slots=True)
class Tolerances:
    """How far cleaning may go.

    Parameters
    ----------
    move_mm : float
        No side moves farther than this, measured across it at both of its ends. Bleeding
        sides go to the bleed line besides.
    straight_mm : float
        A corner this near the line between its neighbours is dropped. A hand-drawn outline
        of many corners is straightened if most of it lies within three quarters of
        `move_mm` of straight sides; what that takes is no longer there for moving.
    square_deg : float
        A side this nearly level or upright is made so.
    align_mm : float
        Sides this nearly in one line are put in line.
    gutter_mm : float
        A gutter that differs by no more than this from the usual one is made equal to it.

    Raises
    ------
    ValueError
        If a figure is negative.
    """

    move_mm: float = 2.0
    straight_mm: float = 0.8
    square_deg: float = 1.5
    align_mm: float = 1.5
    gutter_mm: float = 1.5

    def __post_init__(self) -> None:
        figures = (
            self.move_mm,
            self.straight_mm,
            self.square_deg,
            self.align_mm,
            self.gutter_mm,
        )
        if min(figures) < 0:
            raise ValueError("a tolerance cannot be negative")


@dataclass(frozen=True, slots=True)
class SideMove:
    """What cleaning did to one side.

    Parameters
    ----------
    panel : int
        Place in the order, from 0.
    side : str
        ``"left"``, ``"top"``, ``"right"`` or ``"bottom"``: where it looks.
    moved_mm : float
        Farthest distance of its new ends from its old line.
    turned_deg : float
        By how much its direction changed.
    """

    panel: int
    side: str
    moved_mm: float
    turned_deg: float

    def __str__(self) -> str:
        turned = f", turned {abs(self.turned_deg):.1f}°" if abs(self.turned_deg) >= 0.05 else ""
        return f"Panel {self.panel + 1}, {self.side} side: moved {self.moved_mm:.1f} mm{turned}."


@dataclass(frozen=True, slots=True)
class Evenness:
    """Gutters of one kind before and after: mean in mm, and coefficient of variation."""

    kind: GutterKind
    count: int
    mean_before_mm: float
    cv_before: float
    mean_after_mm: float
    cv_after: float


@dataclass(frozen=True)
class CleanedGrid:
    """A grid after cleaning, and what was done to it.

    Parameters
    ----------
    grid : Grid
        Page-relative, as it was given.
    moves : tuple of SideMove
        Sides that moved by 0.05 mm or more, those that moved most first.
    gutters : tuple of Evenness
        Per kind, gutters that were meant to be even (within the tolerance).
    notes : tuple of str
        What was left alone, and corners dropped.
    """

    grid: Grid
    moves: tuple[SideMove, ...]
    gutters: tuple[Evenness, ...]
    notes: tuple[str, ...] = ()


def regularize(
    grid: Grid,
    page_format: PageFormat | None = None,
    tolerances: Tolerances | None = None,
    tier_gutter_mm: float | None = None,
    column_gutter_mm: float | None = None,
) -> CleanedGrid:
    """Clean a grid up.

    Parameters
    ----------
    grid : Grid
        Page-relative; measured on a page as high as the format's trim.
    page_format : PageFormat, optional
        For the size of the page and its bleed; US comic print size if not given.
    tolerances : Tolerances, optional
        How far it may go.
    tier_gutter_mm, column_gutter_mm : float, optional
        Gutters to aim at; by default the grid's own usual ones.

    Returns
    -------
    CleanedGrid
        Round and ragged panels (more than twelve corners) are left as they are.

    Examples
    --------
    >>> from panelscan.model.grid import GridPanel
    >>> upper = Outline.of([(0.1, 0.1), (0.9, 0.102), (0.9, 0.48), (0.1, 0.481)])
    >>> lower = Outline.of([(0.1, 0.502), (0.902, 0.5), (0.9, 0.9), (0.1, 0.9)])
    >>> cleaned = regularize(Grid((GridPanel(upper), GridPanel(lower)), 0.65))
    >>> len({round(p.outline.bounds[0], 6) for p in cleaned.grid.panels})
    1
    >>> max(m.moved_mm for m in cleaned.moves) < 0.5
    True
    """
    page = page_format or US_PRINT
    allowed = tolerances or Tolerances()
    height = page.trim_mm[1]
    size = (grid.aspect * height, height)
    before = [p.outline.scaled(*size) for p in grid.panels]
    straight = [_straight(o, allowed) for o in before]
    trimmed = [s.outline for s in straight]
    notes = _corner_notes(before, straight)
    drawn = panel_sides(trimmed)
    square = squared(trimmed, drawn, allowed.square_deg, allowed.move_mm)
    targets = {GutterKind.TIER: tier_gutter_mm, GutterKind.COLUMN: column_gutter_mm}
    used = [s.off_mm for s in straight]
    wishes = wishes_of(grid, trimmed, square, size, page.bleed_mm, allowed, targets, used)
    shifts = settle(wishes)
    after, more = _rebuilt(trimmed, square, shifts)
    moves = _moves(drawn, after)
    cleaned = tuple(
        replace(p, outline=o.scaled(1 / size[0], 1 / size[1]))
        for p, o in zip(grid.panels, after, strict=True)
    )
    return CleanedGrid(
        replace(grid, panels=cleaned),
        tuple(sorted(moves, key=lambda m: -m.moved_mm)),
        _evenness(wishes, after),
        (*notes, *more),
    )


def _straight(outline: Outline, allowed: Tolerances) -> Straightened:
    """The outline without needless corners; a hand-drawn one made of straight sides."""
    plain = without_needless_corners(outline, allowed.straight_mm)
    if len(plain.points) <= MOST_SIDES:
        return Straightened(plain, 0.0)
    found = straightened(outline, 0.75 * allowed.move_mm)
    return found if found is not None else Straightened(plain, 0.0)


def _corner_notes(before: Sequence[Outline], after: Sequence[Straightened]) -> list[str]:
    notes = []
    for i, (a, b) in enumerate(zip(before, after, strict=True)):
        dropped = len(a.points) - len(b.outline.points)
        if b.off_mm > 0:
            notes.append(
                f"Panel {i + 1}: its hand-drawn line made {len(b.outline.points)} straight "
                f"sides, most of it within {b.off_mm:.1f} mm."
            )
        elif dropped:
            plural = "s" if dropped > 1 else ""
            notes.append(f"Panel {i + 1}: {dropped} needless corner{plural} dropped.")
    return notes


def _rebuilt(
    outlines: Sequence[Outline], sides: Sequence[PanelSide], shifts: Sequence[float]
) -> tuple[list[Outline], list[str]]:
    """Outlines from their moved sides; one that would cross itself is left alone."""
    after, notes = [], []
    at = 0
    for i, outline in enumerate(outlines):
        count = len(outline.points)
        own = slice(at, at + count)
        at += count
        if is_free_form(outline):
            after.append(outline)
            notes.append(f"Panel {i + 1}: round or ragged, left as it is.")
            continue
        try:
            after.append(moved(outline, sides[own], shifts[own]))
        except ValueError:
            after.append(outline)
            notes.append(f"Panel {i + 1}: too narrow to clean up, left as it is.")
    return after, notes


def _moves(drawn: Sequence[PanelSide], after: Sequence[Outline]) -> list[SideMove]:
    """How far each side's new ends lie off its old line, and how far it turned."""
    moves = []
    for old, new in zip(drawn, panel_sides(after), strict=True):
        ends = [old.normal[0] * x + old.normal[1] * y - old.offset for x, y in (new.start, new.end)]
        moved_mm = max(abs(e) for e in ends)
        if moved_mm >= 0.05:
            turned = (new.tilt_deg - old.tilt_deg + 45) % 90 - 45
            moves.append(SideMove(old.panel, side_word(old), moved_mm, turned))
    return moves


def side_word(side: PanelSide) -> str:
    """Where a side looks: left, top, right or bottom."""
    x, y = side.normal
    if abs(x) > abs(y):
        return "left" if x < 0 else "right"
    return "top" if y < 0 else "bottom"


def _evenness(wishes: Wishes, after: Sequence[Outline]) -> tuple[Evenness, ...]:
    """Mean and coefficient of variation of the gutters meant to be even."""
    import numpy as np

    from panelscan.layout.sides import measure_gap

    sides = panel_sides(after)
    found = []
    for kind, gutters in wishes.gutters.items():
        if not gutters:
            continue
        old = np.array([f.gap for f in gutters])
        now = [measure_gap(f.first, f.second, sides[f.first], sides[f.second]) for f in gutters]
        new = np.array([f.gap if f is not None else 0.0 for f in now])
        found.append(
            Evenness(kind, len(old), *_mean_and_cv(old), *_mean_and_cv(new)),
        )
    return tuple(found)


def _mean_and_cv(values: object) -> tuple[float, float]:
    import numpy as np

    data = np.asarray(values, dtype=float)
    mean = float(data.mean())
    return mean, float(data.std() / mean) if mean > 1e-9 else 0.0
