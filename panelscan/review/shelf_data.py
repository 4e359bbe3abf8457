"""What the shelf shows: every page as a small card, in compact arrays."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus.labels import PageLabels
from panelscan.corpus.select import select_pages
from panelscan.corpus.store import Library
from panelscan.review.reuse import matching

PAGE_COLUMNS = (
    "page_id", "book", "page_number", "confidence", "reviewed", "aspect", "tier_pattern",
)
MOST_VALUES = 60
FEW_PAGES = 2000


def shelf_data(
    library: Library, index_folder: Path, where: str = "", written: str = "",
    label: tuple[str, str] = ("", ""),
) -> dict[str, Any]:
    """Pages with their grids for the shelf, most doubtful first within the whole.

    Parameters
    ----------
    library : Library
        The library.
    index_folder : Path
        Where the index of grids is kept that a written grid is looked up in.
    where : str
        Filter expression; all pages if empty.
    written : str
        Written grid or pattern that pages must hold; any if empty.
    label : tuple of str
        Name and value of a label that pages must carry; none if the name is empty.

    Returns
    -------
    dict
        ``pages``: one list a page (id, book's place in ``books``, number, doubt in percent,
        reviewed, aspect, tiers, boxes), ``books``: names, ``labels``: values in use by name.

    Raises
    ------
    NotationError
        If the filter or the grid cannot be understood.
    """
    chosen = select_pages(library, where or None, PAGE_COLUMNS)
    pages, said = _renamed(chosen.pages, chosen.labels), chosen.labels
    if written:
        ids = pa.array(matching(library, written, index_folder), pa.string())
        pages = pages.filter(pc.is_in(pages["page_id"], value_set=ids))
    if label[0]:
        texts = said.column(label[0], pages["page_id"], pages["book"])
        pages = pages.filter(pc.fill_null(pc.equal(texts, label[1]), False))
    boxes = _boxes(library, pages["page_id"])
    books = sorted(pc.unique(pages["book"]).to_pylist(), key=_natural)
    place = {name: i for i, name in enumerate(books)}
    rows = [_card(row, place, boxes) for row in pages.to_pylist()]
    rows.sort(key=lambda r: (-r[3], r[1], r[2]))
    return {"books": books, "pages": rows, "labels": _values(said)}


def _natural(name: str) -> list[tuple[int, str]]:
    """Key that sorts book 9 before book 10."""
    parts = re.findall(r"\d+|\D+", name)
    return [(int(part), "") if part.isdecimal() else (-1, part.casefold()) for part in parts]


def _renamed(pages: pa.Table, said: PageLabels) -> pa.Table:
    """Pages with the book that a label gives them, where one does."""
    told = said.column("book", pages["page_id"], pages["book"])
    named = pc.coalesce(told, pages["book"])
    return pages.set_column(pages.column_names.index("book"), "book", named)


def _values(said: PageLabels) -> dict[str, list[str]]:
    """Values in use of each label, sorted; of a label with very many only the first."""
    found: dict[str, set[str]] = {}
    for told in (said.by_page, said.by_book):
        for name, owners in told.items():
            found.setdefault(name, set()).update(str(v) for v in owners.values() if v is not None)
    return {name: sorted(values)[:MOST_VALUES] for name, values in sorted(found.items())}


def _card(row: dict[Any, Any], place: dict[str, int], boxes: dict[str, Any]) -> list[Any]:
    reviewed = row["reviewed"] is True
    aspect = row["aspect"]
    return [
        row["page_id"], place[row["book"]], int(row["page_number"]),
        doubt(row["confidence"], reviewed), reviewed,
        round(float(aspect), 4) if aspect else 0.66, row["tier_pattern"] or "",
        boxes.get(row["page_id"], []),
    ]


def doubt(confidence: float | None, reviewed: bool) -> int:
    """Doubt in percent; none once a person has looked at the page."""
    if reviewed:
        return 0
    sure = 0.0 if confidence is None or not np.isfinite(confidence) else float(confidence)
    return round(100 * (1.0 - sure))


def _boxes(library: Library, page_ids: pa.ChunkedArray) -> dict[str, list[list[int]]]:
    """Boxes of each page's panels in thousandths of the page, in reading order."""
    columns = ["page_id", "reading_order", "x_min_share", "y_min_share", "x_max_share",
               "y_max_share"]
    table = library.panels(columns=columns)
    if len(page_ids) < FEW_PAGES:
        wanted = page_ids.combine_chunks()
        table = table.filter(pc.is_in(table["page_id"], value_set=wanted))
    table = table.sort_by([("page_id", "ascending"), ("reading_order", "ascending")])
    ids = table["page_id"].to_pylist()
    shares = np.column_stack([table[c].to_numpy() for c in columns[2:]])
    whole = np.rint(1000 * np.nan_to_num(shares)).astype(int).tolist()
    boxes: dict[str, list[list[int]]] = {}
    for page_id, box in zip(ids, whole, strict=True):
        boxes.setdefault(page_id, []).append(box)
    return boxes
