"""The pages that are studied, with the readings that detection left open.

A shelf is three tables (pages, panels, gutters, columns as in ``corpus/schema.py``) plus a
few drawn choices of one reading for each page, so that every figure can carry detection's
doubt. Reviewed pages are certain.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from panelscan.errors import NothingFound
from panelscan.study.uncertainty import IMPUTATIONS, Blocks

if TYPE_CHECKING:
    import pandas as pd

ALTERNATIVE_COLUMNS = [
    "page",
    "reading",
    "area_share",
    "aspect",
    "place",
    "left",
    "top",
    "right",
    "bottom",
]
AT_EDGE = 0.004


@dataclass(frozen=True, eq=False)
class Shelf:
    """Pages, panels and gutters of the pages studied.

    Parameters
    ----------
    pages, panels, gutters : DataFrame
        Rows as in the library; ``pages`` in book and page order.
    blocks : Blocks
        Resampling of the pages.
    chosen : ndarray of int, shape (M, P)
        Reading drawn for each page in each imputed library; 0 is the best one.
    alternatives : DataFrame
        Panels of the other readings: ``page`` (row in pages), ``reading`` (from 1),
        ``area_share``, ``aspect``, ``place`` (from 1), ``left``, ``top``, ``right``,
        ``bottom`` (whether it reaches that edge of the image).
    """

    pages: pd.DataFrame
    panels: pd.DataFrame
    gutters: pd.DataFrame
    blocks: Blocks
    chosen: np.ndarray
    alternatives: pd.DataFrame

    @classmethod
    def of(
        cls, pages: pd.DataFrame, panels: pd.DataFrame, gutters: pd.DataFrame, seed: int = 0
    ) -> Shelf:
        """Shelf from the library's tables.

        Raises
        ------
        NothingFound
            If there is no page.
        """
        if pages.empty:
            raise NothingFound("There is no page to study.", "Scan some, or widen the filter.")
        pages = pages.sort_values(["book", "page_number", "page_id"], ignore_index=True)
        books = pages["book"].astype("category").cat.codes.to_numpy()
        alternatives, odds = _open_readings(pages)
        chosen = _draw_readings(len(pages), odds, seed)
        return cls(pages, panels, gutters, Blocks.draw(books, seed), chosen, alternatives)

    def __len__(self) -> int:
        return len(self.pages)

    @cached_property
    def page_of_panel(self) -> np.ndarray:
        """Row in ``pages`` of each panel; -1 where the page is not on the shelf."""
        return _rows_of(self.pages, self.panels)

    @cached_property
    def page_of_gutter(self) -> np.ndarray:
        """Row in ``pages`` of each gutter."""
        return _rows_of(self.pages, self.gutters)

    @cached_property
    def counts(self) -> np.ndarray:
        """Panels on each page in each imputed library, shape (M, P)."""
        base = self.pages["panel_count"].fillna(0).to_numpy(dtype=np.int64)
        counts = np.broadcast_to(base, self.chosen.shape).copy()
        if len(self.alternatives):
            grouped = self.alternatives.groupby(["page", "reading"], as_index=False).size()
            for page, reading, count in grouped.to_numpy():
                counts[self.chosen[:, page] == reading, page] = count
        return np.asarray(counts)

    def bleeds(self, edge: str) -> np.ndarray:
        """Whether each page bleeds at an edge in each imputed library, shape (M, P)."""
        base = self.pages[f"bleed_{edge}"].eq(True).to_numpy()
        flags = np.broadcast_to(base, self.chosen.shape).copy()
        if len(self.alternatives):
            columns = ["page", "reading", edge]
            grouped = self.alternatives[columns].groupby(["page", "reading"], as_index=False).max()
            for page, reading, flag in grouped.to_numpy():
                flags[self.chosen[:, int(page)] == reading, int(page)] = bool(flag)
        return np.asarray(flags)

    def in_library(self, imputation: int, page: np.ndarray, reading: int = 0) -> np.ndarray:
        """Whether rows of pages belong to the reading drawn in one imputed library."""
        return np.asarray((page >= 0) & (self.chosen[imputation][np.maximum(page, 0)] == reading))


def _rows_of(pages: pd.DataFrame, rows: pd.DataFrame) -> np.ndarray:
    import pandas as pd

    index = pd.Index(pages["page_id"])
    return np.asarray(index.get_indexer(rows["page_id"]), dtype=np.int64)


def _open_readings(pages: pd.DataFrame) -> tuple[pd.DataFrame, dict[int, np.ndarray]]:
    """Panels of the other readings, and the odds of each reading, for pages in doubt."""
    import pandas as pd

    rows: list[tuple[float, ...]] = []
    odds: dict[int, np.ndarray] = {}
    texts = pages["readings"].to_numpy()
    sure = pages["reviewed"].fillna(False).to_numpy(dtype=bool)
    sizes = pages[["width_px", "height_px"]].to_numpy(dtype=float)
    for page in np.flatnonzero(pd.notna(texts) & (texts != "[]") & (texts != "") & ~sure):
        readings = json.loads(texts[page])
        odds[int(page)] = _odds(readings)
        for number, reading in enumerate(readings, start=1):
            rows.extend(_panel_rows(int(page), number, reading, sizes[page]))
    return pd.DataFrame(rows, columns=ALTERNATIVE_COLUMNS), odds


def _odds(readings: list[dict[str, Any]]) -> np.ndarray:
    others = np.array([float(r["probability"]) for r in readings])
    best = max(0.0, 1.0 - others.sum())
    odds = np.concatenate([[best], others])
    return np.asarray(odds / odds.sum())


def _panel_rows(
    page: int, number: int, reading: dict[str, Any], size: np.ndarray
) -> list[tuple[float, ...]]:
    from panelscan.model.outline import signed_area

    rows: list[tuple[float, ...]] = []
    for place, corners in enumerate(reading["panels"], start=1):
        ring = np.asarray(corners, dtype=float)
        width, height = np.ptp(ring, axis=0)
        share = abs(signed_area(ring.tolist())) / float(size[0] * size[1])
        x_min, y_min = ring.min(axis=0) / size
        x_max, y_max = ring.max(axis=0) / size
        reach = (x_min < AT_EDGE, y_min < AT_EDGE, x_max > 1 - AT_EDGE, y_max > 1 - AT_EDGE)
        rows.append((page, number, share, width / max(height, 1e-9), place, *reach))
    return rows


def _draw_readings(pages: int, odds: dict[int, np.ndarray], seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed + 1)
    chosen = np.zeros((IMPUTATIONS, pages), dtype=np.int16)
    for page, p in odds.items():
        chosen[:, page] = rng.choice(len(p), size=IMPUTATIONS, p=p)
    return chosen
