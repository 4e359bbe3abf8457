"""Applying corrections to a page: what stands after each; pure values, no files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from panelscan.corpus.edit_bursts import LEAST_BURST_SHARE, cut_burst
from panelscan.corpus.record_json import with_layout
from panelscan.errors import UsageError
from panelscan.layout.bleeds import bleed_edges
from panelscan.layout.frame import frame_map
from panelscan.model.correction import (
    AddPanel,
    Correction,
    DeletePanel,
    MergePanels,
    MoveCorner,
    PageIsFine,
    Reorder,
    SetDirection,
    SetFold,
    SetOutline,
    SetPageFormat,
    SetPageFrame,
    SetSideState,
    SplitPanel,
    Undo,
)
from panelscan.model.direction import DirectionSource, JudgedDirection
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.model.panel import Panel, Side, SideState
from panelscan.model.record import PageRecord
from panelscan.model.units import MM_PER_INCH, Resolution, ResolutionSource

INSET_SHARE = 0.95


@dataclass(frozen=True)
class Draft:
    """A page while corrections are applied.

    Parameters
    ----------
    record : PageRecord
        The page as detected, with frame, direction and resolution as corrected so far.
    panels : dict of str to Panel
        Panels by key; their ``host`` is not used.
    hosts : dict of str to str
        Key of an inset -> key of its host.
    pinned : tuple of str or None
        Keys in the order that a person gave.
    is_fine : bool
        Whether a person said that all is right.
    """

    record: PageRecord
    panels: dict[str, Panel]
    hosts: dict[str, str]
    pinned: tuple[str, ...] | None = None
    is_fine: bool = False

    @classmethod
    def of(cls, record: PageRecord) -> Draft:
        """The page as it was detected."""
        panels = {f"d{k}": p for k, p in enumerate(record.finding.panels)}
        hosts = {k: f"d{p.host}" for k, p in panels.items() if p.host is not None}
        return cls(record, panels, hosts)


def apply(draft: Draft, correction: Correction, revision: int) -> Draft:
    """The page after one more correction.

    Parameters
    ----------
    draft : Draft
        What stood before.
    correction : Correction
        Any but `Undo`, which works on the list of corrections.
    revision : int
        Number of the correction; new panels are named after it.

    Raises
    ------
    UsageError
        If the correction makes no sense on this page.
    """
    match correction:
        case MoveCorner(key, corner, to):
            return _with_outline(draft, key, _moved_corner(_panel(draft, key), corner, to), True)
        case SetOutline(key, outline):
            return _with_outline(draft, key, outline.points, False)
        case AddPanel(outline):
            return _added(draft, f"n{revision}", outline)
        case DeletePanel(key):
            _panel(draft, key)
            return _without(draft, (key,))
        case SplitPanel():
            return _split(draft, correction, revision)
        case MergePanels(keys):
            return _merged(draft, keys, revision)
        case Reorder(order):
            return _reordered(draft, order)
        case SetSideState(key, side, state):
            return _side_set(draft, key, side, state)
        case PageIsFine():
            return replace(draft, is_fine=True)
        case Undo():
            raise ValueError("an undoing is not applied to a page")
        case _:
            return _page_set(draft, correction)


def finished(draft: Draft) -> tuple[PageRecord, tuple[str, ...]]:
    """The page as it stands, laid out anew, and its panels' keys in reading order.

    Notes
    -----
    A page that a person called fine is certain: confidence 1 and no doubts or other readings.
    Bursts are cut only here, so that an outline drawn too wide and put back costs none of them.
    """
    record = draft.record
    draft = _with_free_bursts(draft)
    keys = list(draft.panels)
    place = {key: k for k, key in enumerate(keys)}
    panels = tuple(
        replace(
            panel,
            host=place.get(draft.hosts.get(key, "")),
            confidence=1.0 if draft.is_fine else panel.confidence,
        )
        for key, panel in draft.panels.items()
    )
    finding = replace(record.finding, panels=panels, alternatives=())
    if draft.is_fine:
        finding = replace(finding, confidence=1.0, doubts=())
    record = replace(record, finding=finding)
    made = with_layout(record)
    if draft.pinned is not None:
        order = _woven(draft.pinned, [keys[k] for k in made.layout.order])
        made = with_layout(record, [place[key] for key in order])
    return made, tuple(keys[k] for k in made.layout.order)


def _with_free_bursts(draft: Draft) -> Draft:
    """Bursts without what lies in a panel whose outline a person drew: their own, or another's.

    An inset may burst out over its host.
    """
    detected = {p.outline for p in draft.record.finding.panels}
    drawn = {k: p.outline.shape for k, p in draft.panels.items() if p.outline not in detected}
    least = LEAST_BURST_SHARE * draft.record.finding.frame.area
    panels = dict(draft.panels)
    for key, panel in draft.panels.items():
        over = [shape for k, shape in drawn.items() if k != draft.hosts.get(key)]
        if panel.burst and over:
            hidden = shapely.union_all(over)
            left = [part for b in panel.burst for part in cut_burst(b, hidden, least)]
            panels[key] = replace(panel, burst=tuple(left))
    return replace(draft, panels=panels)


def _woven(pinned: Sequence[str], read: Sequence[str]) -> list[str]:
    """The pinned order with each panel it does not name after its forerunner in ``read``."""
    order = [key for key in pinned if key in read]
    for k, key in enumerate(read):
        if key not in order:
            after = order.index(read[k - 1]) + 1 if k else 0
            order.insert(after, key)
    return order


def _panel(draft: Draft, key: str) -> Panel:
    if key not in draft.panels:
        raise UsageError(
            f"{draft.record.ref.label}: there is no panel {key} on the page any more.",
            "Load the page again.",
        )
    return draft.panels[key]


def _outline(points: Sequence[tuple[float, float]]) -> Outline:
    try:
        return Outline.of(points)
    except ValueError as error:
        raise UsageError(f"This is no outline: {error}.", "Move the corners apart.") from error


def _moved_corner(
    panel: Panel, corner: int, to: tuple[float, float]
) -> tuple[tuple[float, float], ...]:
    points = panel.outline.points
    if not 0 <= corner < len(points):
        raise UsageError(f"The panel has no corner {corner}; they count from 0.")
    return (*points[:corner], (float(to[0]), float(to[1])), *points[corner + 1 :])


def _with_outline(
    draft: Draft, key: str, points: Sequence[tuple[float, float]], keep_ring: bool
) -> Draft:
    old = _panel(draft, key)
    try:
        # The ring is kept where it can be, so that corners keep their numbers.
        outline = Outline(tuple(points)) if keep_ring else Outline.of(points)
    except ValueError as error:
        raise UsageError(f"This is no outline: {error}.", "Move the corners apart.") from error
    sides = old.sides if keep_ring else _carried(old, outline)
    panel = replace(
        old,
        outline=outline,
        sides=sides or _plain_sides(outline),
        confidence=1.0,
        bleed=_bleed(draft, outline),
    )
    return replace(draft, panels={**draft.panels, key: panel})


def _carried(old: Panel, outline: Outline) -> tuple[Side, ...]:
    """Sides for a new outline with as many corners, whose ring may begin at another corner."""
    count = len(old.sides)
    if count != len(outline.points):
        return ()
    before, after = old.outline.array(), outline.array()
    turn = min(range(count), key=lambda k: float(abs(np.roll(before, -k, axis=0) - after).sum()))
    return old.sides[turn:] + old.sides[:turn]


def _plain_sides(outline: Outline) -> tuple[Side, ...]:
    return (Side(SideState.DRAWN, 1.0),) * len(outline.points)


def _bleed(draft: Draft, outline: Outline) -> frozenset[PageEdge]:
    page = frame_map(draft.record.finding.frame)
    corners = page.to_page(outline.array())
    box = [*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist()]
    return bleed_edges(box, page.width, page.height)


def _new_panel(draft: Draft, outline: Outline) -> Panel:
    return Panel(outline, _plain_sides(outline), 1.0, _bleed(draft, outline))


def _added(draft: Draft, key: str, outline: Outline) -> Draft:
    panel = _new_panel(draft, outline)
    hosts = dict(draft.hosts)
    around = [
        (other.outline.area, name)
        for name, other in draft.panels.items()
        if other.outline.area > outline.area
        and other.outline.shape.intersection(outline.shape).area >= INSET_SHARE * outline.area
    ]
    if around:
        host = min(around)[1]
        hosts[key] = host
        panel = replace(panel, depth=draft.panels[host].depth + 1)
    return replace(draft, panels={**draft.panels, key: panel}, hosts=hosts)


def _without(draft: Draft, keys: Sequence[str]) -> Draft:
    panels = {k: p for k, p in draft.panels.items() if k not in keys}
    hosts = {k: h for k, h in draft.hosts.items() if k in panels and h in panels}
    pinned = None if draft.pinned is None else tuple(k for k in draft.pinned if k in panels)
    return replace(draft, panels=panels, hosts=hosts, pinned=pinned)


def _split(draft: Draft, cut: SplitPanel, revision: int) -> Draft:
    old = _panel(draft, cut.panel)
    (x0, y0), (x1, y1) = cut.start, cut.end
    length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    if length < 1e-6:
        raise UsageError("A line to split along needs two different points.")
    reach = 4 * (old.outline.width + old.outline.height + length) / length
    line = shapely.LineString(
        [
            (x0 - (x1 - x0) * reach, y0 - (y1 - y0) * reach),
            (x1 + (x1 - x0) * reach, y1 + (y1 - y0) * reach),
        ]
    )
    knife = line.buffer(max(cut.gutter_px / 2, 1e-6), cap_style="flat")
    parts = shapely.get_parts(old.outline.shape.difference(knife))
    parts = sorted((p for p in parts if p.area > 1.0), key=lambda p: (p.bounds[1], p.bounds[0]))
    if len(parts) != 2:
        raise UsageError(
            f"The line cuts the panel into {len(parts)} parts, not two.",
            "Draw it right across the panel.",
        )
    keys = (f"n{revision}a", f"n{revision}b")
    halves = {k: _new_panel(draft, _snapped(p)) for k, p in zip(keys, parts, strict=True)}
    return _replaced(draft, (cut.panel,), halves)


def _snapped(shape: shapely.Polygon) -> Outline:
    """Outline of a cut part, without the hair's breadth that the knife took."""
    return _outline([(round(x, 3), round(y, 3)) for x, y in shape.exterior.coords])


