"""What moved between two stages of the same page: rough and pencils, pencils and inks."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean, pstdev

from shapely import unary_union

from panelscan.checks.registration import Registration, register
from panelscan.layout.sides import facing_sides, panel_sides
from panelscan.model.formats import PageFormat
from panelscan.model.grid import Grid, GutterKind
from panelscan.model.outline import Outline, common_area
from panelscan.model.record import PageRecord
from panelscan.model.units import MM_PER_INCH

SAME_MM = 1.0
_COVERED = 0.7


@dataclass(frozen=True)
class Stage:
    """One stage of a page.

    Parameters
    ----------
    name : str
        For people.
    outlines : tuple of Outline
        Panels in reading order, in the picture's own units, equal along both axes.
    mm_per_unit : float or None
        Size of a unit; None where nobody knows.
    frame : Outline or None
        The page in those units.
    """

    name: str
    outlines: tuple[Outline, ...]
    mm_per_unit: float | None = None
    frame: Outline | None = None


def stage_of_record(record: PageRecord) -> Stage:
    """A scanned page as a stage, in source pixels."""
    mm = None if record.resolution is None else MM_PER_INCH / record.resolution.mean_ppi
    outlines = tuple(record.finding.panels[i].outline for i in record.layout.order)
    return Stage(record.ref.label, outlines, mm, record.finding.frame)


def stage_of_grid(grid: Grid, name: str = "Grid", page_format: PageFormat | None = None) -> Stage:
    """A grid as a stage, in mm of the format's trim height (or in page heights)."""
    height = 1.0 if page_format is None else page_format.trim_mm[1]
    size = (grid.aspect * height, height)
    outlines = tuple(p.outline.scaled(*size) for p in grid.panels)
    mm = None if page_format is None else 1.0
    return Stage(name, outlines, mm, Outline.box(0, 0, *size))


class ChangeKind(StrEnum):
    """What happened to a panel."""

    MOVED = "moved"
    RESIZED = "resized"
    RESHAPED = "reshaped"
    ADDED = "added"
    DROPPED = "dropped"
    SPLIT = "split"
    MERGED = "merged"
    REORDERED = "reordered"


@dataclass(frozen=True)
class PanelChange:
    """One change.

    Parameters
    ----------
    kind : ChangeKind
        What happened.
    before, after : tuple of int
        Places in the order of the first and the second stage, from 0.
    text : str
        For people.
    amount_mm : float or None
        Farthest a side or the middle moved; None where lengths are unknown or do not apply.
    """

    kind: ChangeKind
    before: tuple[int, ...]
    after: tuple[int, ...]
    text: str
    amount_mm: float | None = None


@dataclass(frozen=True, slots=True)
class GutterChange:
    """Gutters of one kind in both stages, in the lengths of the second."""

    kind: GutterKind
    mean_before: float
    mean_after: float
    cv_before: float
    cv_after: float


@dataclass(frozen=True)
class Comparison:
    """Two stages laid over each other, and what changed.

    Parameters
    ----------
    before, after : Stage
        The stages.
    laid : tuple of Outline
        Panels of the first in the frame of the second.
    registration : Registration
        Turn, scale and shift that did that, and which panels answer each other.
    changes : tuple of PanelChange
        In reading order.
    gutters : tuple of GutterChange
        Before and after.
    unit : str
        ``"mm"``, or ``"% of the page height"`` where lengths are unknown.
    notes : tuple of str
        What could not be told.
    """

    before: Stage
    after: Stage
    laid: tuple[Outline, ...]
    registration: Registration
    changes: tuple[PanelChange, ...]
    gutters: tuple[GutterChange, ...]
    unit: str
    notes: tuple[str, ...] = ()


