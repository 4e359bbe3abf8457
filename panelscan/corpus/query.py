"""The library as pandas frames and as arrays of grids, for habits, finder and reports.

A page that was scanned twice, or in two stages, is counted once unless asked otherwise: see
`panelscan.corpus.sameness`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.geoparquet import shapes_of
from panelscan.corpus.labels import PageLabels, as_numbers, box_iou
from panelscan.corpus.sameness import counted_once, links_of
from panelscan.corpus.schema import PAGES
from panelscan.corpus.select import select_pages, select_rows
from panelscan.corpus.store import Library
from panelscan.errors import NothingFound
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection

if TYPE_CHECKING:
    import pandas as pd

_PAGE_COLUMNS = {c.name for c in PAGES}


def load_pages(
    library: Library,
    where: str | None = None,
    *,
    columns: Sequence[str] | None = None,
    duplicates: bool = False,
) -> pd.DataFrame:
    """Pages as a frame, with a column for each label.

    Parameters
    ----------
    library : Library
        Where to look.
    where : str or None
        Filter, all pages for None.
    columns : sequence of str or None
        Columns of the pages table, all for None; ``page_id`` and ``book`` always come.
    duplicates : bool
        True to keep every scan and stage of a page; otherwise of pages that are linked as
        the same one only the preferred stands, and ``same_pages`` tells how many it stands for.

    Returns
    -------
    DataFrame
        In book and page order. A label ``book`` stands in place of the book's own name; a
        label that is named like another column comes as ``label_NAME``; ``rating`` is a
        number.

    Raises
    ------
    NotationError
        If the filter cannot be understood.
    """
    wanted = None if columns is None else list(dict.fromkeys(["page_id", "book", *columns]))
    chosen = select_pages(library, where, wanted)
    rows = _labelled(chosen.pages, chosen.labels)
    if not duplicates:
        rows = counted_once(rows, links_of(library))
    frame = rows.to_pandas()
    keys = [k for k in ("book", "page_number", "page_id") if k in frame.columns]
    ordered: pd.DataFrame = frame.sort_values(keys, ignore_index=True)
    return ordered


def load_panels(
    library: Library,
    where: str | None = None,
    *,
    columns: Sequence[str] | None = None,
    duplicates: bool = False,
) -> pd.DataFrame:
    """Panels as a frame, with their own labels; parameters as for `load_pages`.

    The filter may test ``panel.`` columns too.
    """
    chosen = select_rows(library, "panels", where, columns, page_columns=["book"])
    rows = chosen.rows
    if not duplicates:
        rows = _of_pages(rows, counted_once(chosen.pages, links_of(library)))
    frame: pd.DataFrame = _with_panel_labels(rows, chosen.labels).to_pandas()
    return frame


def load_gutters(
    library: Library,
    where: str | None = None,
    *,
    columns: Sequence[str] | None = None,
    duplicates: bool = False,
) -> pd.DataFrame:
    """Gutters as a frame; parameters as for `load_pages`."""
    chosen = select_rows(library, "gutters", where, columns, page_columns=["book"])
    rows = chosen.rows
    if not duplicates:
        rows = _of_pages(rows, counted_once(chosen.pages, links_of(library)))
    frame: pd.DataFrame = rows.to_pandas()
    return frame


def _labelled(rows: pa.Table, labels: PageLabels) -> pa.Table:
    for name in labels.names:
        texts = labels.column(name, rows["page_id"], rows["book"])
        if name == "book":
            told = pc.coalesce(texts, rows["book"])
            rows = rows.set_column(rows.column_names.index("book"), "book", told)
        else:
            values = as_numbers(texts) if name == "rating" else texts
            rows = rows.append_column(f"label_{name}" if name in _PAGE_COLUMNS else name, values)
    return rows


def _of_pages(rows: pa.Table, pages: pa.Table) -> pa.Table:
    ids = pages["page_id"].combine_chunks()
    return rows.filter(pc.is_in(rows["page_id"], value_set=ids))


def _with_panel_labels(rows: pa.Table, labels: PageLabels) -> pa.Table:
    """Panels with a column for each label of panels, matched by page and box."""
    told = labels.panels
    if not told.num_rows:
        return rows
    shares = ["x_min_share", "y_min_share", "x_max_share", "y_max_share"]
    if not set(shares) <= set(rows.column_names):
        return rows
    boxes = np.column_stack([rows[n].to_numpy() for n in shares])
    pages = rows["page_id"].to_pandas()
    members = pages.groupby(pages).indices
    values: dict[str, list[str | None]] = {}
    for label in told.to_pylist():
        own = members.get(label["page_id"], np.zeros(0, dtype=int))
        close = box_iou(boxes[own], np.array(label["panel_box"]))
        if len(close) and close.max() >= 0.5:
            column = values.setdefault(label["name"], [None] * rows.num_rows)
            column[int(own[close.argmax()])] = label["value"]
    for name, column in values.items():
        full = f"label_{name}" if name in rows.column_names else name
        rows = rows.append_column(full, pa.array(column, pa.string()))
    return rows


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
    vectors : ndarray of float32, shape (G, D)
        For searching; D is 0 where the library has none.
    library : Library
        Where outlines are fetched from.
    """

    page_ids: pa.ChunkedArray
    books: pa.ChunkedArray
    page_numbers: np.ndarray[Any, Any]
    starts: np.ndarray[Any, Any]
    boxes: np.ndarray[Any, Any]
    areas: np.ndarray[Any, Any]
    bleeds: np.ndarray[Any, Any]
    aspect: np.ndarray[Any, Any]
    clarity: np.ndarray[Any, Any]
    rtl: np.ndarray[Any, Any]
    vectors: np.ndarray[Any, Any]
    library: Library

    def __len__(self) -> int:
        return len(self.page_ids)

    @cached_property
    def panel_count(self) -> np.ndarray[Any, Any]:
        """Panels of each grid, shape (G,)."""
        return np.diff(self.starts)

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
        Filter, all pages for None.
    duplicates : bool
        As for `load_pages`.

    Notes
    -----
    Only arrays are built; a `Grid` object is made when one is asked for.
    """
    page_columns = ["book", "page_number", "aspect", "clarity", "direction", "vector"]
    shares = ["x_min_share", "y_min_share", "x_max_share", "y_max_share", "area_share"]
    bleeds = [f"bleed_{edge}" for edge in PageEdge]
    chosen = select_rows(library, "panels", where, [*shares, *bleeds], page_columns)
    pages = chosen.pages
    if not duplicates:
        pages = counted_once(pages, links_of(library))
    rows, starts = _laid_out(pages, chosen.rows)
    return GridSet(
        page_ids=pages["page_id"],
        books=pages["book"],
        page_numbers=pages["page_number"].to_numpy(),
        starts=starts,
        boxes=_columns(rows, shares[:4], np.float32),
        areas=rows["area_share"].to_numpy().astype(np.float32),
        bleeds=_columns(rows, bleeds, np.bool_),
        aspect=pages["aspect"].to_numpy(),
        clarity=pages["clarity"].to_numpy(),
        rtl=pc.equal(pages["direction"], "rtl").to_numpy(),
        vectors=vectors_of(pages["vector"]),
        library=library,
    )


def _laid_out(pages: pa.Table, rows: pa.Table) -> tuple[pa.Table, np.ndarray[Any, Any]]:
    """Panels in the order of their pages, and where each page's begin."""
    place = pc.index_in(rows["page_id"], value_set=pages["page_id"].combine_chunks())
    owner = pc.fill_null(place, -1).to_numpy()
    rows = rows.drop_columns(["page_id"])
    if len(owner) and owner.min() < 0:
        rows, owner = rows.filter(pa.array(owner >= 0)), owner[owner >= 0]
    if len(owner) and np.any(np.diff(owner) < 0):
        order = np.argsort(owner, kind="stable")
        rows, owner = rows.take(order), owner[order]
    counts = np.bincount(owner, minlength=pages.num_rows)
    return rows, np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)


def _columns(rows: pa.Table, names: Sequence[str], kind: Any) -> np.ndarray[Any, Any]:
    table = np.empty((rows.num_rows, len(names)), dtype=kind)
    for k, name in enumerate(names):
        table[:, k] = rows[name].to_numpy()
    return table


def vectors_of(column: pa.ChunkedArray) -> np.ndarray[Any, Any]:
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
