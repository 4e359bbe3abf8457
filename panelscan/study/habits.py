"""All habits of a shelf of pages, gathered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from panelscan.study.drift import (
    ChangePoint,
    Trend,
    book_changes,
    new_in_last_book,
    trends,
)
from panelscan.study.estimate import page_mean
from panelscan.study.figures import Figure
from panelscan.study.grids import GridUse, effective_grids, grid_uses, returns, runs
from panelscan.study.lettering import clarity_figure, least_clear, lettering_figures
from panelscan.study.rhythm import around_splashes, at_page_turns, count_rhythm
from panelscan.study.shelf import Shelf
from panelscan.study.shots import ShotHabits, scene_table, shot_habits
from panelscan.study.sizes import area_by_place, size_figures
from panelscan.study.spacing import (
    bleed_figures,
    border_figures,
    gutter_figures,
    gutter_map,
    margin_figures,
)
from panelscan.study.stages import StageChange, stage_changes

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Habits:
    """Everything the report shows.

    Parameters
    ----------
    pages, panels, books : int
        How much was studied.
    sections : dict of str to tuple of Figure
        Figures by subject, in the report's order.
    grids : tuple of GridUse
        Most used tier patterns.
    panel_counts : dict of int to float
        Expected number of pages with that many panels.
    """

    pages: int
    panels: int
    books: tuple[str, ...]
    reviewed: int
    sections: dict[str, tuple[Figure, ...]]
    grids: tuple[GridUse, ...]
    panel_counts: dict[int, float]
    returns: np.ndarray
    runs: np.ndarray
    rhythm: float
    least_clear: tuple[str, ...]
    gutter_map: np.ndarray
    trends: tuple[Trend, ...]
    changes: tuple[ChangePoint, ...]
    new_patterns: tuple[str, ...]
    shots: ShotHabits | None = None
    scenes: pd.DataFrame | None = None
    stages: StageChange | None = None

    def figure(self, key: str) -> Figure:
        """Figure with the given key.

        Raises
        ------
        KeyError
            If there is none.
        """
        for figures in self.sections.values():
            for figure in figures:
                if figure.key == key:
                    return figure
        raise KeyError(key)

    def table(self) -> pd.DataFrame:
        """Every figure as one row: section, key, title, value, low, high, unit, count."""
        import pandas as pd

        rows: list[dict[str, Any]] = [
            {"section": section, **figure.as_row()}
            for section, figures in self.sections.items()
            for figure in figures
        ]
        return pd.DataFrame(rows)


def study(shelf: Shelf) -> Habits:
    """Work out all habits of a shelf of pages."""
    counts, number = np.unique(shelf.counts, return_counts=True)
    return Habits(
        pages=len(shelf),
        panels=int((shelf.page_of_panel >= 0).sum()),
        books=tuple(sorted(shelf.pages["book"].unique())),
        reviewed=int(shelf.pages["reviewed"].fillna(False).sum()),
        sections=_sections(shelf),
        grids=grid_uses(shelf),
        panel_counts={
            int(c): float(n) / len(shelf.counts) for c, n in zip(counts, number, strict=True)
        },
        returns=returns(shelf),
        runs=runs(shelf),
        rhythm=count_rhythm(shelf),
        least_clear=least_clear(shelf),
        gutter_map=gutter_map(shelf),
        trends=trends(shelf),
        changes=book_changes(shelf),
        new_patterns=new_in_last_book(shelf),
        shots=shot_habits(shelf),
        scenes=scene_table(shelf),
        stages=stage_changes(shelf),
    )


def _sections(shelf: Shelf) -> dict[str, tuple[Figure, ...]]:
    return {
        "Pages": page_figures(shelf),
        "Panels": size_figures(shelf),
        "Size by place in the order": area_by_place(shelf),
        "Gutters": gutter_figures(shelf),
        "Margins": margin_figures(shelf),
        "Bleeds": bleed_figures(shelf),
        "Borders": border_figures(shelf),
        "Lettering room": lettering_figures(shelf),
        "Reading": (clarity_figure(shelf),),
        "Page turns": (*around_splashes(shelf), at_page_turns(shelf)),
    }


def page_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Panels and tiers a page, splash pages, different grids."""
    counts = shelf.counts.astype(float)
    return (
        page_mean(shelf, "panels_per_page_mean", "Panels a page", counts),
        page_mean(
            shelf, "tiers_mean", "Tiers a page", shelf.pages["tier_count"].to_numpy(dtype=float)
        ),
        page_mean(shelf, "splash_share", "Splash pages", 100.0 * (counts == 1), "%"),
        effective_grids(shelf),
    )
