"""Where a shelf gets what it needs of a few pages only: readings, frames, outlines.

The tables that are studied hold numbers; outlines and readings are fetched for the pages
that ask for them, so that a shelf of a million pages never holds a million polygons.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np
import shapely

from panelscan.model.outline import Outline

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class PageFrame:
    """The page inside its image.

    Parameters
    ----------
    frame : Outline
        Four corners, in source pixels.
    fold_x_px : float or None
        Where the fold of a kept spread lies, in source pixels.
    """

    frame: Outline
    fold_x_px: float | None = None


class Source(Protocol):
    """Gives what is asked for some pages, by page id; pages without it are left out."""

    def readings(self, ids: Sequence[str]) -> dict[str, str]:
        """JSON of the other readings of each page."""
        ...

    def frames(self, ids: Sequence[str]) -> dict[str, PageFrame]:
        """Frame of each page."""
        ...

    def outlines(self, ids: Sequence[str]) -> dict[str, list[np.ndarray]]:
        """Corners of each page's panels, (V, 2), page-relative, in reading order."""
        ...


class TableSource:
    """Source over frames that are in memory already.

    Parameters
    ----------
    pages, panels : DataFrame
        Columns as in the library; those that are missing are answered with nothing.
    """

    def __init__(self, pages: pd.DataFrame, panels: pd.DataFrame) -> None:
        self._pages, self._panels = pages, panels

    def readings(self, ids: Sequence[str]) -> dict[str, str]:
        """JSON of the other readings of each page."""
        rows = self._of(ids, "readings")
        return dict(zip(rows["page_id"], rows["readings"], strict=True))

    def frames(self, ids: Sequence[str]) -> dict[str, PageFrame]:
        """Frame of each page; the whole image where none is told."""
        found: dict[str, PageFrame] = {}
        for row in self._of(ids, "width_px").to_dict(orient="records"):
            told, fold = row.get("geometry"), row.get("fold_x_px")
            if isinstance(told, bytes):
                frame = Outline.from_shape(shapely.from_wkb(told))
            else:
                frame = Outline.box(0, 0, float(row["width_px"]), float(row["height_px"]))
            known = isinstance(fold, float) and np.isfinite(fold)
            found[row["page_id"]] = PageFrame(frame, fold if known else None)
        return found

    def outlines(self, ids: Sequence[str]) -> dict[str, list[np.ndarray]]:
        """Corners of each page's panels."""
        if not {"geometry_page", "page_id"} <= set(self._panels.columns):
            return {}
        rows = self._panels[self._panels["page_id"].isin(list(ids))]
        rows = rows[rows["geometry_page"].notna()].sort_values(["page_id", "reading_order"])
        return rings_by_page(rows["page_id"].tolist(), rows["geometry_page"].tolist())

    def _of(self, ids: Sequence[str], column: str) -> pd.DataFrame:
        if column not in self._pages:
            return self._pages.iloc[:0].reindex(columns=["page_id", column])
        rows = self._pages[self._pages["page_id"].isin(list(ids))]
        return rows[rows[column].notna()]


def rings_by_page(ids: Sequence[str], geometry: Sequence[bytes]) -> dict[str, list[np.ndarray]]:
    """Corners of WKB polygons, without the repeated last one, gathered by page."""
    found: dict[str, list[np.ndarray]] = {}
    shapes = shapely.from_wkb(np.asarray(geometry, dtype=object))
    for page_id, shape in zip(ids, shapes, strict=True):
        found.setdefault(page_id, []).append(shapely.get_coordinates(shape)[:-1])
    return found
