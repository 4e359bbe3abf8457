"""Choosing pages, panels and gutters by a filter, as Arrow tables of one moment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus import view as views
from panelscan.corpus.labels import PageLabels, as_numbers, labels_now
from panelscan.corpus.schema import PAGES
from panelscan.corpus.store import Library
from panelscan.corpus.where import AllOf, Clause, Name, parse_where
from panelscan.corpus.where_arrow import Filter, compile_where

PAGE_COLUMNS = tuple(c.name for c in PAGES)
_KEYS = ("page_id", "book")


@dataclass(frozen=True)
class Selection:
    """What was chosen.

    Parameters
    ----------
    pages : pyarrow.Table
        Pages chosen, with the columns asked for.
    rows : pyarrow.Table
        Panels or gutters chosen (without rows where only pages were asked for).
    labels : PageLabels
        Labels that count.
    """

    pages: pa.Table
    rows: pa.Table
    labels: PageLabels


def select_pages(
    library: Library, where: str | None = None, columns: Sequence[str] | None = None
) -> Selection:
    """Pages that a filter chooses.

    Parameters
    ----------
    library : Library
        Where to look.
    where : str or None
        Filter (see `panelscan.corpus.where`), all pages for None.
    columns : sequence of str or None
        Columns of the pages table wanted, all for None.

    Raises
    ------
    NotationError
        If the filter cannot be understood.
    """
    labels = labels_now(library.place)
    wanted = list(columns or PAGE_COLUMNS)
    chosen = _compiled(where, labels)

    def read(view: views.View) -> pa.Table:
        return _pages(library, view, chosen, wanted, labels)

    return Selection(library.reading(("pages",), read), pa.table({}), labels)


def select_rows(
    library: Library,
    table: str,
    where: str | None = None,
    columns: Sequence[str] | None = None,
    page_columns: Sequence[str] = (),
) -> Selection:
    """Panels or gutters of the pages that a filter chooses, with those pages.

    Parameters
    ----------
    library : Library
        Where to look.
    table : str
        ``"panels"`` or ``"gutters"``.
    where : str or None
        Filter; for panels it may test ``panel.`` columns too.
    columns : sequence of str or None
        Columns of the table wanted, all for None; ``page_id`` always comes.
    page_columns : sequence of str
        Columns of the pages wanted beside ``page_id``.
    """
    labels = labels_now(library.place)
    page_part, panel_part = _split(where, labels, table)
    wanted = None if columns is None else list(dict.fromkeys(["page_id", *columns]))

    def read(view: views.View) -> tuple[pa.Table, pa.Table]:
        needed = list(dict.fromkeys(["page_id", *page_columns]))
        pages = _pages(library, view, page_part, needed, labels)
        within = None if page_part is None else _on_pages(pages)
        if panel_part is None:
            return pages, views.read_table(library.place, view, table, wanted, within)
        everything = _pages(library, view, None, [*_KEYS, *sorted(panel_part.columns)], labels)
        rows = views.read_table(library.place, view, table, None, within)
        rows = _panel_filtered(rows, everything, panel_part, labels)
        return pages, rows if wanted is None else rows.select(wanted)

    pages, rows = library.reading(("pages", table), read)
    return Selection(pages, rows, labels)


def _compiled(where: str | None, labels: PageLabels) -> Filter | None:
    if where is None or not where.strip():
        return None
    return compile_where(parse_where(where), where, labels.names)


def _split(
    where: str | None, labels: PageLabels, table: str
) -> tuple[Filter | None, Filter | None]:
    """The part of a filter that chooses pages, and the part that needs panels."""
    if where is None or not where.strip():
        return None, None
    clause = parse_where(where)
    parts = clause.parts if isinstance(clause, AllOf) else (clause,)
    of_panels = [p for p in parts if _mentions_panel(p)]
    of_pages = [p for p in parts if not _mentions_panel(p)]

    def made(some: list[Clause]) -> Filter | None:
        if not some:
            return None
        return compile_where(
            AllOf(tuple(some)), where, labels.names, panels_allowed=table == "panels"
        )

    return made(of_pages), made(of_panels)


def _mentions_panel(node: Any) -> bool:
    if isinstance(node, Name):
        return node.of_panel
    if isinstance(node, tuple):
        return any(_mentions_panel(part) for part in node)
    slots = getattr(node, "__slots__", ())
    return any(_mentions_panel(getattr(node, slot)) for slot in slots)


def _pages(
    library: Library,
    view: views.View,
    chosen: Filter | None,
    wanted: Sequence[str],
    labels: PageLabels,
) -> pa.Table:
    if chosen is None:
        return views.read_table(library.place, view, "pages", wanted)
    if not chosen.labels:
        return views.read_table(library.place, view, "pages", wanted, chosen.expression)
    needed = list(dict.fromkeys([*wanted, *_KEYS, *sorted(chosen.columns)]))
    rows = views.read_table(library.place, view, "pages", needed)
    return with_labels(rows, chosen.labels, labels).filter(chosen.expression).select(wanted)


def with_labels(rows: pa.Table, names: frozenset[str], labels: PageLabels) -> pa.Table:
    """Rows with columns ``label:NAME``; a name that ends in ``#`` as numbers."""
    for name in sorted(names):
        texts = labels.column(name.removesuffix("#"), rows["page_id"], rows["book"])
        values = as_numbers(texts) if name.endswith("#") else texts
        rows = rows.append_column(f"label:{name}", values)
    return rows


def _on_pages(pages: pa.Table) -> Any:
    ids = pages["page_id"].combine_chunks()
    return pc.field("page_id").isin(ids)


def _panel_filtered(
    rows: pa.Table, pages: pa.Table, chosen: Filter, labels: PageLabels
) -> pa.Table:
    """Panels for which a filter holds that tests panels, and perhaps their pages too."""
    place = pc.index_in(rows["page_id"], value_set=pages["page_id"].combine_chunks())
    told = with_labels(pages, chosen.labels, labels).take(place)
    for name in sorted(chosen.panel_columns):
        told = told.append_column(f"panel:{name}", rows[name])
    numbered = told.append_column("row", pa.array(np.arange(rows.num_rows)))
    return rows.take(numbered.filter(chosen.expression)["row"])
