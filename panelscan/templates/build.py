"""A placed grid made into a layered page: which marks lie on which layer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely import LineString, Polygon, box

from panelscan.layout.lettering_room import clear_mm, leading_mm, lettering_room
from panelscan.model.formats import Box, PageFormat
from panelscan.model.outline import Point
from panelscan.templates.borders import border_strokes
from panelscan.templates.layers import (
    DEEP_BLUE,
    NON_PHOTO_BLUE,
    PALE_BLUE,
    WHITE,
    Fill,
    Layer,
    LayeredPage,
    LayerKey,
    Mark,
    Picture,
    Stroke,
)
from panelscan.templates.options import TemplateOptions
from panelscan.templates.placement import Placement
from panelscan.templates.rough import laid_rough
from panelscan.templates.strokes import text_strokes, text_width

GUIDE_MM = 0.2
NUMBER_MM = 5.0


def build_page(placement: Placement, options: TemplateOptions) -> LayeredPage:
    """The page with all its layers.

    Parameters
    ----------
    placement : Placement
        From `panelscan.templates.place.place`.
    options : TemplateOptions
        Which layers, and how.

    Returns
    -------
    LayeredPage
        Millimetres on the sheet.

    Examples
    --------
    >>> from panelscan.model.formats import US_PRINT
    >>> from panelscan.model.grid import Grid, GridPanel
    >>> from panelscan.model.outline import Outline
    >>> from panelscan.templates.place import place
    >>> grid = Grid((GridPanel(Outline.box(0.1, 0.1, 0.9, 0.9)),), 0.65)
    >>> page = build_page(place(grid, US_PRINT), TemplateOptions())
    >>> [layer.key.value for layer in page.layers][-2:]
    ['borders', 'order-numbers']
    """
    page = placement.page_format
    dx, dy = page.trim_origin_mm
    layers = [
        replace(layer, marks=tuple(_moved(mark, dx, dy) for mark in layer.marks))
        for layer in _layers(placement, options)
        if not options.layers or layer.key in options.layers
    ]
    w, h = page.trim_mm
    return LayeredPage(
        size_mm=page.sheet_mm,
        trim_box=(dx, dy, dx + w, dy + h),
        bleed_box=_shifted(page.bleed_box_mm, dx, dy),
        layers=tuple(layers),
        title=options.title or page.title,
    )


def _layers(placement: Placement, options: TemplateOptions) -> list[Layer]:
    """All layers wanted, bottom first, in the trim's frame."""
    page = placement.page_format
    border = page.border_mm if options.border_mm is None else options.border_mm
    makers: list[tuple[LayerKey, bool, Callable[[], Sequence[Mark]]]] = [
        (LayerKey.PAPER, True, lambda: [Fill((_ring(_sheet(page)),), WHITE)]),
        (
            LayerKey.ROUGH_UNDERNEATH,
            options.rough is not None,
            lambda: _rough(placement, options),
        ),
        (LayerKey.LETTERING, options.lettering, lambda: _lettering(placement, options, border)),
        (LayerKey.GUIDES, options.guides, lambda: _guides(page)),
        (LayerKey.MASKS, options.masks, lambda: _masks(placement)),
        (LayerKey.ROUGHS, True, list),
        (LayerKey.PENCILS, True, list),
        (LayerKey.INKS, True, list),
        (LayerKey.BORDERS, True, lambda: border_strokes(placement.panels, border)),
        (LayerKey.NUMBERS, options.numbers, lambda: _numbers(placement, border)),
    ]
    return [
        Layer(key, tuple(make()), visible=key is not LayerKey.MASKS)
        for key, wanted, make in makers
        if wanted
    ]


def _sheet(page: PageFormat) -> Box:
    """The whole sheet in the trim's frame."""
    (dx, dy), (w, h) = page.trim_origin_mm, page.sheet_mm
    return -dx, -dy, w - dx, h - dy


def _ring(b: Box) -> tuple[Point, ...]:
    return (b[0], b[1]), (b[2], b[1]), (b[2], b[3]), (b[0], b[3])


def _guides(page: PageFormat) -> list[Mark]:
    """Trim (solid), bleed and live area (long and short dashes), safe box, fold."""
    inset = GUIDE_MM / 2 if page.board_mm is None else 0.0
    x0, y0, x1, y1 = page.bleed_box_mm
    bleed = (x0 + inset, y0 + inset, x1 - inset, y1 - inset)
    marks: list[Mark] = [Stroke(_ring((0.0, 0.0, *page.trim_mm)), GUIDE_MM, NON_PHOTO_BLUE, True)]
    if page.bleed_mm > 0:
        marks.append(Stroke(_ring(bleed), GUIDE_MM, NON_PHOTO_BLUE, True, (4.0, 2.0)))
    marks.append(Stroke(_ring(page.live_box_mm), GUIDE_MM, NON_PHOTO_BLUE, True, (2.0, 1.0)))
    if page.safe_mm is not None:
        marks.append(Stroke(_ring(page.safe_box_mm), GUIDE_MM, NON_PHOTO_BLUE, True, (0.8, 0.8)))
    if page.fold_x_mm is not None:
        fold = ((page.fold_x_mm, y0), (page.fold_x_mm, y1))
        marks.append(Stroke(fold, GUIDE_MM, NON_PHOTO_BLUE, False, (6.0, 1.5)))
    return marks


