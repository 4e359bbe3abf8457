"""The library as pandas frames and as arrays of grids, for habits, finder and reports.

A page that was scanned twice, or in two stages, is counted once unless asked otherwise: see
`panelscan.corpus.sameness`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.grids import GridSet, load_grid_objects, load_grids, vectors_of
from panelscan.corpus.labels import PageLabels, as_numbers, box_iou
from panelscan.corpus.page_links import counted_once, links_of
from panelscan.corpus.schema import PAGES
from panelscan.corpus.select import select_pages, select_rows
from panelscan.corpus.store import Library

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "GridSet",
    "load_grid_objects",
    "load_grids",
    "load_gutters",
    "load_pages",
    "load_panels",
    "vectors_of",
]

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
