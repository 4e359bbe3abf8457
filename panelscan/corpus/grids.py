"""Grids of a library in arrays, as the finder wants them.

Nothing here makes an object for every panel: a million pages are a few arrays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus import view as views
from panelscan.corpus.geoparquet import shapes_of
from panelscan.corpus.page_links import counted_once, links_of
from panelscan.corpus.select import select_pages
from panelscan.corpus.store import Library
from panelscan.errors import NothingFound
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection

Array = np.ndarray[Any, Any]
_PAGE_COLUMNS = ("page_id", "book", "page_number", "aspect", "clarity", "direction")
_SHARES = ("x_min_share", "y_min_share", "x_max_share", "y_max_share")
_BLEEDS = tuple(f"bleed_{edge}" for edge in PageEdge)
_COLUMNS = (*_SHARES, "area_share", *_BLEEDS, "reading_order")


@dataclass(frozen=True, eq=False)
class GridSet:
    """G grids of a library with P panels in all, in arrays; a grid's panels lie side by side.

    Parameters
    ----------
    page_ids : pyarrow.ChunkedArray of string, length G
        Page that each grid was taken from.
    books : pyarrow.ChunkedArray of string, length G
    page_numbers : ndarray of int, shape (G,)
    starts : ndarray of int64, shape (G + 1,)
        Grid g owns panels ``starts[g]`` up to, without, ``starts[g + 1]``, in reading order.
    boxes : ndarray of float32, shape (P, 4)
        ``x_min, y_min, x_max, y_max`` in page-relative units.
    areas : ndarray of float32, shape (P,)
        Share of the page frame.
    bleeds : ndarray of bool, shape (P, 4)
        Whether the panel runs off the left, top, right, bottom edge.
    aspect, clarity : ndarray of float, shape (G,)
    rtl : ndarray of bool, shape (G,)
    library : Library
        Where outlines are fetched from.
    """

    page_ids: pa.ChunkedArray
    books: pa.ChunkedArray
    page_numbers: Array
    starts: Array
    boxes: Array
    areas: Array
    bleeds: Array
    aspect: Array
    clarity: Array
    rtl: Array
    library: Library

    def __len__(self) -> int:
        return len(self.page_ids)

    @cached_property
    def panel_count(self) -> Array:
        """Panels of each grid, shape (G,)."""
        return np.diff(self.starts)

    @cached_property
    def vectors(self) -> Array:
        """Vectors for searching, float32 of shape (G, D); read when first asked for."""
        return load_vectors(self.library, self.page_ids)

    def name(self, index: int) -> str:
        """How people call the page of a grid."""
        return f"{self.books[index].as_py()}, page {int(self.page_numbers[index])}"

    def index_of(self, page_id: str) -> int:
        """Place of a page's grid.

        Raises
        ------
        NothingFound
            If the page is not among them.
        """
        place = pc.index(self.page_ids, page_id).as_py()
        if place < 0:
            raise NothingFound(f"There is no page {page_id} among those chosen.")
        return int(place)

    def grids(self, indices: Sequence[int]) -> list[Grid]:
        """Exact grids of a few pages; their outlines are read now."""
        ids = [self.page_ids[int(i)].as_py() for i in indices]
        return load_grid_objects(self.library, ids)


def load_grids(library: Library, where: str | None = None, *, duplicates: bool = False) -> GridSet:
    """Grids of the pages that a filter chooses, in arrays.

    Parameters
    ----------
    library : Library
        Where to look.
    where : str or None
        Filter of pages, all for None.
    duplicates : bool
        True to keep every scan and stage of a page.

    Raises
    ------
    NotationError
        If the filter cannot be understood.

    Notes
    -----
    Panels are read in batches and only arrays are built; a `Grid` object is made when one is
    asked for.
    """
    chosen = select_pages(library, where, _PAGE_COLUMNS)
    pages = chosen.pages
    if not duplicates:
        pages = counted_once(pages, links_of(library))
    ids = pages["page_id"].combine_chunks()

    def read(view: views.View) -> _Panels:
        found = _Panels.blank(views.count_rows(library.place, view, "panels"))
        finder = _Finder(ids)
        for rows in views.read_batches(library.place, view, "panels", ["page_id", *_COLUMNS]):
            found.add(rows, finder)
        return found.sorted()

    panels = library.reading(("panels",), read)
    counts = np.bincount(panels.owner, minlength=len(ids))
    return GridSet(
        page_ids=pages["page_id"],
        books=pages["book"],
        page_numbers=pages["page_number"].to_numpy(),
        starts=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        boxes=panels.boxes,
        areas=panels.areas,
        bleeds=panels.bleeds,
        aspect=pages["aspect"].to_numpy(),
        clarity=pages["clarity"].to_numpy(),
        rtl=pc.equal(pages["direction"], "rtl").to_numpy(),
        library=library,
    )


@dataclass(eq=False)
class _Panels:
    """Panels of the pages chosen; ``owner`` is the place of each one's page."""

    owner: Array
    order: Array
    boxes: Array
    areas: Array
    bleeds: Array
    count: int = 0

    @classmethod
    def blank(cls, most: int) -> _Panels:
        """Room for so many panels."""
        return cls(
            np.empty(most, dtype=np.int32),
            np.empty(most, dtype=np.int32),
            np.empty((most, 4), dtype=np.float32),
            np.empty(most, dtype=np.float32),
            np.empty((most, 4), dtype=np.bool_),
        )

    def add(self, rows: pa.Table, finder: _Finder) -> None:
        """Add those rows whose page is among the pages chosen."""
        place = finder.places(rows["page_id"])
        kept = place >= 0
        if not kept.all():
            rows, place = rows.filter(pa.array(kept)), place[kept]
        part = slice(self.count, self.count + rows.num_rows)
        self.owner[part] = place
        self.order[part] = rows["reading_order"].to_numpy()
        self.areas[part] = rows["area_share"].to_numpy()
        for k, name in enumerate(_SHARES):
            self.boxes[part, k] = rows[name].to_numpy()
        for k, name in enumerate(_BLEEDS):
            self.bleeds[part, k] = rows[name].to_numpy()
        self.count = part.stop

    def sorted(self) -> _Panels:
        """The panels in the order of their pages and as they are read."""
        for name in ("owner", "order", "boxes", "areas", "bleeds"):
            setattr(self, name, getattr(self, name)[: self.count])
        step = np.diff(self.owner)
        if not np.all((step > 0) | ((step == 0) & (np.diff(self.order) > 0))):
            sort = np.lexsort((self.order, self.owner))
            for name in ("owner", "order", "boxes", "areas", "bleeds"):
                setattr(self, name, getattr(self, name)[sort])
        return self