def _merged(draft: Draft, keys: tuple[str, ...], revision: int) -> Draft:
    if len(set(keys)) < 2:
        raise UsageError("Name at least two panels to merge.")
    shapes = [_panel(draft, key).outline.shape for key in keys]
    hull = shapely.union_all(shapes).convex_hull
    merged = {f"n{revision}": _new_panel(draft, Outline.from_shape(_simplest(hull)))}
    return _replaced(draft, keys, merged)


def _simplest(hull: shapely.Polygon) -> shapely.Polygon:
    """The hull with corners dropped that stand out by less than half a percent of its size."""
    slack = 0.005 * (hull.bounds[2] - hull.bounds[0] + hull.bounds[3] - hull.bounds[1])
    simple = hull.simplify(slack)
    return simple if simple.is_valid and not simple.is_empty else hull


def _replaced(draft: Draft, old: Sequence[str], new: dict[str, Panel]) -> Draft:
    """New panels in the place of old ones, also in a pinned order and as hosts."""
    pinned = draft.pinned
    if pinned is not None:
        spot = min((pinned.index(k) for k in old if k in pinned), default=len(pinned))
        rest = [k for k in pinned if k not in old]
        spot = sum(k not in old for k in pinned[:spot])
        pinned = (*rest[:spot], *new, *rest[spot:])
    insets = [k for k, host in draft.hosts.items() if host in old and k not in old]
    for burst in (b for k in old for b in draft.panels[k].burst):
        middle = burst.shape.centroid
        key = min(new, key=lambda n: new[n].outline.shape.distance(middle))
        new = {**new, key: replace(new[key], burst=(*new[key].burst, burst))}
    after = replace(_without(draft, old), pinned=pinned)
    hosts = dict(after.hosts)
    for key in insets:
        shape = draft.panels[key].outline.shape
        hosts[key] = max(new, key=lambda n: new[n].outline.shape.intersection(shape).area)
    return replace(after, panels={**after.panels, **new}, hosts=hosts)


