"""Changing a planned grid: mirror, bleeds, splash, insets, overlaps, other shapes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from panelscan.demo.canvas import oval_points
from panelscan.demo.grids import Box, PagePlan, PanelPlan, corners_of


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