def compare_stages(before: Stage, after: Stage, same_mm: float = SAME_MM) -> Comparison:
    """Compare two stages of a page.

    Parameters
    ----------
    before, after : Stage
        Earlier and later stage.
    same_mm : float
        Moves and changes of size up to this do not count (where lengths are unknown: up to
        0.4 % of the page height).

    Examples
    --------
    >>> boxes = [Outline.box(10, 10, 80, 90), Outline.box(84, 10, 150, 90)]
    >>> low = Outline.box(10, 94, 150, 200)
    >>> first = Stage("rough", (*boxes, low), 1.0)
    >>> second = Stage("inks", (*boxes, Outline.box(10, 98, 150, 200)), 1.0)
    >>> [c.text for c in compare_stages(first, second).changes]
    ['Panel 3: resized, its top side moved 4.0 mm down.']
    """
    found = register(before.outlines, after.outlines)
    laid = tuple(found.outline(o) for o in before.outlines)
    factor, unit = _lengths(after)
    least = same_mm if unit == "mm" else 0.4
    changes = [
        *_of_pairs(found, laid, after.outlines, factor, unit, least),
        *_unmatched(found, laid, after.outlines),
        *_reordered(found),
    ]
    changes.sort(key=lambda c: (c.after or c.before)[0])
    notes = []
    if len(found.pairs) == 1 and max(len(laid), len(after.outlines)) == 1:
        notes.append("With one panel alone, its move cannot be told from the page's.")
    if not found.pairs:
        notes.append("No panels answer each other: these may be different pages.")
    gutters = _gutters(laid, after.outlines, factor)
    return Comparison(before, after, laid, found, tuple(changes), gutters, unit, tuple(notes))


def _lengths(stage: Stage) -> tuple[float, str]:
    """Factor from the stage's units to what is shown, and its name."""
    if stage.mm_per_unit is not None:
        return stage.mm_per_unit, "mm"
    if stage.frame is not None:
        return 100.0 / stage.frame.height, "% of the page height"
    boxes = [o.bounds for o in stage.outlines]
    tall = max(b[3] for b in boxes) - min(b[1] for b in boxes) if boxes else 1.0
    return 100.0 / tall, "% of the page height"


_WORDS = (
    ("left", 0, ("left", "right")),
    ("top", 1, ("up", "down")),
    ("right", 2, ("left", "right")),
    ("bottom", 3, ("up", "down")),
)


def _of_pairs(
    found: Registration,
    laid: Sequence[Outline],
    after: Sequence[Outline],
    factor: float,
    unit: str,
    least: float,
) -> list[PanelChange]:
    """Moves, changes of size and of shape of panels that answer each other."""
    changes = []
    for i, j in found.pairs:
        old, new = laid[i], after[j]
        off = [(n - o) * factor for n, o in zip(new.bounds, old.bounds, strict=True)]
        name = _name(i, j)
        most = max(off, key=abs)
        middle = ((off[0] + off[2]) / 2, (off[1] + off[3]) / 2)
        stretch = max(abs(off[2] - off[0]), abs(off[3] - off[1]))
        far = max(abs(m) for m in middle)
        if stretch <= least < far:
            text = f"{name}: moved {_way(middle, unit, least)}."
            changes.append(PanelChange(ChangeKind.MOVED, (i,), (j,), text, _mm(far, unit)))
        elif abs(most) > least:
            sides = [
                f"its {word} side moved {abs(off[k]):.1f} {unit} {ways[off[k] > 0]}"
                for word, k, ways in _WORDS
                if abs(off[k]) > least
            ]
            text = f"{name}: resized, {', '.join(sides)}."
            changes.append(PanelChange(ChangeKind.RESIZED, (i,), (j,), text, _mm(abs(most), unit)))
        elif old.shape.hausdorff_distance(new.shape) * factor > least:
            apart = old.shape.hausdorff_distance(new.shape) * factor
            text = f"{name}: its outline changed by up to {apart:.1f} {unit}."
            changes.append(PanelChange(ChangeKind.RESHAPED, (i,), (j,), text, _mm(apart, unit)))
    return changes


def _name(before: int, after: int) -> str:
    """The panel's number, and its former one where that differs."""
    return f"Panel {after + 1}" + (f" (was {before + 1})" if before != after else "")


def _mm(length: float, unit: str) -> float | None:
    return length if unit == "mm" else None


def _way(middle: tuple[float, float], unit: str, least: float) -> str:
    parts = []
    for value, (low, high) in zip(middle, (("left", "right"), ("up", "down")), strict=True):
        if abs(value) > least / 2:
            parts.append(f"{abs(value):.1f} {unit} {high if value > 0 else low}")
    return " and ".join(parts)


