"""The pages that are studied, with the readings that detection left open.

A shelf is three tables (pages, panels, gutters, columns as in ``corpus/schema.py``) plus a
few drawn choices of one reading for each page, so that every figure can carry detection's
doubt. Reviewed pages are certain.

A *sheet* is a page as one reading has it. Sheet p is page p as the best reading has it; the
sheets after the last page are the other readings that were drawn for some page.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from panelscan.errors import NothingFound
from panelscan.study.other_readings import OtherReadings, other_readings
from panelscan.study.source import Source, TableSource
from panelscan.study.stages import StageTables
from panelscan.study.uncertainty import Blocks

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Rows:
    """Panels or gutters of all sheets.

    Parameters
    ----------
    best, other : DataFrame
        Rows of the best readings and of the other ones.
    sheet : ndarray of int, shape (V,)
        Sheet of each row, best readings first.
    """

    best: pd.DataFrame
    other: pd.DataFrame
    sheet: np.ndarray

    def __len__(self) -> int:
        return len(self.sheet)

    def numbers(self, name: str) -> np.ndarray:
        """A column as float64, NaN where not known; all NaN where there is no such column."""
        return _joined(self.best, self.other, name, len(self))

    def flags(self, name: str) -> np.ndarray:
        """A column of yes and no; unknown counts as no."""
        return np.asarray(self.numbers(name) == 1.0)

    def equals(self, name: str, word: str) -> np.ndarray:
        """Whether a column of words holds one word."""
        parts = [_equals(frame, name, word) for frame in (self.best, self.other)]
        return np.concatenate(parts)

    @cached_property
    def confidence(self) -> np.ndarray:
        """Confidence of each row; the usual one where it is not known."""
        told = self.numbers("confidence")
        known = told[np.isfinite(told)]
        told[~np.isfinite(told)] = float(np.median(known)) if len(known) else 1.0
        return told


@dataclass(frozen=True, eq=False)
class Shelf:
    """Pages, panels and gutters of the pages studied.

    Parameters
    ----------
    pages : DataFrame
        Rows as in the library, in book and page order.
    panels, gutters : DataFrame
        Rows as in the library with ``page``, the row in ``pages``, in its order; panels of
        a page in reading order.
    blocks : Blocks
        Resampling of the pages.
    others : OtherReadings
        What detection left open.
    source : Source
        Gives outlines of a few pages.
    stages : StageTables or None
        The same pages in every stage, where stages are labelled.
    """

    pages: pd.DataFrame
    panels: pd.DataFrame
    gutters: pd.DataFrame
    blocks: Blocks
    others: OtherReadings
    source: Source
    stages: StageTables | None = None

    @classmethod
    def of(
        cls,
        pages: pd.DataFrame,
        panels: pd.DataFrame,
        gutters: pd.DataFrame,
        seed: int = 0,
        source: Source | None = None,
        stages: StageTables | None = None,
    ) -> Shelf:
        """Shelf from the library's tables.

        Parameters
        ----------
        panels, gutters : DataFrame
            With ``page_id``, or with ``page``, the row in `pages` (which is then in order
            already).
        source : Source or None
            Where outlines and readings come from; the tables themselves for None.
        stages : StageTables or None
            The pages in every stage; these ones for None, where they are labelled.

        Raises
        ------
        NothingFound
            If there is no page.
        """
        if pages.empty:
            raise NothingFound("There is no page to study.", "Scan some, or widen the filter.")
        source = source or TableSource(pages, panels)
        if stages is None and "stage" in pages and "page_id" in panels:
            stages = StageTables(pages, panels)
        if "page" not in panels:
            pages = pages.sort_values(["book", "page_number", "page_id"], ignore_index=True)
            panels, gutters = (_with_page(pages, rows) for rows in (panels, gutters))
        books = pages["book"].astype("category").cat.codes.to_numpy()
        others = other_readings(pages, panels, source, seed)
        return cls(pages, panels, gutters, Blocks.draw(books, seed), others, source, stages)

    def part(self, rows: np.ndarray, seed: int = 0) -> Shelf:
        """Shelf of some of the pages; ``rows`` is bool, shape (P,)."""
        place = np.cumsum(rows) - 1
        pages = self.pages[rows].reset_index(drop=True)
        panels, gutters = (_moved(t, rows, place) for t in (self.panels, self.gutters))
        books = pages["book"].astype("category").cat.codes.to_numpy()
        tables = (self.others.pages, self.others.panels, self.others.gutters)
        moved = [_moved(t, rows, place) for t in tables]
        others = OtherReadings(self.others.chosen[:, rows], self.others.scale, *moved)
        return Shelf(pages, panels, gutters, Blocks.draw(books, seed), others, self.source)

    def __len__(self) -> int:
        return len(self.pages)

    @cached_property
    def books(self) -> tuple[str, ...]:
        """The books in order: by date where every book has one, else by name."""
        pages = self.pages
        names = sorted({str(book) for book in pages["book"].unique()}, key=_natural)
        if "date" in pages:
            first = pages.groupby(pages["book"].astype(str))["date"].min().dropna().to_dict()
            if len(first) == len(names):
                names.sort(key=lambda name: str(first[name]))
        return tuple(names)

    @cached_property
    def book_codes(self) -> np.ndarray:
        """Number of each page's book, in the books' order; pages of a book lie together."""
        import pandas as pd

        books = self.pages["book"].astype("category")
        place = pd.Index(self.books).get_indexer(books.cat.categories.astype(str))
        return np.asarray(place[books.cat.codes.to_numpy()])

    @cached_property
    def page_of_sheet(self) -> np.ndarray:
        """Page of each sheet, shape (P + Q,)."""
        best = np.arange(len(self), dtype=np.int32)
        return np.concatenate([best, self.others.pages["page"].to_numpy(dtype=np.int32)])

    @cached_property
    def block_of_sheet(self) -> np.ndarray:
        """Block of each sheet's page, shape (P + Q,)."""
        return np.asarray(self.blocks.of_page[self.page_of_sheet], dtype=np.int64)

    @cached_property
    def drawn(self) -> np.ndarray:
        """Sheet of each page in each imputed library, shape (M, P)."""
        first = np.arange(len(self), dtype=np.int32)
        drawn = np.broadcast_to(first, self.others.chosen.shape).copy()
        pages = self.others.pages[["page", "reading"]].to_numpy(dtype=np.int64)
        for sheet, (page, reading) in enumerate(pages, start=len(self)):
            drawn[self.others.chosen[:, page] == reading, page] = sheet
        return np.asarray(drawn)

    @property
    def is_open(self) -> bool:
        """Whether any page has another reading that was drawn."""
        return len(self.others.pages) > 0

    @cached_property
    def panel_rows(self) -> Rows:
        """Panels of all sheets."""
        return Rows(self.panels, self.others.panels, self._sheets(self.panels, self.others.panels))

    @cached_property
    def gutter_rows(self) -> Rows:
        """Gutters of all sheets."""
        sheets = self._sheets(self.gutters, self.others.gutters)
        return Rows(self.gutters, self.others.gutters, sheets)

    def panel_at(self, sheet: np.ndarray, place: np.ndarray) -> np.ndarray:
        """Panel row at a place (from 1) of a sheet's order, -1 where there is none."""
        first = np.searchsorted(self.panel_rows.sheet, np.arange(len(self.page_of_sheet) + 1))
        known = (place >= 1) & (place <= np.diff(first)[sheet])
        at = first[sheet] + np.where(known, place, 1).astype(np.int64) - 1
        return np.asarray(np.where(known, at, -1))

    @cached_property
    def gutter_confidence(self) -> np.ndarray:
        """Confidence of each gutter row: of the less sure of its two panels."""
        rows, sure = self.gutter_rows, np.append(self.panel_rows.confidence, 1.0)
        sides = [sure[self.panel_at(rows.sheet, rows.numbers(n))] for n in ("panel_a", "panel_b")]
        return np.asarray(np.minimum(*sides))

    def numbers(self, name: str) -> np.ndarray:
        """A column of pages for each sheet, as float64, shape (P + Q,)."""
        return _joined(self.pages, self.others.pages, name, len(self.page_of_sheet))

    def words(self, name: str) -> np.ndarray:
        """A column of words of pages for each sheet; ``"?"`` where not known."""
        parts = [t[name].astype(object) for t in (self.pages, self.others.pages) if name in t]
        import pandas as pd

        words = pd.concat(parts, ignore_index=True)
        return np.asarray(words.where(words.notna(), "?").to_numpy(dtype=object))

    def spread(self, values: np.ndarray) -> np.ndarray:
        """Values of sheets as values of pages: shape (M, P), or (1, P) where nothing is open."""
        if not self.is_open:
            return np.asarray(values[None, : len(self)])
        return np.asarray(values[self.drawn])

    @cached_property
    def counts(self) -> np.ndarray:
        """Panels on each page in each imputed library, shape (M, P) or (1, P)."""
        return self.spread(np.nan_to_num(self.numbers("panel_count")))

    def _sheets(self, best: pd.DataFrame, other: pd.DataFrame) -> np.ndarray:
        pages = self.others.pages[["page", "reading"]].to_numpy(dtype=np.int64)
        number = {tuple(key): len(self) + k for k, key in enumerate(pages.tolist())}
        keys = other[["page", "reading"]].to_numpy(dtype=np.int64).tolist()
        later = np.array([number[tuple(key)] for key in keys], dtype=np.int32)
        return np.concatenate([best["page"].to_numpy(dtype=np.int32), later])


