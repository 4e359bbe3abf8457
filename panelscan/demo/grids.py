"""A grammar of page grids: tiers, columns, stacks, slants, insets, overlaps, bleeds, shapes.

Plans are made left to right and mirrored for right-to-left books. Panels stand in reading
order by construction: tier by tier, in a tier side by side, a stack from top to bottom.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import affinity

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
            _, y0, _, y1 = cell.bounds
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
