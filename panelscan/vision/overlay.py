"""Pictures of what was found: outlines, order, gutters, lettering room and doubts over the page.

The page is shown pale, so that the drawing over it reads on any art. Every meaning has a
colour and a line pattern of its own; the legend below the page lists those that occur.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from panelscan.model.grid import PageLayout
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import PageFinding, Panel, SideState
from panelscan.vision.drawing import (
    BLUE,
    GRAY,
    GREEN,
    INK,
    ORANGE,
    PAPER,
    PURPLE,
    SKY,
    VERMILION,
    YELLOW,
    Color,
    Drawing,
    smooth_path,
)
from panelscan.vision.legend import Sample, with_legend
from panelscan.vision.overlay_steps import paint_step
from panelscan.vision.trace import Trace

SMALLEST_LONG_SIDE_PX = 1100
LARGEST_LONG_SIDE_PX = 2000
WHAT = ("frame", "panels", "gutters", "room", "balloons", "order", "doubts")
SIDE_LINES: dict[SideState, tuple[Color, float, tuple[float, ...], str]] = {
    SideState.DRAWN: (BLUE, 4.0, (), "side drawn"),
    SideState.INFERRED: (VERMILION, 4.0, (13, 8), "side inferred"),
    SideState.BLEED: (GREEN, 6.0, (3, 6), "side bleeds"),
    SideState.SHARED: (PURPLE, 5.0, (20, 5, 4, 5), "side shared"),
}
UNSURE = 0.7
TAKEN = 0.1
"""Share of readers from which another way than the path is drawn."""
PARTING_DASHES = (3, 5)


def draw_page(
    image: PageImage,
    finding: PageFinding,
    layout: PageLayout | None = None,
    what: Sequence[str] = WHAT,
) -> np.ndarray:
    """Draw a finding over its page.

    Parameters
    ----------
    image : PageImage
        The page.
    finding : PageFinding
        What was found on it, in source pixels.
    layout : PageLayout or None
        Reading order and gutters (indices into ``finding.panels``, lengths in source pixels);
        without it panels carry no numbers.
    what : sequence of str
        Which of ``frame``, ``panels``, ``gutters``, ``room``, ``balloons``, ``order`` and
        ``doubts`` to draw.

    Returns
    -------
    ndarray of uint8, shape (M, N, 3)
        RGB, 1,100 to about 2,000 pixels tall or wide, legend below.

    Raises
    ------
    ValueError
        If `what` names something that cannot be drawn.
    """
    unknown = set(what) - set(WHAT)
    if unknown:
        raise ValueError(f"cannot draw {', '.join(sorted(unknown))}; there are {', '.join(WHAT)}")
    view = _View(image)
    shown: dict[str, Sample] = {}
    if "frame" in what:
        _draw_frame(view, finding, shown)
    if "gutters" in what and layout is not None:
        _draw_gutters(view, layout, shown)
    if "room" in what:
        _draw_room(view, finding.panels, shown)
    if "balloons" in what and finding.balloons:
        for balloon in finding.balloons:
            view.drawing.line(view.at(balloon), PURPLE, 2.5, (2, 4), closed=True)
        shown["balloon"] = Sample("balloon or caption", PURPLE, 2.5, (2, 4))
    if "panels" in what:
        _draw_panels(view, finding.panels, shown)
    if "order" in what and layout is not None:
        _draw_order(view, finding.panels, layout, shown)
    if "doubts" in what:
        _draw_doubts(view, finding, shown)
    return with_legend(view.drawing, list(shown.values()))


def draw_step(image: PageImage, trace: Trace, step: str) -> np.ndarray:
    """Draw the evidence of one named step of the finding.

    Parameters
    ----------
    image : PageImage
        The page.
    trace : Trace
        What the steps kept.
    step : str
        One of `panelscan.vision.trace.STEPS`.

    Returns
    -------
    ndarray of uint8, shape (M, N, 3)
        RGB, at the size the finding worked at or larger, legend below.
    """
    finding = trace.evidence("final").get("finding")
    if step == "final" and isinstance(finding, PageFinding):
        return draw_page(image, finding)
    work = trace.evidence("frame").get("working")
    if work is None or step == "frame":
        base = _View(image)
        frame = trace.evidence("frame").get("frame")
        if isinstance(frame, Outline):
            base.drawing.line(base.at(frame), ORANGE, 4.0, (16, 7), closed=True)
        return with_legend(base.drawing, [Sample("page found here", ORANGE, 4.0, (16, 7))])
    pixels, scale = _pale(work.rgb)
    drawing = Drawing(pixels, max(pixels.shape[:2]) / 1000)
    return with_legend(drawing, paint_step(drawing, trace, step, scale))


def save_png(path: Path, pixels: np.ndarray) -> None:
    """Write an RGB picture as a PNG file (any path, not only plain ASCII ones)."""
    done, data = cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))
    if not done:
        raise ValueError("the picture could not be written as PNG")
    Path(path).write_bytes(data.tobytes())


class _View:
    """The pale page and the way from source pixels onto it."""

    def __init__(self, image: PageImage) -> None:
        pixels, self.scale = _pale(image.pixels)
        self.drawing = Drawing(pixels, max(pixels.shape[:2]) / 1000)
        self.per_source = self.scale / image.reduction
        self.offset = np.array(image.offset_px)
        self.badges: np.ndarray = np.zeros((0, 2))
        self.badge_radius = 0.0

    @property
    def unit(self) -> float:
        return self.drawing.unit

    def at(self, outline: Outline | np.ndarray) -> np.ndarray:
        points = outline.array() if isinstance(outline, Outline) else np.asarray(outline, float)
        return np.asarray((points - self.offset) * self.per_source)


def _pale(pixels: np.ndarray) -> tuple[np.ndarray, float]:
    """Lighter copy with half its colour, at a size that fits a screen, and its scale."""
    rows, columns = pixels.shape[:2]
    long_side = max(rows, columns)
    scale = float(np.clip(long_side, SMALLEST_LONG_SIDE_PX, LARGEST_LONG_SIDE_PX)) / long_side
    size = max(1, round(columns * scale)), max(1, round(rows * scale))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    small = cv2.resize(pixels, size, interpolation=way)
    rgb = small if small.ndim == 3 else cv2.cvtColor(small, cv2.COLOR_GRAY2RGB)
    gray = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY).astype(np.float32)[..., None]
    pale = 96 + 0.6 * (0.5 * rgb + 0.5 * gray)
    return np.ascontiguousarray(np.clip(pale, 0, 255).astype(np.uint8)), scale


def _draw_frame(view: _View, finding: PageFinding, shown: dict[str, Sample]) -> None:
    ring = view.at(finding.frame)
    rows, columns = view.drawing.pixels.shape[:2]
    image = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]])
    if all(np.abs(image - p).sum(axis=1).min() < 3 for p in ring):
        return
    outside = np.ones((rows, columns), np.uint8)
    cv2.fillPoly(outside, [np.round(ring).astype(np.int32)], 0)
    view.drawing.wash(outside, GRAY, 0.45)
    view.drawing.line(ring, ORANGE, 2.0, (16, 7), closed=True)
    shown["frame"] = Sample("edge of the page", ORANGE, 2.0, (16, 7))


def _draw_gutters(view: _View, layout: PageLayout, shown: dict[str, Sample]) -> None:
    for gutter in layout.gutters:
        if gutter.strip is not None:
            view.drawing.fill(view.at(gutter.strip), SKY, 0.45)
            shown["gutter"] = Sample("gutter", SKY, 10.0, (), 0.55)


def _draw_room(view: _View, panels: Sequence[Panel], shown: dict[str, Sample]) -> None:
    for panel in panels:
        if panel.room is None or panel.room.free_top_share < 0.02:
            continue
        x0, y0, x1, y1 = panel.outline.bounds
        foot = y0 + panel.room.free_top_share * (y1 - y0)
        strip = Outline.box(x0, y0, x1, foot).shape.intersection(panel.outline.shape)
        for part in getattr(strip, "geoms", [strip]):
            if part.geom_type == "Polygon" and not part.is_empty:
                ring = view.at(np.asarray(part.exterior.coords))
                view.drawing.fill(ring, YELLOW, 0.28)
                view.drawing.hatch(ring, (150, 140, 20))
        shown["room"] = Sample("calm room for lettering", YELLOW, 10.0, (), 0.5)


def _draw_panels(view: _View, panels: Sequence[Panel], shown: dict[str, Sample]) -> None:
    for panel in sorted(panels, key=lambda p: p.depth):
        for burst in panel.burst:
            view.drawing.line(view.at(burst), GREEN, 2.0, (7, 4), closed=True)
            shown["burst"] = Sample("art over the border", GREEN, 2.0, (7, 4))
        ring = view.at(panel.outline)
        states = [side.state for side in panel.sides] or [SideState.DRAWN] * len(ring)
        for run, state in _runs(ring, states):
            color, width, dash, label = SIDE_LINES[state]
            view.drawing.line(run, color, width, dash)
            shown[f"side {state}"] = Sample(label, color, width, dash)
        if len(ring) <= 12:
            for corner in ring:
                view.drawing.disc(corner, 3.2 * view.unit, PAPER, INK)


def _runs(ring: np.ndarray, states: Sequence[SideState]) -> list[tuple[np.ndarray, SideState]]:
    """Neighbouring sides of one state joined, so that dashes run on round the corners."""
    n = len(ring)
    starts = [i for i in range(n) if states[i] is not states[i - 1]]
    if not starts:
        return [(np.vstack([ring, ring[:1]]), states[0])]
    runs = []
    for start, end in zip(starts, [*starts[1:], starts[0] + n], strict=True):
        index = [i % n for i in range(start, end + 1)]
        runs.append((ring[index], states[start]))
    return runs


def _draw_order(
    view: _View, panels: Sequence[Panel], layout: PageLayout, shown: dict[str, Sample]
) -> None:
    order = [i for i in layout.order if i < len(panels)]
    if not order:
        return
    places = np.array([_badge_place(view.at(panels[i].outline)) for i in order])
    radius = _badge_radius(view, [panels[i] for i in order])
    view.badges, view.badge_radius = places, radius
    if len(places) > 1:
        path = smooth_path(places)
        view.drawing.line(path, INK, 2.2, halo=1.5)
        for k in range(len(places) - 1):
            _arrow_between(view, path, places[k + 1], radius)
        shown["path"] = Sample("reading path", INK, 2.2, ())
        _draw_partings(view, layout, places, radius, shown)
    for number, (index, place) in enumerate(zip(order, places, strict=True), start=1):
        sure = panels[index].confidence >= UNSURE
        view.drawing.disc(place, radius, PAPER if sure else ORANGE, INK)
        view.drawing.words(str(number), place, radius * 1.2, halo=False)
        if not sure:
            text = f"{100 * panels[index].confidence:.0f} %"
            below = place + np.array([0, radius * 1.75])
            view.drawing.words(text, below, radius * 0.8)
            shown["unsure"] = Sample("panel it is less sure of", ORANGE, 10.0, (), 1.0)


def _draw_partings(
    view: _View,
    layout: PageLayout,
    places: np.ndarray,
    radius: float,
    shown: dict[str, Sample],
) -> None:
    """Ways that a good share of readers take instead of the path, bowed away from it."""
    for parting in layout.partings:
        if parting.probability < TAKEN or max(parting.first, parting.second) >= len(places):
            continue
        end = places[parting.second]
        start = places[parting.first if parting.panel is None else parting.panel]
        run = end - start
        bow = np.array([run[1], -run[0]]) * 0.14
        way = smooth_path(np.array([start, (start + end) / 2 + bow, end]))
        view.drawing.line(way, VERMILION, 2.6, PARTING_DASHES, halo=1.5)
        _arrow_between(view, way, end, radius, VERMILION)
        text = f"{100 * parting.probability:.0f} %"
        view.drawing.words(text, way[len(way) // 2], radius * 0.8)
        shown["parting"] = Sample("way some readers take", VERMILION, 2.6, PARTING_DASHES)


def _badge_place(ring: np.ndarray) -> np.ndarray:
    """Middle of the panel; for odd shapes the place deepest inside."""
    x0, y0 = ring.min(axis=0)
    x1, y1 = ring.max(axis=0)
    middle = np.array([(x0 + x1) / 2, y0 + 0.46 * (y1 - y0)])
    shape = ring.astype(np.float32)
    if cv2.pointPolygonTest(shape, (float(middle[0]), float(middle[1])), True) > 0.15 * (x1 - x0):
        return middle
    grid = np.stack(np.meshgrid(np.linspace(x0, x1, 13), np.linspace(y0, y1, 13)), -1).reshape(
        -1, 2
    )
    depth = [cv2.pointPolygonTest(shape, (float(x), float(y)), True) for x, y in grid]
    return np.asarray(grid[int(np.argmax(depth))])


def _badge_radius(view: _View, panels: Sequence[Panel]) -> float:
    small = min(min(p.outline.width, p.outline.height) for p in panels) * view.per_source
    return float(np.clip(0.24 * small, 11 * view.unit, 24 * view.unit))


def _arrow_between(
    view: _View, path: np.ndarray, end: np.ndarray, radius: float, color: Color = INK
) -> None:
    """Arrowhead where the path reaches the badge at its end."""
    at = int(np.argmin(np.hypot(*(path - end).T)))
    while at > 0 and np.hypot(*(path[at] - end)) < radius + 2 * view.unit:
        at -= 1
    view.drawing.arrow(path[at], end - path[at], color, 12 * view.unit)


def _draw_doubts(view: _View, finding: PageFinding, shown: dict[str, Sample]) -> None:
    size = 15 * view.unit
    rows, columns = view.drawing.pixels.shape[:2]
    for doubt in finding.doubts:
        place = np.array([columns / 2, size * 1.6])
        if doubt.place is not None:
            place = _beside_badges(view, view.at(np.array([doubt.place]))[0], size)
        x = float(np.clip(place[0], size, columns - size))
        y = float(np.clip(place[1], size, rows - size))
        diamond = np.array([[x, y - size], [x + size, y], [x, y + size], [x - size, y]])
        view.drawing.fill(diamond, YELLOW)
        view.drawing.line(diamond, INK, 2.0, halo=1.5, closed=True)
        view.drawing.words("?", (x, y), size * 1.25, halo=False)
        shown["doubt"] = Sample("worth a look", YELLOW, 10.0, (), 1.0)


def _beside_badges(view: _View, place: np.ndarray, size: float) -> np.ndarray:
    """Place for a mark, up and to the right of a number that it would cover."""
    if not len(view.badges):
        return place
    nearest = view.badges[int(np.argmin(np.hypot(*(view.badges - place).T)))]
    apart = view.badge_radius + size
    if np.hypot(*(nearest - place)) >= apart:
        return place
    return np.asarray(nearest + np.array([0.8, -0.8]) * apart)
