"""Grids to choose from, in columns: the finder's own view of a library, or of any grids."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from panelscan.finder.page_names import PageNames
from panelscan.model.grid import Grid
from panelscan.model.page import PageEdge, ReadingDirection

EDGES = tuple(PageEdge)


@dataclass(frozen=True, eq=False)
class Shelf:
    """G grids with P panels in all, panels of a grid side by side and in reading order.

    Parameters
    ----------
    pages : PageNames, length G
        Identity and name of the page that each grid was taken from.
    starts : ndarray of int, shape (G + 1,)
        Grid g owns panels ``starts[g]`` up to, without, ``starts[g + 1]``.
    boxes : ndarray of float, shape (P, 4)
        ``x_min, y_min, x_max, y_max`` in page-relative units.
    areas : ndarray of float, shape (P,)
        Share of the page's area.
    bleeds : ndarray of bool, shape (P, 4)
        Whether the panel runs off the left, top, right, bottom edge.
    aspect : ndarray of float, shape (G,)
        Width of the page divided by its height.
    clarity : ndarray of float, shape (G,)
        How surely readers follow the order, 0..1.
    rtl : ndarray of bool, shape (G,)
        Read from right to left.
    """

    pages: PageNames
    starts: np.ndarray
    boxes: np.ndarray
    areas: np.ndarray
    bleeds: np.ndarray
    aspect: np.ndarray
    clarity: np.ndarray
    rtl: np.ndarray

    def __len__(self) -> int:
        return len(self.pages)

    @classmethod
    def from_grids(
        cls,
        grids: Sequence[Grid],
        page_ids: Sequence[str] | None = None,
        names: Sequence[str] | None = None,
        clarity: Sequence[float] | None = None,
    ) -> Shelf:
        """Columns of grids that are at hand as objects.

        Examples
        --------
        >>> from panelscan.model.grid import GridPanel
        >>> from panelscan.model.outline import Outline
        >>> shelf = Shelf.from_grids([Grid((GridPanel(Outline.box(0, 0, 1, 1)),))])
        >>> shelf.panel_count.tolist(), shelf.room.tolist()
        ([1], [210.0])
        """
        panels = [p for g in grids for p in g.panels]
        ids = list(page_ids) if page_ids is not None else [f"grid-{i}" for i in range(len(grids))]
        return cls(
            pages=PageNames.of(ids, names),
            starts=np.cumsum([0, *(len(g) for g in grids)]),
            boxes=np.array([p.outline.bounds for p in panels], dtype=float).reshape(-1, 4),
            areas=np.array([p.outline.area for p in panels], dtype=float),
            bleeds=np.array([[e in p.bleed for e in EDGES] for p in panels], dtype=bool).reshape(
                -1, 4
            ),
            aspect=np.array([g.aspect for g in grids], dtype=float),
            clarity=np.array(clarity if clarity is not None else [1.0] * len(grids), dtype=float),
            rtl=np.array([g.direction is ReadingDirection.RTL for g in grids], dtype=bool),
        )

    @cached_property
    def panel_count(self) -> np.ndarray:
        """Panels of each grid, shape (G,)."""
        counts: np.ndarray = np.diff(self.starts)
        return counts

    @cached_property
    def owner(self) -> np.ndarray:
        """Grid of each panel, shape (P,)."""
        return np.repeat(np.arange(len(self)), self.panel_count)

    @cached_property
    def share(self) -> np.ndarray:
        """Each panel's share of the area of its page's panels together, shape (P,)."""
        total = np.bincount(self.owner, weights=self.areas, minlength=len(self))
        shares: np.ndarray = self.areas / total[self.owner]
        return shares

    @cached_property
    def room(self) -> np.ndarray:
        """Words of lettering that each panel holds, shape (P,)."""
        from panelscan.finder.room import room_words

        return room_words(self.share, 1.0)

    @cached_property
    def shape(self) -> np.ndarray:
        """True width of each panel divided by its height, shape (P,)."""
        width = (self.boxes[:, 2] - self.boxes[:, 0]) * self.aspect[self.owner]
        ratio: np.ndarray = width / np.maximum(self.boxes[:, 3] - self.boxes[:, 1], 1e-9)
        return ratio

    def of_count(self, count: int) -> np.ndarray:
        """Indices of the grids with `count` panels."""
        return np.flatnonzero(self.panel_count == count)

    def panels_of(self, grids: np.ndarray) -> np.ndarray:
        """Indices of the panels of grids that all have the same number n, shape (len(grids), n)."""
        count = int(self.panel_count[grids[0]]) if len(grids) else 0
        index: np.ndarray = self.starts[grids][:, None] + np.arange(count)[None, :]
        return index

    def taken(self, grids: np.ndarray) -> Shelf:
        """The shelf with only these grids, in this order."""
        panels = np.concatenate(
            [np.arange(self.starts[g], self.starts[g + 1]) for g in grids] or [np.arange(0)]
        )
        return Shelf(
            pages=self.pages.taken(grids),
            starts=np.concatenate([[0], np.cumsum(self.panel_count[grids])]).astype(int),
            boxes=self.boxes[panels],
            areas=self.areas[panels],
            bleeds=self.bleeds[panels],
            aspect=self.aspect[grids],
            clarity=self.clarity[grids],
            rtl=self.rtl[grids],
        )