def _reordered(draft: Draft, order: tuple[str, ...]) -> Draft:
    if len(set(order)) != len(order):
        raise UsageError("An order names each panel once.")
    for key in order:
        _panel(draft, key)
    if set(order) != set(draft.panels):
        now = finished(draft)[1]
        order = tuple(_woven(order, now))
    return replace(draft, pinned=order)


def _side_set(draft: Draft, key: str, side: int, state: SideState) -> Draft:
    panel = _panel(draft, key)
    sides = list(panel.sides or _plain_sides(panel.outline))
    if not 0 <= side < len(sides):
        raise UsageError(f"The panel has no side {side}; they count from 0.")
    sides[side] = replace(sides[side], state=state)
    return replace(draft, panels={**draft.panels, key: replace(panel, sides=tuple(sides))})


def _page_set(draft: Draft, correction: Correction) -> Draft:
    record = draft.record
    match correction:
        case SetDirection(direction):
            notes = JudgedDirection(direction, 1.0, DirectionSource.GIVEN).noted(record.notes)
            record = replace(record, direction=direction, direction_confidence=1.0, notes=notes)
        case SetPageFrame(outline):
            record = replace(record, finding=replace(record.finding, frame=outline))
        case SetFold(x_px):
            record = replace(record, finding=replace(record.finding, fold_x_px=_fold(record, x_px)))
        case SetPageFormat(_, width_mm, height_mm):
            page = frame_map(record.finding.frame)
            record = replace(
                record, resolution=_of_format(page.width, page.height, width_mm, height_mm)
            )
    changed = replace(draft, record=record)
    if isinstance(correction, SetPageFrame):
        panels = {k: replace(p, bleed=_bleed(changed, p.outline)) for k, p in draft.panels.items()}
        changed = replace(changed, panels=panels)
    return changed


def _fold(record: PageRecord, x_px: float | None) -> float | None:
    left, _, right, _ = record.finding.frame.bounds
    if x_px is not None and not left < x_px < right:
        raise UsageError("The fold lies beside the page.", "Put it between the page's edges.")
    return x_px


def _of_format(width_px: float, height_px: float, width_mm: float, height_mm: float) -> Resolution:
    try:
        return Resolution(
            width_px / width_mm * MM_PER_INCH,
            height_px / height_mm * MM_PER_INCH,
            ResolutionSource.PAGE_FORMAT,
        )
    except ValueError as error:
        raise UsageError(
            f"A page of {width_mm:g} by {height_mm:g} mm would not fit this image: {error}.",
            "Choose another format.",
        ) from error
