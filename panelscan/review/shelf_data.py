"""What the shelf shows: every page as a small card, in compact arrays."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow.compute as pc

from panelscan.corpus.query import load_pages
from panelscan.corpus.store import Library

PAGE_COLUMNS = (
    "page_id", "book", "page_number", "panel_count", "confidence", "reviewed", "aspect",
    "tier_pattern", "doubts", "clarity",
)


def shelf_data(library: Library, where: str | None = None) -> dict[str, Any]:
    """Pages with their grids for the shelf, most doubtful first within the whole.

    Parameters
    ----------
    library : Library
        The library.
    where : str or None
        Filter expression.

    Returns
    -------
    dict
        ``pages``: one list a page (id, book's place in ``books``, number, doubt in percent,
        reviewed, aspect, tiers, boxes), ``books``: names.

    Raises
    ------
    NotationError
        If the filter cannot be understood.
    """
    pages = load_pages(library, where, columns=PAGE_COLUMNS, duplicates=True)
    boxes = _boxes(library, pages["page_id"].tolist())
    books = sorted(pages["book"].unique().tolist())
    place = {name: i for i, name in enumerate(books)}
    rows = [_card(row, place, boxes) for row in pages.to_dict("records")]
    rows.sort(key=lambda r: (-r[3], books[r[1]], r[2]))
    return {"books": books, "pages": rows}


def _card(row: dict[Any, Any], place: dict[str, int], boxes: dict[str, Any]) -> list[Any]:
    reviewed = row["reviewed"] is True
    aspect = row["aspect"]
    return [
        row["page_id"], place[row["book"]], int(row["page_number"]),
        _doubt(row["confidence"], reviewed), reviewed,
        round(float(aspect), 4) if aspect else 0.66, row["tier_pattern"] or "",
        boxes.get(row["page_id"], []),
    ]


def _doubt(confidence: float | None, reviewed: bool) -> int:
    """Doubt in percent; none once a person has looked at the page."""
    if reviewed:
        return 0
    sure = 0.0 if confidence is None or not np.isfinite(confidence) else float(confidence)
    return round(100 * (1.0 - sure))


def _boxes(library: Library, page_ids: list[str]) -> dict[str, list[list[int]]]:
    """Boxes of each page's panels in thousandths of the page, in reading order."""
    columns = ["page_id", "reading_order", "x_min_share", "y_min_share", "x_max_share",
               "y_max_share"]
    table = library.panels(columns=columns)
    if len(page_ids) < 2000:
        table = table.filter(pc.is_in(table["page_id"], value_set=_strings(page_ids)))
    table = table.sort_by([("page_id", "ascending"), ("reading_order", "ascending")])
    ids = table["page_id"].to_pylist()
    shares = np.column_stack([table[c].to_numpy() for c in columns[2:]])
    whole = np.rint(1000 * np.nan_to_num(shares)).astype(int).tolist()
    boxes: dict[str, list[list[int]]] = {}
    for page_id, box in zip(ids, whole, strict=True):
        boxes.setdefault(page_id, []).append(box)
    return boxes


def _strings(values: list[str]) -> Any:
    import pyarrow as pa

    return pa.array(values, pa.string())
