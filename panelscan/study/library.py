"""A shelf of pages from a library: only the columns that the study needs, in small arrays.

Panels and gutters are read a few hundred thousand rows at a time into arrays of the right
size; outlines and readings stay in the library until a page asks for its own. A shelf of a
million pages takes well under a gigabyte.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus import view as views
from panelscan.corpus.geoparquet import shapes_of
from panelscan.corpus.labels import box_iou, labels_now
from panelscan.corpus.page_links import links_of
from panelscan.corpus.query import load_pages, load_panels
from panelscan.corpus.store import Library
from panelscan.model.outline import Outline
from panelscan.study.shelf import Shelf
from panelscan.study.source import PageFrame, rings_by_page
from panelscan.study.stages import EARLY, LATE, StageTables

if TYPE_CHECKING:
    import pandas as pd

PANEL_NUMBERS = (
    "reading_order", "confidence", "area_share", "aspect", "slant_deg", "depth", "border_mm",
    "wobble_mm", "free_top_share", "lettered_share", "ink_density",
    "x_min_share", "y_min_share", "x_max_share", "y_max_share",
)  # fmt: skip
PANEL_FLAGS = ("is_inset", "is_full_tier")
PANEL_WORDS = ("shape",)
GUTTER_NUMBERS = (
    "width_px", "width_mm", "width_share", "width_min_px", "width_max_px", "angle_deg",
    "panel_a", "panel_b",
)  # fmt: skip
GUTTER_WORDS = ("kind",)
PAGE_COLUMNS = (
    "page_id", "book", "page_number", "page_side", "source_path", "width_mm", "height_mm",
    "aspect", "direction", "confidence", "panel_count", "tier_count", "tier_pattern", "clarity",
    "symmetry", "density", "contrast", "gutter_cv", "tier_gutter_mm", "tier_gutter_share",
    "column_gutter_mm", "column_gutter_share", "bleed_left", "bleed_top", "bleed_right",
    "bleed_bottom", "margin_left_mm", "margin_top_mm", "margin_right_mm", "margin_bottom_mm",
    "margin_left_share", "margin_top_share", "margin_right_share", "margin_bottom_share",
    "reviewed",
)  # fmt: skip
PAGE_WORDS = ("book", "page_side", "direction", "tier_pattern")
STAGE_COLUMNS = ("page_number", "panel_count", "tier_gutter_mm", "column_gutter_mm")
FEW = 50_000
"""Pages up to which the rows of a filter are picked in the file, not while streaming."""


def shelf_of(
    folder: Path | Library, where: str | None = None, *, every_stage: bool = False
) -> Shelf:
    """Shelf of the pages of a library for which a filter holds.

    Parameters
    ----------
    folder : Path or Library
        The library.
    where : str or None
        Filter, all pages for None.
    every_stage : bool
        Whether a page scanned twice or in two stages stands for each time; otherwise once.
        What changed between stages is told in both cases.

    Raises
    ------
    NothingFound
        If no page is left.
    NotationError
        If the filter cannot be understood.
    """
    library = folder if isinstance(folder, Library) else Library.open(folder)
    pages = _slim(load_pages(library, where, columns=PAGE_COLUMNS, duplicates=every_stage))
    ids = pa.array(pages["page_id"], pa.string())
    picked = where is not None and len(pages) < FEW
    panels = _rows(library, "panels", ids, picked)
    gutters = _rows(library, "gutters", ids, picked)
    panels = _with_labels(library, ids, panels)
    source = LibrarySource(library)
    stages = stage_tables(library, where)
    return Shelf.of(pages, panels, gutters, source=source, stages=stages)


class LibrarySource:
    """Readings, frames and outlines of a few pages of a library.

    Parameters
    ----------
    library : Library
        Where they lie.
    """

    def __init__(self, library: Library) -> None:
        self._library = library

    def readings(self, ids: Sequence[str]) -> dict[str, str]:
        """JSON of the other readings of each page that has some."""
        wanted = pa.array(list(ids), pa.string())
        found: dict[str, str] = {}

        def read(view: views.View) -> None:
            found.clear()
            columns = ["page_id", "readings"]
            for rows in views.read_batches(self._library.place, view, "pages", columns, 20_000):
                kept = pc.and_(
                    pc.is_in(rows["page_id"], value_set=wanted),
                    pc.greater(pc.utf8_length(rows["readings"]), 2),
                )
                kept_rows = rows.filter(kept).to_pydict()
                found.update(zip(kept_rows["page_id"], kept_rows["readings"], strict=True))

        self._library.reading(("pages",), read)
        return found

    def frames(self, ids: Sequence[str]) -> dict[str, PageFrame]:
        """Frame of each page."""
        rows = self._of("pages", ["page_id", "geometry", "fold_x_px"], ids)
        told = zip(
            rows["page_id"].to_pylist(),
            shapes_of(rows["geometry"]),
            rows["fold_x_px"].to_pylist(),
            strict=True,
        )
        return {i: PageFrame(Outline.from_shape(s), fold) for i, s, fold in told if s is not None}

    def outlines(self, ids: Sequence[str]) -> dict[str, list[np.ndarray]]:
        """Corners of each page's panels, page-relative, in reading order."""
        rows = self._of("panels", ["page_id", "reading_order", "geometry_page"], ids)
        rows = rows.filter(pc.is_valid(rows["geometry_page"]))
        rows = rows.sort_by([("page_id", "ascending"), ("reading_order", "ascending")])
        return rings_by_page(rows["page_id"].to_pylist(), rows["geometry_page"].to_pylist())

    def _of(self, table: str, columns: list[str], ids: Sequence[str]) -> pa.Table:
        wanted = pc.field("page_id").isin(pa.array(list(ids), pa.string()))
        return self._library.table(table, columns, wanted)