def _unmatched(
    found: Registration, laid: Sequence[Outline], after: Sequence[Outline]
) -> list[PanelChange]:
    """Panels without a partner: split off, merged, added or dropped."""
    gone = [i for i in range(len(laid)) if i not in {p[0] for p in found.pairs}]
    come = [j for j in range(len(after)) if j not in {p[1] for p in found.pairs}]
    changes = []
    for i, j in found.pairs:
        parts = [k for k in come if _lies_in(after[k], laid[i])]
        if parts and _fills([after[k] for k in (j, *parts)], laid[i]):
            pieces = tuple(sorted((j, *parts)))
            text = f"Panel {i + 1}: split into panels {_list(pieces)}."
            changes.append(PanelChange(ChangeKind.SPLIT, (i,), pieces, text))
            come = [k for k in come if k not in parts]
        joined = [k for k in gone if _lies_in(laid[k], after[j])]
        if joined and _fills([laid[k] for k in (i, *joined)], after[j]):
            pieces = tuple(sorted((i, *joined)))
            text = f"Panels {_list(pieces)}: merged into panel {j + 1}."
            changes.append(PanelChange(ChangeKind.MERGED, pieces, (j,), text))
            gone = [k for k in gone if k not in joined]
    changes += [PanelChange(ChangeKind.ADDED, (), (j,), f"Panel {j + 1}: added.") for j in come]
    changes += [
        PanelChange(ChangeKind.DROPPED, (i,), (), f"Panel {i + 1} of the earlier stage: dropped.")
        for i in gone
    ]
    return changes


def _lies_in(part: Outline, whole: Outline) -> bool:
    return common_area(part.shape, whole.shape) > _COVERED * part.area


def _fills(parts: Sequence[Outline], whole: Outline) -> bool:
    """Whether the parts together take up most of the whole, each lying in it."""
    union = unary_union([p.shape for p in parts])
    return bool(union.intersection(whole.shape).area > _COVERED * whole.area) and all(
        _lies_in(p, whole) for p in parts
    )


def _list(places: Sequence[int]) -> str:
    numbers = [str(p + 1) for p in places]
    return " and ".join([", ".join(numbers[:-1]), numbers[-1]] if len(numbers) > 1 else numbers)


def _reordered(found: Registration) -> list[PanelChange]:
    """Panels read at another turn: those outside the longest run that kept its order."""
    pairs = sorted(found.pairs)
    kept = _longest_rise([j for _, j in pairs])
    return [
        PanelChange(
            ChangeKind.REORDERED,
            (i,),
            (j,),
            f"Panel {j + 1}: read at another turn than before (was {i + 1}).",
        )
        for n, (i, j) in enumerate(pairs)
        if n not in kept
    ]


def _longest_rise(values: Sequence[int]) -> set[int]:
    """Places of a longest rising subsequence."""
    tails: list[int] = []
    ends: list[int] = []
    back: list[int | None] = []
    for n, value in enumerate(values):
        at = bisect_left(tails, value)
        back.append(ends[at - 1] if at else None)
        tails[at : at + 1] = [value]
        ends[at : at + 1] = [n]
    kept, at_end = set(), ends[-1] if ends else None
    while at_end is not None:
        kept.add(at_end)
        at_end = back[at_end]
    return kept


def _gutters(
    before: Sequence[Outline], after: Sequence[Outline], factor: float
) -> tuple[GutterChange, ...]:
    """Mean and evenness of the gutters of both stages."""
    old, new = _widths(before, factor), _widths(after, factor)
    return tuple(
        GutterChange(kind, fmean(old[kind]), fmean(new[kind]), _cv(old[kind]), _cv(new[kind]))
        for kind in GutterKind
        if old[kind] and new[kind]
    )


def _widths(outlines: Sequence[Outline], factor: float) -> dict[GutterKind, list[float]]:
    found: dict[GutterKind, list[float]] = {kind: [] for kind in GutterKind}
    if not outlines:
        return found
    sides = panel_sides(outlines)
    tall = max(o.bounds[3] for o in outlines) - min(o.bounds[1] for o in outlines)
    for f in facing_sides(outlines, 0.12 * tall, sides):
        found[sides[f.first].kind].append(max(0.0, f.gap) * factor)
    return found


def _cv(values: Sequence[float]) -> float:
    mean = fmean(values)
    return pstdev(values) / mean if mean > 1e-9 else 0.0