def _natural(name: str) -> list[tuple[bool, int, str]]:
    """Key that sorts 2 before 10."""
    parts = re.findall(r"\d+|\D+", name)
    return [(part.isdigit(), int(part) if part.isdigit() else 0, part) for part in parts]


def _with_page(pages: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows with ``page`` in place of ``page_id``, in the pages' order."""
    import pandas as pd

    place = pd.Index(pages["page_id"]).get_indexer(rows["page_id"])
    kept = rows.drop(columns=["page_id", "geometry_page"], errors="ignore").assign(page=place)
    keys = ["page", *(["reading_order"] if "reading_order" in rows else [])]
    ordered: pd.DataFrame = kept[place >= 0].sort_values(keys, kind="stable", ignore_index=True)
    return ordered


def _moved(table: pd.DataFrame, rows: np.ndarray, place: np.ndarray) -> pd.DataFrame:
    """Rows of the pages kept, with their new numbers."""
    page = table["page"].to_numpy(dtype=np.int64)
    kept = table[rows[page]].reset_index(drop=True)
    moved: pd.DataFrame = kept.assign(page=place[page[rows[page]]])
    return moved


def _joined(best: pd.DataFrame, other: pd.DataFrame, name: str, count: int) -> np.ndarray:
    if name not in best:
        return np.full(count, np.nan)
    first = _numbers(best, name)
    return np.concatenate([first, _numbers(other, name)]) if len(other) else first.copy()


def _numbers(frame: pd.DataFrame, name: str) -> np.ndarray:
    if name not in frame:
        return np.full(len(frame), np.nan)
    column = frame[name]
    if column.dtype == object:
        return np.array([np.nan if v is None else float(v) for v in column], dtype=float)
    return np.asarray(column.to_numpy(dtype=float, na_value=np.nan))


def _equals(frame: pd.DataFrame, name: str, word: str) -> np.ndarray:
    if name not in frame:
        return np.zeros(len(frame), dtype=bool)
    return np.asarray(frame[name].eq(word).fillna(False).to_numpy(dtype=bool))