def stage_tables(library: Library, where: str | None = None) -> StageTables | None:
    """Pages labelled with their stage, each scan a row; None where no two stages are named."""
    if "stage" not in labels_now(library.place).names:
        return None
    pages = load_pages(library, where, columns=STAGE_COLUMNS, duplicates=True)
    if not pages["stage"].isin(EARLY).any() or not pages["stage"].isin(LATE).any():
        return None
    pages = pages[pages["stage"].isin((*EARLY, *LATE))].reset_index(drop=True)
    links = links_of(library).to_pydict()
    same = dict(zip(links["page_id"], links["counted"], strict=True))
    columns = ["reading_order", "area_share", *(n for n in PANEL_NUMBERS if n.endswith("_share"))]
    panels = load_panels(library, where, columns=list(dict.fromkeys(columns)), duplicates=True)
    return StageTables(pages, panels[panels["page_id"].isin(pages["page_id"])], same)


def _slim(pages: pd.DataFrame) -> pd.DataFrame:
    """Pages with numbers in four bytes and repeated words as categories."""
    slim: dict[str, Any] = {}
    for name in list(pages.columns):
        column = pages.pop(name)
        if name in PAGE_WORDS:
            column = column.astype("category")
        elif name.startswith("bleed_") or name == "reviewed":
            column = column.fillna(False).astype(bool)
        elif column.dtype.kind == "f":
            column = column.astype(np.float32)
        slim[name] = column
    import pandas as pd

    return pd.DataFrame(slim, copy=False)


def _rows(library: Library, table: str, ids: pa.Array, picked: bool) -> pd.DataFrame:
    """Panels or gutters of the pages with ``page``, in the pages' order."""
    numbers, flags, words = (
        (PANEL_NUMBERS, PANEL_FLAGS, PANEL_WORDS)
        if table == "panels"
        else (GUTTER_NUMBERS, (), GUTTER_WORDS)
    )
    columns = ["page_id", *numbers, *flags, *words]
    finder = _Finder(ids)

    def read(view: views.View) -> _Columns:
        if picked:
            wanted = pc.field("page_id").isin(ids)
            whole = views.read_table(library.place, view, table, columns, wanted)
            batches: Iterator[pa.Table] = iter([whole])
            count = whole.num_rows
        else:
            batches = views.read_batches(library.place, view, table, columns, 200_000)
            count = views.count_rows(library.place, view, table)
        found = _Columns(count, numbers, flags, words)
        for batch in batches:
            found.add(batch, finder)
        return found

    return library.reading((table,), read).frame()