class _Finder:
    """Places of pages among those chosen.

    A sorted array of fixed-width ids: looking up batch after batch in a hash table of a
    million texts would build the table anew each time.
    """

    def __init__(self, ids: pa.Array) -> None:
        texts = np.array(ids.to_pylist(), dtype=np.bytes_)
        self._order = np.argsort(texts, kind="stable")
        self._sorted = texts[self._order]

    def places(self, column: pa.ChunkedArray) -> Array:
        """Place of each id, -1 where it is not among those chosen."""
        coded = column.combine_chunks().dictionary_encode()
        asked = np.array(coded.dictionary.to_pylist(), dtype=np.bytes_)
        if not len(self._sorted) or not len(asked):
            return np.full(len(column), -1, dtype=np.int64)
        spot = np.minimum(np.searchsorted(self._sorted, asked), len(self._sorted) - 1)
        place = np.where(self._sorted[spot] == asked, self._order[spot], -1)
        return np.asarray(place[coded.indices.to_numpy()])


def load_vectors(library: Library, page_ids: pa.ChunkedArray) -> Array:
    """Vectors of pages, shape (G, D), read in batches; zeros where a page has none.

    Parameters
    ----------
    library : Library
        Where to look.
    page_ids : pyarrow.ChunkedArray of string, length G
        The pages.
    """
    ids = page_ids.combine_chunks()

    def read(view: views.View) -> Array:
        vectors = np.zeros((len(ids), 0), dtype=np.float32)
        finder = _Finder(ids)
        for rows in views.read_batches(library.place, view, "pages", ["page_id", "vector"], 50_000):
            place = finder.places(rows["page_id"])
            kept = place >= 0
            part = vectors_of(rows["vector"].filter(pa.array(kept)))
            if not vectors.shape[1]:
                vectors = np.zeros((len(ids), part.shape[1]), dtype=np.float32)
            if part.shape[1] == vectors.shape[1]:
                vectors[place[kept]] = part
        return vectors

    return library.reading(("pages",), read)


def vectors_of(column: pa.ChunkedArray) -> Array:
    """Vectors as one array of shape (G, D), without a copy where it can be.

    Notes
    -----
    A page whose vector has another length than most (made by another version) gets zeros.
    """
    lists = column.combine_chunks()
    count = len(lists)
    lengths = pc.fill_null(pc.list_value_length(lists), 0).to_numpy(zero_copy_only=False)
    size = int(np.bincount(lengths).argmax()) if count else 0
    if size == 0:
        return np.zeros((count, 0), dtype=np.float32)
    flat = pc.list_flatten(lists).to_numpy(zero_copy_only=False)
    if np.all(lengths == size):
        return np.asarray(flat.reshape(count, size))
    vectors = np.zeros((count, size), dtype=np.float32)
    good = np.flatnonzero(lengths == size)
    first = np.concatenate([[0], np.cumsum(lengths)])[good]
    vectors[good] = flat[first[:, None] + np.arange(size)[None, :]]
    return vectors


def load_grid_objects(library: Library, page_ids: Sequence[str]) -> list[Grid]:
    """Exact grids of a few pages, in the order asked for.

    Raises
    ------
    NothingFound
        If the library has no such page.
    """
    wanted = pc.field("page_id").isin(pa.array(list(page_ids), pa.string()))
    bleeds = [f"bleed_{edge}" for edge in PageEdge]
    tables = library.tables(
        {
            "pages": ["page_id", "aspect", "direction"],
            "panels": ["page_id", "reading_order", "geometry_page", "host_order", "depth", *bleeds],
        },
        {"pages": wanted, "panels": wanted},
    )
    pages = {row["page_id"]: row for row in tables["pages"].to_pylist()}
    rows: dict[str, list[tuple[dict[str, Any], Any]]] = {}
    shapes = shapes_of(tables["panels"]["geometry_page"])
    for row, shape in zip(tables["panels"].to_pylist(), shapes, strict=True):
        rows.setdefault(row["page_id"], []).append((row, shape))
    grids = []
    for page_id in page_ids:
        if page_id not in pages:
            raise NothingFound(f"The library has no page {page_id}.")
        grids.append(_grid(pages[page_id], rows.get(page_id, [])))
    return grids


def _grid(page: dict[str, Any], rows: list[tuple[dict[str, Any], Any]]) -> Grid:
    panels = []
    for row, shape in sorted(rows, key=lambda pair: int(pair[0]["reading_order"])):
        host = row["host_order"]
        panels.append(
            GridPanel(
                Outline.from_shape(shape),
                frozenset(e for e in PageEdge if row[f"bleed_{e}"]),
                None if host is None else int(host) - 1,
                int(row["depth"]),
            )
        )
    return Grid(tuple(panels), float(page["aspect"]), ReadingDirection(page["direction"]))
