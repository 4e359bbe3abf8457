"""Room for lettering, quiet and full panels, and reading clarity."""

from __future__ import annotations

import numpy as np

from panelscan.study.estimate import page_mean, row_median
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf


def lettering_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Free height at the top, share covered by lettering (approximate), ink density."""
    panels, page = shelf.panels, shelf.page_of_panel
    sure = panels["confidence"].fillna(1.0).to_numpy(dtype=float)
    wanted = (
        ("free_top_share", "Calm strip at the top of a panel (approximate)", "free_top_share"),
        ("lettered_share", "Covered by balloons and captions (approximate)", "lettered_share"),
        ("ink_density", "Ink density of a panel", "ink_density"),
    )
    return tuple(
        row_median(shelf, key, title, page, 100 * panels[column].to_numpy(dtype=float), "%", sure)
        for key, title, column in wanted
    )


def clarity_figure(shelf: Shelf) -> Figure:
    """Mean reading clarity of the pages."""
    values = 100 * shelf.pages["clarity"].to_numpy(dtype=float)
    return page_mean(shelf, "clarity", "Reading clarity", values, "%")


def least_clear(shelf: Shelf, most: int = 6) -> tuple[str, ...]:
    """Page ids of the least clear pages that have more than one panel, worst first."""
    pages = shelf.pages[shelf.pages["panel_count"] > 1]
    pages = pages[np.isfinite(pages["clarity"].astype(float))]
    return tuple(pages.sort_values(["clarity", "page_id"])["page_id"].head(most))
