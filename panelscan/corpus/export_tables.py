"""Exports as tables: one GeoParquet file of panels, and CSV."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pv
import shapely

from panelscan.corpus import geoparquet
from panelscan.corpus.tables import write_parquet

_PAGE_FACTS = (
    "direction", "aspect", "panel_count", "tier_count", "tier_pattern", "grid_text",
    "width_px", "height_px", "x_ppi", "y_ppi", "clarity", "reviewed", "detector", "scanned_at",
)  # fmt: skip


def single_geoparquet(pages: pa.Table, panels: pa.Table) -> bytes:
    """One GeoParquet file: a row for each panel, with the main columns of its page and labels.

    Parameters
    ----------
    pages, panels : pyarrow.Table
        As in `panelscan.corpus.export.Chosen`.

    Notes
    -----
    Columns of the page are named ``page_…``, labels ``label_…``.
    """
    place = pc.index_in(panels["page_id"], value_set=pages["page_id"].combine_chunks())
    kept = pc.is_valid(place)
    panels, place = panels.filter(kept), place.filter(kept)
    rows = panels
    for name in _PAGE_FACTS:
        rows = rows.append_column(f"page_{name}", pages[name].take(place))
    for name in pages.column_names:
        if name.startswith("label:"):
            label = name.removeprefix("label:")
            rows = rows.append_column(f"label_{label}", pages[name].take(place))
    tree = geoparquet.make(rows, geoparquet.GEOMETRY_COLUMNS["panels"])
    return write_parquet(rows.replace_schema_metadata({geoparquet.KEY: geoparquet.encode(tree)}))


def csv_files(
    pages: pa.Table, panels: pa.Table, gutters: pa.Table
) -> Iterator[tuple[str, Callable[[], bytes]]]:
    """Names and contents of the CSV files; outlines as WKT, lists joined by spaces.

    Notes
    -----
    UTF-8 with a comma between fields (RFC 4180). Pictures and vectors are left out. A cell
    that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    for name, table in (("pages", pages), ("panels", panels), ("gutters", gutters)):
        yield f"{name}.csv", lambda t=table: _csv(t)  # type: ignore[misc]


def _csv(table: pa.Table) -> bytes:
    columns: dict[str, Any] = {}
    for name in table.column_names:
        column = table[name]
        kind = column.type
        if name in ("vector", "look", "balloons", "burst", "bbox"):
            continue
        if pa.types.is_binary(kind):
            columns[f"{name}_wkt"] = _wkt(column)
        elif pa.types.is_list(kind):
            columns[name] = _joined(column)
        elif pa.types.is_string(kind):
            columns[name.replace("label:", "label_")] = _unarmed(column)
        else:
            columns[name] = column
    sink = io.BytesIO()
    pv.write_csv(pa.table(columns), sink)
    return sink.getvalue()


def _wkt(column: pa.ChunkedArray) -> pa.Array:
    shapes = geoparquet.shapes_of(column)
    return pa.array(shapely.to_wkt(shapes, rounding_precision=4).tolist(), pa.string())


def _joined(column: pa.ChunkedArray) -> pa.Array:
    lists = column.to_pylist()
    texts = [None if v is None else " ".join("" if x is None else str(x) for x in v) for v in lists]
    return pa.array(texts, pa.string())


def _unarmed(column: pa.ChunkedArray) -> pa.ChunkedArray:
    armed = pc.match_substring_regex(column, r"^[=+\-@\t\r]")
    guarded = pc.binary_join_element_wise("'", column, "")
    return pc.if_else(pc.fill_null(armed, False), guarded, column)
