"""All habits of a shelf of pages, gathered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from panelscan.study.average_page import average_page
from panelscan.study.drift import (
    ChangePoint,
    NewPattern,
    Trend,
    book_changes,
    new_in_last_book,
    trends,
)
from panelscan.study.estimate import expected_counts, page_mean
from panelscan.study.figures import Figure
from panelscan.study.grids import GridUse, grid_figures, grid_uses, returns, runs
from panelscan.study.lettering import clarity_figure, least_clear, lettering_figures
from panelscan.study.rhythm import around_splashes, at_page_turns, rhythm_figures
from panelscan.study.shelf import Shelf
from panelscan.study.shots import ShotHabits, scene_table, shot_habits
from panelscan.study.sizes import area_by_place, size_figures
from panelscan.study.spacing import (
    bleed_figures,
    border_figures,
    gutter_figures,
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
    shelf : Shelf
        The pages that were studied.
    pages, panels, books : int
        How much was studied.
    sections : dict of str to tuple of Figure
        Figures by subject, in the report's order.
    grids : tuple of GridUse
        Most used tier patterns.
    panel_counts, tier_counts : dict of int to float
        Expected number of pages with that many panels, tiers.
    returns, runs : ndarray of int
        Pages until a grid came back; lengths of runs of one grid.
    average_page, gutter_map : ndarray, shape (96, 64)
        Share of pages with a panel, with a gutter at each place of the page.
    """

    shelf: Shelf
    pages: int
    panels: int
    books: tuple[str, ...]
    reviewed: int
    sections: dict[str, tuple[Figure, ...]]
    grids: tuple[GridUse, ...]
    panel_counts: dict[int, float]
    tier_counts: dict[int, float]
    returns: np.ndarray
    runs: np.ndarray
    least_clear: tuple[str, ...]
    average_page: np.ndarray
    gutter_map: np.ndarray
    trends: tuple[Trend, ...]
    changes: tuple[ChangePoint, ...]
    new_patterns: tuple[NewPattern, ...]
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

    def tables(self) -> dict[str, pd.DataFrame]:
        """What the plots show, as frames by name, e.g. ``"grids"``, ``"books"``, ``"shots"``."""
        from panelscan.study.tables import all_tables

        return all_tables(self.shelf, self)


def study(shelf: Shelf) -> Habits:
    """Work out all habits of a shelf of pages."""
    panels, gutters = average_page(shelf)
    stages = None if shelf.stages is None else stage_changes(shelf.stages)
    sections = _sections(shelf)
    if stages is not None:
        sections["Rough against final"] = stages.figures
    return Habits(
        shelf=shelf,
        pages=len(shelf),
        panels=len(shelf.panels),
        books=shelf.books,
        reviewed=int((shelf.numbers("reviewed")[: len(shelf)] == 1.0).sum()),
        sections=sections,
        grids=grid_uses(shelf),
        panel_counts=_counted(shelf, "panel_count"),
        tier_counts=_counted(shelf, "tier_count"),
        returns=returns(shelf),
        runs=runs(shelf),
        least_clear=least_clear(shelf),
        average_page=panels,
        gutter_map=gutters,
        trends=trends(shelf),
        changes=book_changes(shelf),
        new_patterns=new_in_last_book(shelf),
        shots=shot_habits(shelf),
        scenes=scene_table(shelf),
        stages=stages,
    )


def _counted(shelf: Shelf, name: str) -> dict[int, float]:
    """Expected number of pages by a whole number that they have."""
    codes = np.nan_to_num(shelf.numbers(name)).astype(np.int64)
    pages = expected_counts(shelf, codes, int(codes.max()) + 1)
    return {int(n): float(pages[n]) for n in np.flatnonzero(pages > 0)}


def _sections(shelf: Shelf) -> dict[str, tuple[Figure, ...]]:
    return {
        "Pages": page_figures(shelf),
        "Grids": grid_figures(shelf),
        "Page turns": (*at_page_turns(shelf), *around_splashes(shelf)),
        "Panels": size_figures(shelf),
        "Size by place in the order": area_by_place(shelf),
        "Gutters": gutter_figures(shelf),
        "Margins": margin_figures(shelf),
        "Bleeds": bleed_figures(shelf),
        "Borders": border_figures(shelf),
        "Lettering room": lettering_figures(shelf),
        "Reading": (clarity_figure(shelf),),
    }


def page_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Panels and tiers a page, splash pages, rhythm of the counts."""
    counts = shelf.numbers("panel_count")
    return (
        page_mean(shelf, "panels_per_page_mean", "Panels a page", counts),
        page_mean(shelf, "tiers_mean", "Tiers a page", shelf.numbers("tier_count")),
        page_mean(shelf, "splash_share", "Splash pages", 100.0 * (counts == 1), "%"),
        *rhythm_figures(shelf),
    )
