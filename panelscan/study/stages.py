"""Rough against final: what an artist changes when inking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from panelscan.corpus.labels import box_iou
from panelscan.study.figures import Figure
from panelscan.study.uncertainty import Blocks, block_histograms, fine_edges, interval, quantile_of

if TYPE_CHECKING:
    import pandas as pd

EARLY = ("rough", "pencils")
LATE = ("inks", "colour")
SAME_PANEL_IOU = 0.5
SHARES = ["x_min_share", "y_min_share", "x_max_share", "y_max_share"]
KINDS = {"tier": "between tiers", "column": "within a tier"}


@dataclass(frozen=True, eq=False)
class StageTables:
    """Pages of a library in every stage, each scan a row.

    Parameters
    ----------
    pages : DataFrame
        ``page_id``, ``book``, ``page_number``, ``stage``, ``panel_count`` and gutters.
    panels : DataFrame
        ``page_id``, ``reading_order``, ``area_share`` and, where known, boxes.
    same : mapping of str to str
        Page id -> id of the page that is counted in its place, where pages are known to be
        one.
    """

    pages: pd.DataFrame
    panels: pd.DataFrame
    same: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class StageChange:
    """What changed between an early and a late stage of the same pages.

    Parameters
    ----------
    pages : int
        Pages known in both stages.
    same_count : int
        Of those, pages with the same number of panels.
    figures : tuple of Figure
        Median growth of the panels, of each place in the order, and change of the gutters.
    changed_most : tuple of (str, str)
        Ids of the pages, early and late, whose panels changed most, the most changed first.
    """

    pages: int
    same_count: int
    figures: tuple[Figure, ...]
    changed_most: tuple[tuple[str, str], ...] = ()

    def figure(self, key: str) -> Figure:
        """Figure with the given key."""
        return next(f for f in self.figures if f.key == key)

    @property
    def by_place(self) -> tuple[Figure, ...]:
        """Growth of the panels at each place in the order."""
        return tuple(f for f in self.figures if f.key.startswith("growth_at_"))

    @property
    def grew_most_place(self) -> int | None:
        """Place in the order whose panels grow most; None where nothing is matched."""
        known = [f for f in self.by_place if f.is_known]
        if not known:
            return None
        return int(max(known, key=lambda f: f.value).key.removeprefix("growth_at_"))


def stage_changes(tables: StageTables, most_places: int = 9) -> StageChange | None:
    """Changes between stages, or None where no page is known in two stages.

    Pages belong together when the library knows them for the same one, or else when book and
    page number agree; the label ``stage`` tells them apart. Panels are matched by their boxes.
    """
    if "stage" not in tables.pages:
        return None
    pairs = _pairs(tables)
    if pairs.empty:
        return None
    growth = _growth(tables, pairs)
    blocks = Blocks.draw(np.zeros(len(pairs), dtype=np.int64))
    figures = [
        _median(
            blocks,
            "growth",
            "Growth of a panel",
            growth["pair"].to_numpy(),
            growth["growth"].to_numpy(),
            "%",
        )
    ]
    for place in range(1, most_places + 1):
        rows = growth[growth["place"] == place]
        if len(rows):
            key, title = f"growth_at_{place}", f"Growth of panel {place}"
            told = rows["pair"].to_numpy(), rows["growth"].to_numpy()
            figures.append(_median(blocks, key, title, *told, "%"))
    for kind, words in KINDS.items():
        name = f"{kind}_gutter_mm"
        change = (pairs[f"{name}_late"] - pairs[f"{name}_early"]).to_numpy(dtype=float)
        title = f"Change of gutters {words}"
        figures.append(
            _median(blocks, f"{kind}_gutter_change_mm", title, np.arange(len(pairs)), change, "mm")
        )
    same = pairs["panel_count_early"] == pairs["panel_count_late"]
    return StageChange(len(pairs), int(same.sum()), tuple(figures), _most(pairs, growth))


def _pairs(tables: StageTables) -> pd.DataFrame:
    """One row for each page known in both stages, columns ending in _early and _late."""
    import pandas as pd

    pages = tables.pages.assign(
        same=[tables.same.get(i, i) for i in tables.pages["page_id"]],
        rank=tables.pages["stage"].map({"rough": 0, "pencils": 1, "inks": 0, "colour": 1}),
    ).sort_values(["rank", "page_id"], kind="stable")
    early, late = (pages[pages["stage"].isin(names)] for names in (EARLY, LATE))
    linked = early.merge(late, on="same", suffixes=("_early", "_late"))
    numbered = early.assign(own_book=early["book"], own_number=early["page_number"]).merge(
        late.assign(own_book=late["book"], own_number=late["page_number"]),
        on=["own_book", "own_number"],
        suffixes=("_early", "_late"),
    )
    both = pd.concat([linked, numbered], ignore_index=True)
    return both.drop_duplicates("page_id_early").drop_duplicates("page_id_late").reset_index()


def _growth(tables: StageTables, pairs: pd.DataFrame) -> pd.DataFrame:
    """Area of each panel late against early in %, matched by box (by place without boxes)."""
    import pandas as pd

    by_page = dict(iter(tables.panels.groupby("page_id", sort=False)))
    found: list[tuple[int, int, float]] = []
    for number, (first, second) in enumerate(
        zip(pairs["page_id_early"], pairs["page_id_late"], strict=True)
    ):
        if first in by_page and second in by_page:
            found += [(number, *row) for row in _page_growth(by_page[first], by_page[second])]
    return pd.DataFrame(found, columns=["pair", "place", "growth"])


def _page_growth(early: pd.DataFrame, late: pd.DataFrame) -> list[tuple[int, float]]:
    old = early[SHARES].to_numpy(dtype=float)
    rows = []
    for box, place, area in zip(
        late[SHARES].to_numpy(dtype=float),
        late["reading_order"].to_numpy(),
        late["area_share"].to_numpy(dtype=float),
        strict=True,
    ):
        iou = box_iou(old, box)
        if len(iou) and iou.max() >= SAME_PANEL_IOU:
            before = float(early["area_share"].to_numpy(dtype=float)[int(iou.argmax())])
            rows.append((int(place), 100 * (area / max(before, 1e-9) - 1.0)))
    return rows


def _most(pairs: pd.DataFrame, growth: pd.DataFrame, most: int = 4) -> tuple[tuple[str, str], ...]:
    """Pages whose panels changed most, or whose number of panels changed."""
    moved = np.zeros(len(pairs))
    np.maximum.at(moved, growth["pair"].to_numpy(dtype=int), np.abs(growth["growth"].to_numpy()))
    counts = (pairs["panel_count_late"] - pairs["panel_count_early"]).to_numpy(dtype=float)
    moved += 1000 * np.abs(np.nan_to_num(counts))
    ranked = np.argsort(-moved, kind="stable")[:most]
    ids = pairs[["page_id_early", "page_id_late"]].to_numpy()
    return tuple((str(ids[k][0]), str(ids[k][1])) for k in ranked.tolist() if moved[k] >= 1.0)


def _median(
    blocks: Blocks, key: str, title: str, pair: np.ndarray, values: np.ndarray, unit: str
) -> Figure:
    """Median with its interval, pages resampled."""
    number, told = np.asarray(pair, dtype=np.int64), np.asarray(values, dtype=float)
    good = np.isfinite(told)
    if not good.any():
        nothing = float("nan")
        return Figure(key, title, nothing, nothing, nothing, unit, 0)
    edges = fine_edges(told[good])
    bins = np.clip(np.searchsorted(edges, told[good], side="right") - 1, 0, len(edges) - 2)
    ones = np.ones(int(good.sum()))
    table = block_histograms(blocks, blocks.of_page[number[good]], bins, len(edges) - 1, ones)
    low, high = interval(quantile_of(blocks.weights @ table, edges, 0.5))
    if len(np.unique(number[good])) < 2:
        low = high = float("nan")
    return Figure(key, title, float(np.median(told[good])), low, high, unit, int(good.sum()))
