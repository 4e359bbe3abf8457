"""Rough against final: what an artist changes when inking."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelscan.study.shelf import Shelf

EARLY = ("rough", "pencils")
LATE = ("inks", "colour")


@dataclass(frozen=True, slots=True)
class StageChange:
    """What changed between an early and a late stage of the same pages.

    Parameters
    ----------
    pages : int
        Pages known in both stages.
    same_count : int
        Of those, pages with the same number of panels.
    median_growth : float
        Median of (late area / early area - 1) over panels matched by their place.
    grew_most_place : int or None
        Place in the order whose panels grow most (median); None where nothing is matched.
    tier_gutter_change_mm, column_gutter_change_mm : float
        Median change of a page's gutters; NaN where not known.
    """

    pages: int
    same_count: int
    median_growth: float
    grew_most_place: int | None
    tier_gutter_change_mm: float
    column_gutter_change_mm: float


def stage_changes(shelf: Shelf) -> StageChange | None:
    """Changes between stages, or None where no page is known in two stages.

    Pages belong together when book and page number agree (labels ``stage`` tell them apart).
    """
    if "stage" not in shelf.pages:
        return None
    early = shelf.pages[shelf.pages["stage"].isin(EARLY)]
    late = shelf.pages[shelf.pages["stage"].isin(LATE)]
    pairs = early.merge(late, on=["book", "page_number"], suffixes=("_early", "_late"))
    pairs = pairs.drop_duplicates(["book", "page_number"], keep="last")
    if pairs.empty:
        return None
    same = pairs["panel_count_early"] == pairs["panel_count_late"]
    growth = _growth(shelf, pairs[same])
    by_place = growth.groupby("reading_order")["growth"].median()
    return StageChange(
        pages=len(pairs),
        same_count=int(same.sum()),
        median_growth=float(growth["growth"].median()) if len(growth) else float("nan"),
        grew_most_place=int(by_place.index.to_numpy()[int(by_place.to_numpy().argmax())])
        if len(by_place)
        else None,
        tier_gutter_change_mm=_median_change(pairs, "tier_gutter_mm"),
        column_gutter_change_mm=_median_change(pairs, "column_gutter_mm"),
    )


def _growth(shelf: Shelf, pairs: pd.DataFrame) -> pd.DataFrame:
    areas = shelf.panels[["page_id", "reading_order", "area_share"]]
    early = areas.rename(columns={"page_id": "page_id_early", "area_share": "area_share_early"})
    late = areas.rename(columns={"page_id": "page_id_late", "area_share": "area_share_late"})
    both = pairs[["page_id_early", "page_id_late"]].merge(early, on="page_id_early")
    both = both.merge(late, on=["page_id_late", "reading_order"])
    both["growth"] = both["area_share_late"] / both["area_share_early"] - 1.0
    return both


def _median_change(pairs: pd.DataFrame, measure: str) -> float:
    change = (pairs[f"{measure}_late"] - pairs[f"{measure}_early"]).to_numpy(dtype=float)
    good = change[np.isfinite(change)]
    return float(np.median(good)) if good.size else float("nan")


def _place_of_greatest(by_place: pd.Series) -> int | None:
    if by_place.empty:
        return None
    return int(by_place.index.to_numpy()[int(by_place.to_numpy().argmax())])
