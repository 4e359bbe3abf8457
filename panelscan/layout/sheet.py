"""The panels of one page as arrays, laid flat, ready for geometry.

All reading rules are written for left-to-right pages. A right-to-left page is mirrored
here, once, so that its order is the exact mirror image by construction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

INSET_SHARE = 0.8
INSET_AREA = 0.7
"""A panel is inset if so much of it lies within one that is larger by this ratio."""
LAID_ON_SHARE = 0.55
LAID_ON_AREA = 0.35
"""The same for a small panel that sticks out over its host's border."""
TOUCH = 1e-6


@dataclass(frozen=True, eq=False)
class Sheet:
    """Panels of a page in upright coordinates, x growing in the direction of reading.

    Parameters
    ----------
    width, height : float
        Size of the page.
    rings : ndarray of float64, shape (N, V, 2)
        Corners of the N panels, x before y, each padded to V by repeating its last corner.
    mirrored : bool
        Whether x was flipped (right-to-left page): x here is ``width - x`` of the page.
    given_hosts : tuple of int or None
        Host of each inset where it is known already.

    Notes
    -----
    Units are those of the page; the origin is the top-left corner (top-right corner of a
    mirrored page), y runs down.
    """

    width: float
    height: float
    rings: np.ndarray
    mirrored: bool
    given_hosts: tuple[int | None, ...]

    def __len__(self) -> int:
        return len(self.rings)

    @cached_property
    def boxes(self) -> np.ndarray:
        """Bounding boxes, shape (N, 4): x_min, y_min, x_max, y_max."""
        if not len(self):
            return np.zeros((0, 4))
        return np.hstack([self.rings.min(axis=1), self.rings.max(axis=1)])

    @cached_property
    def shapes(self) -> np.ndarray:
        """The panels as valid shapely geometries, shape (N,)."""
        shapes: np.ndarray = shapely.polygons(self.rings)
        bad = ~shapely.is_valid(shapes)
        if bad.any():
            shapes[bad] = shapely.buffer(shapes[bad], 0)
        return shapes

    @cached_property
    def areas(self) -> np.ndarray:
        """Enclosed areas, shape (N,), by the shoelace rule."""
        x, y = self.rings[:, :, 0], self.rings[:, :, 1]
        cross = x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y
        result: np.ndarray = np.abs(cross.sum(axis=1)) / 2
        return result

    @cached_property
    def are_boxes(self) -> bool:
        """Whether all panels are upright rectangles."""
        size = self.boxes[:, 2:] - self.boxes[:, :2]
        return bool((np.abs(size.prod(axis=1) - self.areas) <= 1e-9 * self.areas).all())

    @cached_property
    def overlaps(self) -> dict[tuple[int, int], float]:
        """Common area of each pair of panels (i < j) whose insides meet."""
        x0, y0, x1, y1 = self.boxes.T
        wide = np.minimum(x1[:, None], x1) - np.maximum(x0[:, None], x0)
        tall = np.minimum(y1[:, None], y1) - np.maximum(y0[:, None], y0)
        slack = TOUCH * max(self.width, self.height)
        first, second = np.nonzero(np.triu((wide > slack) & (tall > slack), 1))
        if not len(first):
            return {}
        if self.are_boxes:
            areas = wide[first, second] * tall[first, second]
        else:
            areas = shapely.area(shapely.intersection(self.shapes[first], self.shapes[second]))
        least = TOUCH * self.width * self.height
        return {
            (i, j): a
            for i, j, a in zip(first.tolist(), second.tolist(), areas.tolist(), strict=True)
            if a > least
        }

    @cached_property
    def hosts(self) -> tuple[int | None, ...]:
        """Host of each inset: as given, else the panel that it lies in or mostly on.

        A panel that lies within a larger one is inset in the smallest such. One that
        sticks out, but lies mostly on larger panels, is inset in the one it covers most.
        """
        hosts = list(self.given_hosts)
        held: dict[int, list[tuple[float, int]]] = {}
        areas: list[float] = self.areas.tolist()
        for (i, j), common in self.overlaps.items():
            small, large = (i, j) if areas[i] <= areas[j] else (j, i)
            held.setdefault(small, []).append((common, large))
        for small, lies in held.items():
            if self.given_hosts[small] is None:
                hosts[small] = _host(areas, small, lies)
        return _without_loops(hosts)

    def insets_of(self, host: int) -> list[int]:
        """Panels directly inset in a panel."""
        return self._insets.get(host, [])

    @cached_property
    def _insets(self) -> dict[int, list[int]]:
        found: dict[int, list[int]] = {}
        for inset, host in enumerate(self.hosts):
            if host is not None:
                found.setdefault(host, []).append(inset)
        return found

    @cached_property
    def tops(self) -> list[int]:
        """Panels that are not insets."""
        return [i for i, h in enumerate(self.hosts) if h is None]