def _lettering(placement: Placement, options: TemplateOptions, border: float) -> list[Mark]:
    """A ruled strip at each panel's top; panels in front are cut out of those behind."""
    marks: list[Mark] = []
    for i, panel in enumerate(placement.panels):
        words = options.words[i] if i < len(options.words) else None
        shape = panel.outline.shape
        for other in placement.panels:
            if other.depth > panel.depth:
                shape = shape.difference(other.outline.shape)
        room = None
        for part in sorted(getattr(shape, "geoms", [shape]), key=lambda p: -p.area)[:1]:
            room = lettering_room(part, placement.page_format, words, border)
        if room is not None:
            marks.append(Stroke(_rings(room)[0], GUIDE_MM, NON_PHOTO_BLUE, True))
            marks += _rules(room, leading_mm(placement.page_format))
    return marks


def _rules(room: Polygon, pitch_mm: float) -> list[Mark]:
    """Rules across the room, one line of lettering apart: they hide no rough beneath."""
    x0, y0, x1, y1 = room.bounds
    marks: list[Mark] = []
    for n in range(1, int((y1 - y0) / pitch_mm) + 1):
        y = y0 + n * pitch_mm
        cut = room.intersection(LineString([(x0 - 1, y), (x1 + 1, y)]))
        for part in getattr(cut, "geoms", [cut]):
            if isinstance(part, LineString) and part.length > 1.0:
                ends = tuple((x, y) for x, y in part.coords)
                marks.append(Stroke(ends, GUIDE_MM / 2, PALE_BLUE))
    return marks


def _rings(shape: Polygon) -> tuple[tuple[Point, ...], ...]:
    rings = [shape.exterior, *shape.interiors]
    return tuple(tuple((x, y) for x, y in ring.coords[:-1]) for ring in rings)


def _masks(placement: Placement) -> list[Mark]:
    """Each panel's visible area filled, to select it by."""
    marks: list[Mark] = []
    for panel in placement.panels:
        shape = panel.outline.shape
        for other in placement.panels:
            if other.depth > panel.depth:
                shape = shape.difference(other.outline.shape)
        for part in getattr(shape, "geoms", [shape]):
            if isinstance(part, Polygon) and not part.is_empty:
                marks.append(Fill(_rings(part)))
    return marks


def _numbers(placement: Placement, border: float) -> list[Mark]:
    """Each panel's place in the order, from 1, at its upper left inside the safe box."""
    page = placement.page_format
    safe = box(*page.safe_box_mm)
    clear = clear_mm(page) + border
    marks: list[Mark] = []
    for i, panel in enumerate(placement.panels):
        text = str(i + 1)
        inner = panel.outline.shape.buffer(-clear, join_style="mitre").intersection(safe)
        if inner.is_empty:
            inner = panel.outline.shape
        height = min(NUMBER_MM, max(1.0, (inner.bounds[3] - inner.bounds[1]) * 0.6))
        x, y = _upper_left(inner, text_width(text, height), height)
        for stroke in text_strokes(text, (x, y), height):
            marks.append(Stroke(stroke, height * 0.11, DEEP_BLUE))
    return marks


def _upper_left(inner: Polygon, width: float, height: float) -> Point:
    """Topmost and then leftmost place in the shape where a box of that size fits."""
    x0, y0, x1, y1 = inner.bounds
    for down in range(8):
        y = y0 + down * (y1 - y0 - height) / 8
        band = inner.intersection(box(x0, y, x1, y + height))
        for across in range(12):
            x = x0 + across * (x1 - x0 - width) / 12
            if band.buffer(1e-6).contains(box(x, y, x + width, y + height)):
                return x, y
    spot = inner.representative_point()
    return spot.x - width / 2, spot.y - height / 2


def _rough(placement: Placement, options: TemplateOptions) -> list[Mark]:
    """The artist's rough, in place and lightened."""
    if options.rough is None:
        return []
    return [laid_rough(options.rough, placement, options.ppi)]


def _moved(mark: Mark, dx: float, dy: float) -> Mark:
    """The mark shifted from the trim's frame to the sheet's."""
    if isinstance(mark, Picture):
        return Picture(mark.pixels, _shifted(mark.box, dx, dy))
    if isinstance(mark, Fill):
        rings = tuple(tuple((x + dx, y + dy) for x, y in ring) for ring in mark.rings)
        return replace(mark, rings=rings)
    return replace(mark, points=tuple((x + dx, y + dy) for x, y in mark.points))


def _shifted(b: Box, dx: float, dy: float) -> Box:
    return b[0] + dx, b[1] + dy, b[2] + dx, b[3] + dy
