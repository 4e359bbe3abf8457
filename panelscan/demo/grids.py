# ruff: noqa: RUF059
"""A grammar of page grids: tiers, columns, stacks, slants, insets, overlaps, bleeds, shapes.

Plans are made left to right and mirrored for right-to-left books. Panels stand in reading
order by construction: tier by tier, in a tier side by side, a stack from top to bottom.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import affinity

from panelscan.demo.canvas import oval_points
from panelscan.demo.script import Shot

Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class PanelPlan:
    """A panel to be drawn: its few planned corners in page pixels, and what is special.

    Parameters
    ----------
    points : ndarray, shape (N, 2)
        Planned frame.
    bleed : tuple of str
        Page edges that it runs off.
    host : int or None
        Place of the panel that it is inset in.
    border : str
        ``"ruled"``, ``"hand"``, ``"soft"`` or ``"none"``.
    open_sides : tuple of int
        Sides (from corner i to i + 1) that are not drawn.
    depth : int
        0 for the back.
    kind : str
        ``"polygon"``, ``"round"``, ``"rounded"``, ``"jagged"``.
    scene : str
        Scene asked for, or empty.
    shot : Shot or None
        What a script asks for.
    """

    points: np.ndarray
    bleed: tuple[str, ...] = ()
    host: int | None = None
    border: str = "ruled"
    open_sides: tuple[int, ...] = ()
    depth: int = 0
    kind: str = "polygon"
    scene: str = ""
    shot: Shot | None = None

    @property
    def box(self) -> Box:
        """Bounding box."""
        (x0, y0), (x1, y1) = self.points.min(axis=0), self.points.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    @property
    def shape(self) -> shapely.Polygon:
        """The plan as a shapely polygon."""
        return shapely.Polygon(self.points)


@dataclass(frozen=True, eq=False)
class PagePlan:
    """A page to be drawn: its size, its panels in reading order, gutters and margins.

    ``text_rooms`` are places below panels for lines of narration.
    """

    width: float
    height: float
    panels: tuple[PanelPlan, ...]
    live: Box
    gutter: float
    also_fine: tuple[tuple[int, ...], ...] = ()
    ambiguous: bool = False
    notes: str = ""
    text_rooms: tuple[Box, ...] = ()


@dataclass(frozen=True)
class Idea:
    """What a page's grid should be like.

    Parameters
    ----------
    tiers : tuple of int
        Panels per tier from the top; drawn by chance where empty.
    gutter_share : tuple of float
        Gutter between tiers and in a tier, as shares of the page's width.
    tier_tilt, column_tilt : float
        Greatest slants in degrees.
    regular : float
        Chance that all tiers, and all panels of a tier, are of one size.
    stack : float
        Chance that a panel of a tier is parted into a stack.
    tall : float
        Chance of one panel of full height beside the tiers.
    most : int
        Most panels on the page.
    """

    tiers: tuple[int, ...] = ()
    gutter_share: tuple[float, float] = (0.018, 0.014)
    tier_tilt: float = 0.0
    column_tilt: float = 0.0
    regular: float = 0.35
    stack: float = 0.2
    tall: float = 0.08
    most: int = 12
    margins: tuple[float, float, float, float] = field(default=(0.07, 0.05, 0.07, 0.06))


def make_grid(idea: Idea, width: float, height: float, rng: np.random.Generator) -> PagePlan:
    """A page plan after an idea; sizes in pixels."""
    left, top, right, bottom = idea.margins
    live = (left * width, top * height, width * (1 - right), height * (1 - bottom))
    gutter_y, gutter_x = (g * width for g in idea.gutter_share)
    area = shapely.box(*live)
    tiers = idea.tiers or _chance_tiers(rng, idea.most)
    shapes: list[shapely.Polygon] = []
    if not idea.tiers and rng.random() < idea.tall and len(tiers) > 1:
        share = rng.uniform(0.28, 0.4)
        tilt = float(rng.uniform(-1, 1)) * idea.column_tilt * 0.4
        first = rng.random() < 0.5
        a, b = cut(area, "down", share if first else 1 - share, gutter_x, tilt)
        body = _tier_shapes(
            b if first else a, tuple(min(n, 2) for n in tiers), idea, gutter_y, gutter_x, rng
        )
        shapes = [a, *body] if first else [*body, b]
    else:
        shapes = _tier_shapes(area, tiers, idea, gutter_y, gutter_x, rng)
    panels = tuple(PanelPlan(corners_of(s)) for s in shapes)
    return PagePlan(width, height, panels, live, gutter_x)


def _chance_tiers(rng: np.random.Generator, most: int) -> tuple[int, ...]:
    count = int(rng.choice([1, 2, 3, 4, 5], p=[0.05, 0.2, 0.4, 0.27, 0.08]))
    tiers = [int(rng.choice([1, 2, 3, 4], p=[0.3, 0.4, 0.24, 0.06])) for _ in range(count)]
    while sum(tiers) > most:
        tiers[int(np.argmax(tiers))] -= 1
    return tuple(max(n, 1) for n in tiers)


def _tier_shapes(
    area: shapely.Polygon, tiers: Sequence[int], idea: Idea, gutter_y: float, gutter_x: float,
    rng: np.random.Generator,
) -> list[shapely.Polygon]:  # fmt: skip
    same = rng.random() < idea.regular
    shapes: list[shapely.Polygon] = []
    rows = cut_many(
        area, "across", _shares(len(tiers), same, rng, 0.55), gutter_y, idea.tier_tilt, rng
    )
    for row, count in zip(rows, tiers, strict=True):
        columns = _shares(count, same or rng.random() < 0.3, rng, 0.5)
        cells = cut_many(row, "down", columns, gutter_x, idea.column_tilt, rng)
        stacked = -1
        if count >= 2 and rng.random() < idea.stack:
            stacked = int(rng.choice([0, count - 1]))
        for k, cell in enumerate(cells):
            x0, y0, x1, y1 = cell.bounds
            if k == stacked and (y1 - y0) > 0.22 * area.bounds[3]:
                parts = 2 if (y1 - y0) < 0.45 * area.bounds[3] or rng.random() < 0.7 else 3
                tilt = idea.tier_tilt * 0.6
                shapes += cut_many(
                    cell,
                    "across",
                    _shares(parts, rng.random() < 0.4, rng, 0.6),
                    gutter_y,
                    tilt,
                    rng,
                )
            else:
                shapes.append(cell)
    return shapes


def _shares(count: int, same: bool, rng: np.random.Generator, least: float) -> np.ndarray:
    if same or count == 1:
        return np.full(count, 1.0 / count)
    parts = rng.uniform(least, 1.45, count)
    return np.asarray(parts / parts.sum())


def cut_many(
    shape: shapely.Polygon, way: str, shares: np.ndarray, gutter: float, tilt: float,
    rng: np.random.Generator,
) -> list[shapely.Polygon]:  # fmt: skip
    """Part a polygon one after the other along ``"across"`` or ``"down"`` cuts."""
    parts = []
    rest = shape
    left = 1.0
    for share in shares[:-1]:
        slope = float(rng.uniform(-tilt, tilt)) if rng.random() < 0.85 else 0.0
        first, rest = cut(rest, way, float(share / left), gutter, slope)
        parts.append(first)
        left -= float(share)
    return [*parts, rest]


def cut(
    shape: shapely.Polygon, way: str, share: float, gutter: float, tilt_deg: float = 0.0
) -> tuple[shapely.Polygon, shapely.Polygon]:
    """Part a polygon in two by a gutter.

    Parameters
    ----------
    shape : shapely polygon
        What is cut.
    way : str
        ``"across"`` parts top from bottom, ``"down"`` left from right.
    share : float
        Place of the cut, as a share of the polygon's extent.
    gutter : float
        Width that is taken out; 0 makes both parts touch.
    tilt_deg : float
        Slant of the cut.
    """
    x0, y0, x1, y1 = shape.bounds
    reach = 4 * max(x1 - x0, y1 - y0)
    half = max(gutter, 1e-6) / 2
    if way == "across":
        middle = ((x0 + x1) / 2, y0 + (y1 - y0) * share)
        strip = shapely.box(
            middle[0] - reach, middle[1] - half, middle[0] + reach, middle[1] + half
        )
    else:
        middle = (x0 + (x1 - x0) * share, (y0 + y1) / 2)
        strip = shapely.box(
            middle[0] - half, middle[1] - reach, middle[0] + half, middle[1] + reach
        )
    strip = affinity.rotate(strip, tilt_deg, origin=middle)
    parts = [g for g in getattr(shape.difference(strip), "geoms", []) if g.area > 1]
    if len(parts) != 2:
        raise ValueError("a cut must part the panel in two")
    axis = 1 if way == "across" else 0
    first, second = sorted(parts, key=lambda g: g.centroid.coords[0][axis])
    return first, second


def corners_of(shape: shapely.Polygon) -> np.ndarray:
    """Corners of a polygon without those that lie on a straight side, from the top left on."""
    ring = np.asarray(shape.simplify(0.05).exterior.coords)[:-1]
    before, after = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    turn = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    flat = turn / (np.hypot(*before.T) * np.hypot(*after.T) + 1e-9) < 0.004
    ring = ring[~flat]
    area = np.sum(ring[:, 0] * np.roll(ring[:, 1], -1) - ring[:, 1] * np.roll(ring[:, 0], -1))
    if area < 0:
        ring = ring[::-1]
    return np.roll(ring, -int(np.argmin(ring.sum(axis=1))), axis=0)


def mirrored(plan: PagePlan) -> PagePlan:
    """The plan for a right-to-left book."""
    flip = {"left": "right", "right": "left"}
    panels = []
    for p in plan.panels:
        n = len(p.points)
        points = np.stack([plan.width - p.points[:, 0], p.points[:, 1]], axis=1)[::-1]
        sides = tuple((n - 2 - k) % n for k in p.open_sides)
        panels.append(
            replace(
                p, points=points, open_sides=sides, bleed=tuple(flip.get(b, b) for b in p.bleed)
            )
        )
    x0, y0, x1, y1 = plan.live
    return replace(plan, panels=tuple(panels), live=(plan.width - x1, y0, plan.width - x0, y1))


def with_bleeds(
    plan: PagePlan, edges: Sequence[str], rng: np.random.Generator, share: float = 1.0
) -> PagePlan:
    """Run the panels that stand on a live edge off the page there.

    ``share`` below 1 leaves some of them inside the live area.
    """
    x0, y0, x1, y1 = plan.live
    lines = {"left": (0, x0, 0.0), "right": (0, x1, plan.width), "top": (1, y0, 0.0),
             "bottom": (1, y1, plan.height)}  # fmt: skip
    panels = []
    for p in plan.panels:
        points, runs = p.points.copy(), list(p.bleed)
        if rng.random() < share and p.host is None and p.kind == "polygon":
            for edge in edges:
                axis, at, to = lines[edge]
                on = np.abs(points[:, axis] - at) < 0.6
                if on.sum() >= 2:
                    points = _run_off(points, on, axis, to)
                    runs.append(edge)
        panels.append(replace(p, points=points, bleed=tuple(runs)))
    return replace(plan, panels=tuple(panels))


def _run_off(points: np.ndarray, on: np.ndarray, axis: int, to: float) -> np.ndarray:
    # A slanted side keeps its slope until it reaches the page's edge.
    moved = points.copy()
    n = len(points)
    for i in np.flatnonzero(on):
        for j in ((i - 1) % n, (i + 1) % n):
            if not on[j]:
                d = points[i] - points[j]
                if abs(d[axis]) > 1e-6:
                    moved[i] = points[j] + d * ((to - points[j, axis]) / d[axis])
        moved[i, axis] = to
    return moved


def splash(plan: PagePlan) -> PagePlan:
    """One picture over the whole page, off all four edges."""
    w, h = plan.width, plan.height
    points = np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=np.float64)
    panel = PanelPlan(points, bleed=("left", "top", "right", "bottom"), border="none")
    return replace(plan, panels=(panel,))


def with_insets(
    plan: PagePlan, rng: np.random.Generator, most: int = 2, least: int = 1
) -> PagePlan:
    """Lay small panels into the largest one; they are read after their host."""
    areas = [p.shape.area for p in plan.panels]
    host = int(np.argmax(areas))
    x0, y0, x1, y1 = plan.panels[host].box
    w, h = x1 - x0, y1 - y0
    count = int(rng.integers(least, most + 1))
    spots = [(0, 1), (1, 1), (1, 0)]
    stands = [spots[k] for k in rng.permutation(3)[:count]]
    # Read as they lie: the upper ones first, then from the left.
    stands.sort(key=lambda s: (s[1], s[0]))
    gap = max(plan.gutter, 0.012 * plan.width)
    added = []
    for sx, sy in stands:
        iw, ih = w * rng.uniform(0.24, 0.4), h * rng.uniform(0.24, 0.38)
        out = gap * 1.3 if rng.random() < 0.25 else -gap * rng.uniform(0.8, 2.2)
        left = x1 - iw + out if sx else x0 - out
        top = y1 - ih + min(out, gap * 0.6) if sy else y0 - min(out, gap * 0.6)
        left = float(np.clip(left, 2, plan.width - iw - 2))
        top = float(np.clip(top, 2, plan.height - ih - 2))
        shape = shapely.box(left, top, left + iw, top + ih)
        added.append(PanelPlan(corners_of(shape), host=host, depth=1))
    panels = list(plan.panels)
    panels[host + 1 : host + 1] = added
    shifted = tuple(
        replace(p, host=p.host + count) if p.host is not None and p.host > host else p
        for p in panels
    )
    return replace(plan, panels=shifted)


def with_overlap(plan: PagePlan, rng: np.random.Generator) -> PagePlan:
    """Let a panel lie over its neighbour in the same tier, a little lower or higher."""
    pairs = [
        k for k in range(len(plan.panels) - 1)
        if _side_by_side(plan.panels[k].box, plan.panels[k + 1].box)
    ]  # fmt: skip
    if not pairs:
        return plan
    k = int(rng.choice(pairs))
    back, front = plan.panels[k], plan.panels[k + 1]
    reach = plan.gutter + (back.box[2] - back.box[0]) * rng.uniform(0.12, 0.25)
    points = front.points.copy()
    points[points[:, 0] < np.mean([front.box[0], front.box[2]]), 0] -= reach
    inset = (front.box[3] - front.box[1]) * rng.uniform(0.08, 0.2)
    points[points[:, 1] < np.mean([front.box[1], front.box[3]]), 1] += inset
    panels = list(plan.panels)
    panels[k + 1] = replace(front, points=points, depth=back.depth + 1)
    return replace(plan, panels=tuple(panels))


def _side_by_side(a: Box, b: Box) -> bool:
    common = min(a[3], b[3]) - max(a[1], b[1])
    return common > 0.8 * max(a[3] - a[1], b[3] - b[1]) and b[0] > a[0] and a[3] - a[1] > 0


def with_shapes(plan: PagePlan, rng: np.random.Generator) -> PagePlan:
    """Give some panels another shape: round, rounded, cut corner, jagged, or an L."""
    panels = list(plan.panels)
    if rng.random() < 0.3:
        l_shaped = _l_shape(plan, rng)
        if l_shaped is not None:
            return l_shaped
    if rng.random() < 0.3:
        return replace(plan, panels=tuple(shaped(p, "rounded", rng) for p in panels))
    count = max(1, int(len(panels) * rng.uniform(0.2, 0.7)))
    for k in rng.permutation(len(panels))[:count]:
        kind = str(rng.choice(["round", "rounded", "pentagon", "pentagon", "jagged"]))
        panels[k] = shaped(panels[k], kind, rng)
    return replace(plan, panels=tuple(panels))


def shaped(p: PanelPlan, kind: str, rng: np.random.Generator) -> PanelPlan:
    """A panel made ``"round"``, ``"rounded"``, ``"jagged"`` or ``"pentagon"`` in its place."""
    x0, y0, x1, y1 = p.box
    w, h = x1 - x0, y1 - y0
    if kind == "round":
        rx, ry = w / 2, h / 2
        if 0.75 < w / h < 1.33:
            rx = ry = min(rx, ry)
        return replace(
            p, points=oval_points((x0 + x1) / 2, (y0 + y1) / 2, rx, ry, n=48), kind="round"
        )
    if kind == "rounded":
        r = min(w, h) * rng.uniform(0.06, 0.2)
        shape = p.shape.buffer(-r, join_style="mitre").buffer(r, quad_segs=5)
        if shape.is_empty or shape.geom_type != "Polygon":
            return p
        return replace(p, points=np.asarray(shape.exterior.coords)[:-1][::-1], kind="rounded")
    if kind == "jagged":
        inner = shapely.Polygon(p.points).buffer(-min(w, h) * 0.035)
        ring = inner.exterior
        n = int(np.clip(ring.length / (min(w, h) * 0.09), 30, 90)) // 2 * 2
        at = [ring.interpolate(t, normalized=True) for t in np.linspace(0, 1, n, endpoint=False)]
        q = np.array([(a.x, a.y) for a in at])
        out = (q - q.mean(axis=0)) / np.hypot(*(q - q.mean(axis=0)).T)[:, None]
        swing = (
            np.where(np.arange(n) % 2 == 0, 1.0, -1.0)
            * min(w, h)
            * 0.022
            * rng.uniform(0.5, 1.3, n)
        )
        return replace(p, points=(q + out * swing[:, None])[::-1], kind="jagged", border="none")
    points = p.points
    k = int(rng.integers(len(points)))
    a, b, c = points[k - 1], points[k], points[(k + 1) % len(points)]
    t, u = rng.uniform(0.15, 0.45, 2)
    cut_off = np.array([b + (a - b) * t, b + (c - b) * u])
    return replace(p, points=np.concatenate([points[:k], cut_off, points[k + 1 :]]))


def _l_shape(plan: PagePlan, rng: np.random.Generator) -> PagePlan | None:
    k = int(np.argmax([p.shape.area for p in plan.panels]))
    x0, y0, x1, y1 = plan.panels[k].box
    w, h = x1 - x0, y1 - y0
    if w < plan.width * 0.35 or h < plan.height * 0.15:
        return None
    small = shapely.box(x0 + w * rng.uniform(0.5, 0.65), y0 + h * rng.uniform(0.45, 0.6), x1, y1)
    rest = plan.panels[k].shape.difference(small.buffer(max(plan.gutter, 2), join_style="mitre"))
    if rest.geom_type != "Polygon":
        return None
    panels = list(plan.panels)
    panels[k : k + 1] = [PanelPlan(corners_of(rest)), PanelPlan(corners_of(small))]
    return replace(plan, panels=tuple(panels))
