"""The index's arrays from the library's Parquet tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import shapely

from panelscan.corpus.labels import labels_now
from panelscan.corpus.naming import shown_books
from panelscan.corpus.page_links import counted_once, links_of
from panelscan.corpus.query import load_grid_objects, vectors_of
from panelscan.corpus.store import Library
from panelscan.finder.grid_forms import form_of
from panelscan.finder.index_arrays import (
    EDGES,
    SIDES,
    IndexArrays,
    pack,
    pack_flags,
)
from panelscan.layout.signature import VECTOR_LENGTH, grid_vector

_PAGES = (
    "page_id",
    "book",
    "page_number",
    "page_side",
    "aspect",
    "clarity",
    "width_mm",
    "height_mm",
    "direction",
    "tier_count",
    "patterns",
    "grid_text",
    "vector",
)
_BOXES = ("x_min_share", "y_min_share", "x_max_share", "y_max_share")
_PANELS = (
    "page_id",
    "reading_order",
    "geometry_page",
    "area_share",
    "host_order",
    "aspect",
    "slant_deg",
    "free_top_share",
    *_BOXES,
    *(f"bleed_{e}" for e in EDGES),
)


def arrays_of_library(library: Library) -> tuple[IndexArrays, Names]:
    """Arrays of every page that counts (other scans and stages of a page left out).

    Books are called as their label ``book`` says.

    Returns
    -------
    arrays : IndexArrays
        Pages in the order of books and page numbers; pages without panels are left out.
    names : Names
        Books and forms that the arrays count in.
    """
    tables = library.tables({"pages": list(_PAGES), "panels": list(_PANELS)})
    pages = counted_once(tables["pages"], links_of(library))
    books = shown_books(pages, labels_now(library.place))
    pages = pages.set_column(pages.column_names.index("book"), "book", books)
    pages = pages.sort_by([(c, "ascending") for c in ("book", "page_number", "page_id")])
    panels, starts, kept = _laid_out(pages, tables["panels"])
    pages = pages.take(kept)
    book_names = pc.unique(pages["book"]).to_pylist()
    codes, forms = _forms(pages["grid_text"])
    arrays = _arrays(library, pages, panels, starts, book_names)
    return replace(arrays, form=codes), Names(tuple(map(str, book_names)), forms)


@dataclass(frozen=True)
class Names:
    """Texts that the arrays count in: books, and forms of grids."""

    books: tuple[str, ...]
    forms: tuple[str, ...] = ()


def _forms(texts: pa.ChunkedArray) -> tuple[np.ndarray, tuple[str, ...]]:
    """Form of each written grid, and the list of forms."""
    known: dict[str, int] = {}
    codes = [-1 if not t else known.setdefault(form_of(t), len(known)) for t in texts.to_pylist()]
    return np.array(codes, np.int32), tuple(known)


def _laid_out(pages: pa.Table, panels: pa.Table) -> tuple[pa.Table, np.ndarray, np.ndarray]:
    """Panels in the order of their pages and of reading; starts; pages that have panels."""
    ids = pages["page_id"].combine_chunks()
    owner = pc.fill_null(pc.index_in(panels["page_id"], value_set=ids), -1).to_numpy()
    order = np.lexsort((panels["reading_order"].to_numpy(), owner))
    order = order[owner[order] >= 0]
    counts = np.bincount(owner[order], minlength=pages.num_rows)
    kept = np.flatnonzero(counts)
    starts = np.concatenate([[0], np.cumsum(counts[kept])])
    return panels.drop_columns(["page_id", "reading_order"]).take(order), starts, kept


def _arrays(
    library: Library, pages: pa.Table, panels: pa.Table, starts: np.ndarray, books: list[Any]
) -> IndexArrays:
    corners, corner_starts = _corners(panels["geometry_page"])
    return IndexArrays(
        ids=np.array([i.encode() for i in pages["page_id"].to_pylist()] or [], dtype="S"),
        book=_codes(pages["book"], books).astype(np.int32),
        number=_floats(pages, "page_number", 0).astype(np.int32),
        side=np.maximum(_codes(pages["page_side"], list(SIDES)), 0).astype(np.uint8),
        aspect=_floats(pages, "aspect", 2 / 3),
        clarity=_floats(pages, "clarity", 1.0),
        width_mm=_floats(pages, "width_mm"),
        height_mm=_floats(pages, "height_mm"),
        rtl=pc.fill_null(pc.equal(pages["direction"], "rtl"), False).to_numpy(),
        tiers=np.minimum(_floats(pages, "tier_count", 0), 255).astype(np.uint8),
        splash=_holds(pages["patterns"], "splash"),
        form=np.full(pages.num_rows, -1, np.int32),
        starts=starts.astype(np.int32),
        vectors=_vectors(library, pages).astype(np.float16),
        boxes=pack(_matrix(panels, _BOXES)),
        areas=_floats(panels, "area_share", 0),
        bleeds=pack_flags(_matrix(panels, [f"bleed_{e}" for e in EDGES])),
        hosts=(_floats(panels, "host_order", 0) - 1).astype(np.int16),
        shapes=_floats(panels, "aspect", 1.0),
        slants=_floats(panels, "slant_deg", 0.0),
        free_tops=_floats(panels, "free_top_share"),
        corner_starts=corner_starts.astype(np.int32),
        corners=pack(corners),
    )


def _corners(geometry: pa.ChunkedArray) -> tuple[np.ndarray, np.ndarray]:
    """Corners of all outlines without the closing one, and where each outline's begin."""
    shapes = shapely.from_wkb(np.asarray(geometry.to_numpy(), dtype=object))
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    counts = np.bincount(owner, minlength=len(shapes))
    ends = np.cumsum(counts)
    kept = np.ones(len(points), dtype=bool)
    kept[ends - 1] = False  # the ring's first corner stands again at its end
    return points[kept], np.concatenate([[0], np.cumsum(counts - 1)])