class _Finder:
    """Places of pages on the shelf: a sorted array, made once and asked for every batch."""

    def __init__(self, ids: pa.Array) -> None:
        texts = np.array(ids.to_pylist(), dtype=np.bytes_)
        self._order = np.argsort(texts, kind="stable")
        self._sorted = texts[self._order]

    def places(self, column: pa.ChunkedArray) -> np.ndarray:
        """Place of each id, -1 where it is not on the shelf."""
        coded = column.combine_chunks().dictionary_encode()
        asked = np.array(coded.dictionary.to_pylist(), dtype=np.bytes_)
        if not len(asked) or not len(self._sorted):
            return np.full(len(column), -1)
        spot = np.minimum(np.searchsorted(self._sorted, asked), len(self._sorted) - 1)
        place = np.where(self._sorted[spot] == asked, self._order[spot], -1)
        return np.asarray(place[coded.indices.to_numpy()])


class _Columns:
    """Arrays that are filled a batch at a time."""

    def __init__(
        self, most: int, numbers: Sequence[str], flags: Sequence[str], words: Sequence[str]
    ) -> None:
        self._count = 0
        self._arrays: dict[str, np.ndarray] = {"page": np.empty(most, dtype=np.int32)}
        self._arrays |= {name: np.empty(most, dtype=np.float32) for name in numbers}
        self._arrays |= {name: np.empty(most, dtype=bool) for name in flags}
        self._arrays |= {name: np.empty(most, dtype=np.int8) for name in words}
        self._words: dict[str, dict[str, int]] = {name: {} for name in words}

    def add(self, rows: pa.Table, finder: _Finder) -> None:
        """Add those rows whose page is among the shelf's."""
        place = finder.places(rows["page_id"])
        kept = place >= 0
        if not kept.all():
            rows, place = rows.filter(pa.array(kept)), place[kept]
        part = slice(self._count, self._count + rows.num_rows)
        self._arrays["page"][part] = place
        for name, array in self._arrays.items():
            if name in self._words:
                array[part] = self._codes(name, rows[name])
            elif name != "page":
                array[part] = _plain(rows[name], array.dtype)
        self._count = part.stop

    def _codes(self, name: str, column: pa.ChunkedArray) -> np.ndarray:
        coded = column.combine_chunks().dictionary_encode()
        known = self._words[name]
        for word in coded.dictionary.to_pylist():
            known.setdefault(word, len(known))
        number = np.array([known[w] for w in coded.dictionary.to_pylist()] + [-1], dtype=np.int8)
        return np.asarray(number[pc.fill_null(coded.indices, -1).to_numpy()])

    def frame(self) -> pd.DataFrame:
        """The rows in the order of their pages and as they are read."""
        import pandas as pd

        arrays = {name: array[: self._count] for name, array in self._arrays.items()}
        order = arrays.get("reading_order", np.zeros(self._count))
        step = np.diff(arrays["page"])
        if not np.all((step > 0) | ((step == 0) & (np.diff(order) >= 0))):
            sort = np.lexsort((order, arrays["page"]))
            for name in arrays:
                arrays[name] = self._arrays[name] = arrays[name][sort]
        columns: dict[str, Any] = dict(arrays)
        for name, known in self._words.items():
            columns[name] = pd.Categorical.from_codes(arrays[name], pd.Index(list(known)))
        return pd.DataFrame(columns, copy=False)


def _plain(column: pa.ChunkedArray, kind: np.dtype[Any]) -> np.ndarray:
    if kind == np.bool_:
        return np.asarray(pc.fill_null(column, False).to_numpy())
    return np.asarray(column.to_numpy(), dtype=np.float32)


def _with_labels(library: Library, ids: pa.Array, panels: pd.DataFrame) -> pd.DataFrame:
    """Panels with a column for each label of panels, matched by page and box."""
    told = labels_now(library.place).panels
    if not told.num_rows:
        return panels
    place = pc.index_in(told["page_id"], value_set=ids).to_pylist()
    starts = np.searchsorted(panels["page"].to_numpy(), np.arange(len(ids) + 1))
    boxes = panels[["x_min_share", "y_min_share", "x_max_share", "y_max_share"]].to_numpy()
    values: dict[str, np.ndarray] = {}
    for page, label in zip(place, told.to_pylist(), strict=True):
        if page is None:
            continue
        close = box_iou(boxes[starts[page] : starts[page + 1]], np.array(label["panel_box"]))
        if len(close) and close.max() >= 0.5:
            blank = np.full(len(panels), None, dtype=object)
            column = values.setdefault(label["name"], blank)
            column[starts[page] + int(close.argmax())] = label["value"]
    named = {f"label_{n}" if n in panels.columns else n: column for n, column in values.items()}
    return panels.assign(**named)
