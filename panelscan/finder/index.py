"""The finder's index of a library: built from its tables, mapped, rebuilt when stale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from panelscan.corpus.store import Library
from panelscan.finder import index_files
from panelscan.finder.coarse import Coarse
from panelscan.finder.index_arrays import EDGES, IndexArrays, arrays_of_grids, unpack, unpack_flags
from panelscan.finder.index_tables import Names, arrays_of_library
from panelscan.finder.page_names import PageNames
from panelscan.finder.panel_tables import spans
from panelscan.finder.shelf import Shelf
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection


@dataclass(frozen=True, eq=False)
class GridIndex:
    """All pages of a library (or any grids) ready for searching.

    Parameters
    ----------
    arrays : IndexArrays
        What is known of each page.
    coarse : Coarse
        Short vectors for the first look.
    names : Names
        Books, and forms of grids.
    was_built : bool
        False where a fresh index was found on disk.
    """

    arrays: IndexArrays
    coarse: Coarse
    names: Names
    was_built: bool = True

    def __len__(self) -> int:
        return len(self.arrays)

    @classmethod
    def of_grids(
        cls,
        grids: Sequence[Grid],
        page_ids: Sequence[str] | None = None,
        book: str = "grids",
        *,
        measured: bool = True,
    ) -> GridIndex:
        """Index of grids that are at hand as objects, numbered from 1 in one book.

        See `index_arrays.arrays_of_grids` for `measured`.
        """
        ids = list(page_ids) if page_ids is not None else [f"grid-{k}" for k in range(len(grids))]
        arrays = arrays_of_grids(grids, ids, measured=measured)
        return cls(arrays, Coarse.of(arrays.vectors, np.diff(arrays.starts)), Names((book,)))

    @classmethod
    def open(cls, library: Library, cache: Path | None = None) -> GridIndex:
        """The library's index: mapped from disk, or built anew where there is none or a stale one.

        Parameters
        ----------
        library : Library
        cache : Path, optional
            Folder for the index instead of the library's own.
        """
        name = index_files.fingerprint(library)
        folder = index_files.index_folder(library, cache)
        found = index_files.load(folder, name) if folder else None
        if found is not None:
            return cls(*found, was_built=False)
        arrays, names = arrays_of_library(library)
        coarse = Coarse.of(arrays.vectors, np.diff(arrays.starts))
        if folder is not None and name == index_files.fingerprint(library):
            index_files.save(folder, name, arrays, coarse, names)
        return cls(arrays, coarse, names)

    @property
    def books(self) -> tuple[str, ...]:
        """Names of the books."""
        return self.names.books

    @property
    def bytes_per_page(self) -> float:
        """Mean size of a page in the index."""
        short = self.coarse.short.nbytes + self.coarse.half_squares.nbytes
        return self.arrays.bytes_per_page + short / max(len(self), 1)

    @cached_property
    def pages(self) -> PageNames:
        """Identities and names."""
        return PageNames(self.arrays.ids, self.arrays.book, self.arrays.number, self.books)

    @cached_property
    def panel_count(self) -> np.ndarray:
        """Panels of each page, shape (G,)."""
        counts: np.ndarray = np.diff(self.arrays.starts)
        return counts

    @cached_property
    def owner(self) -> np.ndarray:
        """Page of each panel, shape (P,)."""
        return np.repeat(np.arange(len(self)), self.panel_count)

    def index_of(self, page_id: str) -> int | None:
        """Place of a page, None where it is not indexed."""
        places = self.pages.places([page_id])
        return int(places[0]) if len(places) else None

    def shelf(self, pages: np.ndarray | None = None) -> Shelf:
        """Columns for matching beats, of all pages or some of them in the order given."""
        a = self.arrays
        chosen = np.arange(len(self)) if pages is None else np.asarray(pages)
        panels, starts = spans(a.starts, chosen)
        return Shelf(
            pages=self.pages.taken(chosen),
            starts=starts,
            boxes=unpack(a.boxes[panels]),
            areas=a.areas[panels],
            bleeds=unpack_flags(a.bleeds[panels]),
            aspect=a.aspect[chosen],
            clarity=a.clarity[chosen],
            rtl=a.rtl[chosen],
        )

    def grid(self, page: int) -> Grid:
        """Grid of a page, exact to the index's step."""
        a = self.arrays
        panels = []
        for p in range(int(a.starts[page]), int(a.starts[page + 1])):
            corners = unpack(a.corners[a.corner_starts[p] : a.corner_starts[p + 1]])
            flags = unpack_flags(a.bleeds[p : p + 1])[0]
            panels.append(
                GridPanel(
                    Outline.of(corners.tolist()),
                    frozenset(e for e, f in zip(EDGES, flags, strict=True) if f),
                    None if a.hosts[p] < 0 else int(a.hosts[p]),
                    int(a.hosts[p] >= 0),
                )
            )
        direction = ReadingDirection.RTL if a.rtl[page] else ReadingDirection.LTR
        return Grid(tuple(panels), float(a.aspect[page]), direction)
