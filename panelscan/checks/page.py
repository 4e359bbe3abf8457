"""A page laid onto a page format, in millimetres, ready to be looked over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from panelscan.layout.frame import frame_map
from panelscan.layout.straighten import MOST_SIDES, straightened
from panelscan.model.formats import Box, PageFormat
from panelscan.model.grid import Grid
from panelscan.model.outline import Outline, Point
from panelscan.model.record import PageRecord
from panelscan.model.units import MM_PER_INCH

SIZE_SHARE = 0.03
HAND_DRAWN_MM = 1.5


@dataclass(frozen=True)
class CheckedPanel:
    """A panel in millimetres from the trim's top-left corner, in reading order."""

    outline: Outline
    bleeds: bool = False
    bleed_edges: frozenset[str] = frozenset()
    wobble_mm: tuple[float | None, ...] = ()
    host: int | None = None


@dataclass(frozen=True)
class CheckedPage:
    """What the rules look at.

    Parameters
    ----------
    name : str
        For people.
    grid : Grid
        Page-relative to the picture's frame, for order and likeness.
    page_format : PageFormat
        What it is checked against.
    panels : tuple of CheckedPanel
        In mm of the trim's frame.
    shown : tuple of float
        Box that the picture shows, in mm of the trim's frame.
    ppi : float or None
        Resolution at printed size; None where there are no pixels.
    balloons : tuple of Outline
        Lettering found, in mm of the trim's frame.
    words : tuple of int
        Words in each panel, where known.
    around : tuple of Grid
        Pages before this one, the nearest last.
    notes : tuple of str
        What was assumed.
    """

    name: str
    grid: Grid
    page_format: PageFormat
    panels: tuple[CheckedPanel, ...]
    shown: Box
    ppi: float | None = None
    balloons: tuple[Outline, ...] = ()
    words: tuple[int, ...] = ()
    around: tuple[Grid, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def outlines(self) -> list[Outline]:
        """Outlines of the panels."""
        return [p.outline for p in self.panels]

    def printed(self, length_mm: float) -> float:
        """A length on the printed page, given as it is on this page."""
        return length_mm * self.page_format.reduction

    def here(self, length_mm: float) -> float:
        """A length on this page, given as it is on the printed page."""
        return length_mm / self.page_format.reduction


def page_of_record(
    record: PageRecord,
    page_format: PageFormat,
    words: Sequence[int] = (),
    around: Sequence[Grid] = (),
) -> CheckedPage:
    """A scanned page laid onto a format.

    Parameters
    ----------
    record : PageRecord
        As scanned.
    page_format : PageFormat
        To check against.
    words : sequence of int
        Words in each panel in reading order.
    around : sequence of Grid
        Grids of the pages before this one.

    Returns
    -------
    CheckedPage
        The picture's frame is taken for the trim, the bleed or the whole sheet, whichever
        its size (or, if its resolution is unknown, its shape) fits best.
    """
    frame = frame_map(record.finding.frame)
    size_mm = None
    if record.resolution is not None:
        size_mm = (record.resolution.x_mm(frame.width), record.resolution.y_mm(frame.height))
    shown, notes = _shown(frame.width / frame.height, size_mm, page_format)
    per_px = np.array([(shown[2] - shown[0]) / frame.width, (shown[3] - shown[1]) / frame.height])

    def to_mm(outline: Outline) -> Outline:
        flat = frame.to_page(outline.array()) * per_px + (shown[0], shown[1])
        return Outline.of(flat.tolist())

    place = {index: k for k, index in enumerate(record.layout.order)}
    mean_mm = float(per_px.mean())
    panels = []
    for index in record.layout.order:
        panel = record.finding.panels[index]
        wobble = tuple(None if s.wobble_px is None else s.wobble_px * mean_mm for s in panel.sides)
        outline = to_mm(panel.outline)
        ruled = _ruled(outline)
        if ruled is not outline:
            wobble = ()
        edges = frozenset(str(e) for e in panel.bleed)
        host = None if panel.host is None else place.get(panel.host)
        panels.append(CheckedPanel(ruled, bool(edges), edges, wobble, host))
    page = CheckedPage(
        name=record.ref.label,
        grid=record.grid,
        page_format=page_format,
        panels=tuple(panels),
        shown=shown,
        ppi=MM_PER_INCH / mean_mm / page_format.reduction,
        balloons=tuple(to_mm(b) for b in record.finding.balloons),
        words=tuple(words),
        around=tuple(around),
        notes=notes,
    )
    return _registered(page)


def page_of_grid(
    grid: Grid,
    page_format: PageFormat,
    name: str = "Grid",
    words: Sequence[int] = (),
    around: Sequence[Grid] = (),
    width_px: float | None = None,
) -> CheckedPage:
    """A grid laid onto a format, its page taken for what its shape fits best.

    Parameters
    ----------
    grid : Grid
        Page-relative.
    page_format : PageFormat
        To check against.
    name : str
        For people.
    words, around : sequences
        As for `page_of_record`.
    width_px : float, optional
        Width of the picture that the grid comes from.
    """
    shown, notes = _shown(grid.aspect, None, page_format)
    scale = (shown[2] - shown[0], shown[3] - shown[1])
    panels = tuple(
        CheckedPanel(
            _ruled(p.outline.scaled(*scale).moved(shown[0], shown[1])),
            bool(p.bleed),
            frozenset(str(e) for e in p.bleed),
            host=p.host,
        )
        for p in grid.panels
    )
    ppi = None
    if width_px is not None:
        ppi = width_px / scale[0] * MM_PER_INCH / page_format.reduction
    page = CheckedPage(
        name, grid, page_format, panels, shown, ppi, (), tuple(words), tuple(around), notes
    )
    return _registered(page)


def _ruled(outline: Outline) -> Outline:
    """A hand-drawn outline of many corners as the straight sides it is meant to be."""
    if len(outline.points) <= MOST_SIDES:
        return outline
    found = straightened(outline, HAND_DRAWN_MM)
    return outline if found is None else found.outline


def _shown(
    aspect: float, size_mm: tuple[float, float] | None, page: PageFormat
) -> tuple[Box, tuple[str, ...]]:
    """Which box of the format the picture shows, in the trim's frame, and how we know."""
    (dx, dy), (w, h) = page.trim_origin_mm, page.sheet_mm
    boxes: dict[str, Box] = {"trim": (0.0, 0.0, *page.trim_mm)}
    if page.bleed_mm > 0:
        boxes["trim with bleed"] = page.bleed_box_mm
    if page.board_mm is not None:
        boxes["whole board"] = (-dx, -dy, w - dx, h - dy)
    if size_mm is not None:
        off = {
            name: max(abs(size_mm[0] / (b[2] - b[0]) - 1.0), abs(size_mm[1] / (b[3] - b[1]) - 1.0))
            for name, b in boxes.items()
        }
        best = min(off, key=lambda name: off[name])
        if off[best] <= SIZE_SHARE:
            return boxes[best], (f"The picture shows the {best}, by its size.",)
    off = {name: abs(aspect / ((b[2] - b[0]) / (b[3] - b[1])) - 1.0) for name, b in boxes.items()}
    best = min(off, key=lambda name: off[name])
    notes = [f"The picture is taken to show the {best}, by its shape alone."]
    if off[best] > SIZE_SHARE:
        notes.append(
            f"Its shape is {off[best] * 100:.0f} % off {page.title}: lengths are stretched to it."
        )
    return boxes[best], tuple(notes)


def _registered(page: CheckedPage) -> CheckedPage:
    """On a board, the drawn live box says where the page lies, not the edge of the sheet."""
    if page.page_format.board_mm is None or not page.panels:
        return page
    staying = [p.outline.bounds for p in page.panels if not p.bleeds]
    if not staying:
        return page
    x0, y0 = min(b[0] for b in staying), min(b[1] for b in staying)
    x1, y1 = max(b[2] for b in staying), max(b[3] for b in staying)
    live = page.page_format.live_box_mm
    size = (live[2] - live[0], live[3] - live[1])
    if abs((x1 - x0) / size[0] - 1) > 0.02 or abs((y1 - y0) / size[1] - 1) > 0.02:
        return page
    shift = ((live[0] + live[2] - x0 - x1) / 2, (live[1] + live[3] - y0 - y1) / 2)
    if max(abs(s) for s in shift) < 0.05:
        return page
    moved = tuple(replace(p, outline=p.outline.moved(*shift)) for p in page.panels)
    a, b, c, d = page.shown
    return replace(
        page,
        panels=moved,
        balloons=tuple(o.moved(*shift) for o in page.balloons),
        shown=(a + shift[0], b + shift[1], c + shift[0], d + shift[1]),
        notes=(
            *page.notes,
            f"The live box lies {_far(shift):.1f} mm off the middle of the board; it was "
            "measured from there.",
        ),
    )


def _far(shift: Point) -> float:
    return float(np.hypot(*shift))