def _host(areas: Sequence[float], small: int, lies: list[tuple[float, int]]) -> int | None:
    """The panel that a small one is inset in, of those that it lies on."""
    area = areas[small]
    within = [
        large
        for common, large in lies
        if common >= INSET_SHARE * area and area <= INSET_AREA * areas[large]
    ]
    if within:
        return min(within, key=lambda large: (areas[large], large))
    _, large = max(lies)
    laid_on = sum(c for c, _ in lies) >= LAID_ON_SHARE * area
    return large if laid_on and area <= LAID_ON_AREA * areas[large] else None


def numbering(corners: Sequence[np.ndarray], width: float, mirrored: bool) -> list[int]:
    """Panels from top to bottom and in the direction of reading.

    Numbering them so before reading lets ties fall the same way whatever order the panels
    are given in.
    """
    if not corners:
        return []
    points = np.concatenate(corners)
    starts = np.cumsum([0, *(len(c) for c in corners[:-1])])
    (x0, y0), (x1, y1) = (f.reduceat(points, starts).T for f in (np.minimum, np.maximum))
    if mirrored:
        x0, x1 = width - x1, width - x0
    order: list[int] = np.lexsort((y1, x1, x0, y0)).tolist()
    return order


def renumbered(hosts: Sequence[int | None], order: Sequence[int]) -> list[int | None]:
    """Hosts of panels after the panels were put in another order."""
    place = {panel: k for k, panel in enumerate(order)}
    found: list[int | None] = []
    for panel in order:
        host = hosts[panel]
        found.append(None if host is None else place.get(host))
    return found


def make_sheet(
    corners: Sequence[np.ndarray],
    width: float,
    height: float,
    mirrored: bool,
    hosts: Sequence[int | None] | None = None,
) -> Sheet:
    """Sheet of panels from their corners.

    Parameters
    ----------
    corners : sequence of ndarray, each of shape (V, 2)
        Corners in upright page coordinates, x before y.
    width, height : float
        Size of the page in the same units.
    mirrored : bool
        Flip x, for a right-to-left page.
    hosts : sequence of int or None, optional
        Known hosts of insets.

    Returns
    -------
    Sheet
    """
    longest = max((len(c) for c in corners), default=3)
    rings = np.empty((len(corners), longest, 2))
    for ring, points in zip(rings, corners, strict=True):
        ring[: len(points)] = points
        ring[len(points) :] = points[-1]
    if mirrored:
        rings[:, :, 0] = width - rings[:, :, 0]
    known = tuple(hosts) if hosts is not None else (None,) * len(corners)
    return Sheet(float(width), float(height), rings, mirrored, known)


def _without_loops(hosts: list[int | None]) -> tuple[int | None, ...]:
    """Hosts with any circle of hosts opened (possible only in hand-made data)."""
    for start in range(len(hosts)):
        seen, here = {start}, hosts[start]
        while here is not None:
            if here in seen or not 0 <= here < len(hosts):
                hosts[start] = None
                break
            seen.add(here)
            here = hosts[here]
    return tuple(hosts)