def _floats(table: pa.Table, name: str, missing: float = np.nan) -> np.ndarray:
    column = pc.fill_null(table[name].cast(pa.float64()), missing)
    values: np.ndarray = column.to_numpy().astype(np.float32)
    return values


def _matrix(table: pa.Table, names: Sequence[str]) -> np.ndarray:
    columns = [pc.fill_null(table[n].cast(pa.float64()), 0).to_numpy() for n in names]
    return np.column_stack(columns).reshape(-1, len(names))


def _codes(column: pa.ChunkedArray, values: list[Any]) -> np.ndarray:
    places = pc.index_in(column, value_set=pa.array(values, pa.string()))
    codes: np.ndarray = pc.fill_null(places, -1).to_numpy()
    return codes


def _holds(column: pa.ChunkedArray, word: str) -> np.ndarray:
    """Whether each list holds a word, shape (G,)."""
    lists = column.combine_chunks()
    found = np.zeros(len(lists), dtype=bool)
    if len(lists):
        parents = pc.list_parent_indices(lists).to_numpy(zero_copy_only=False)
        same = pc.equal(pc.list_flatten(lists), word).to_numpy(zero_copy_only=False)
        found[parents[np.asarray(same, dtype=bool)]] = True
    return found


def _vectors(library: Library, pages: pa.Table) -> np.ndarray:
    """Stored vectors; those of another length are taken anew from the grids."""
    vectors = vectors_of(pages["vector"])
    if vectors.shape[1] == VECTOR_LENGTH:
        made = np.array(vectors)
        missing = np.flatnonzero(~vectors.any(axis=1))
    else:
        made = np.zeros((pages.num_rows, VECTOR_LENGTH), np.float32)
        missing = np.arange(pages.num_rows)
    for start in range(0, len(missing), 1000):
        part = missing[start : start + 1000]
        ids = pages["page_id"].take(pa.array(part)).to_pylist()
        for place, grid in zip(part, load_grid_objects(library, ids), strict=True):
            made[place] = grid_vector(grid)
    return made
