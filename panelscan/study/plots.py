"""Every picture of the report, made from a shelf and its habits."""

from __future__ import annotations

from panelscan.study.habits import Habits
from panelscan.study.plots_of_labels import label_plots
from panelscan.study.plots_of_pages import page_plots
from panelscan.study.plots_of_panels import panel_plots
from panelscan.study.plots_of_spacing import spacing_plots
from panelscan.study.plots_over_books import book_plots
from panelscan.study.plotting import Plot
from panelscan.study.shelf import Shelf


def all_plots(shelf: Shelf, habits: Habits) -> tuple[Plot, ...]:
    """Pictures in the report's order."""
    plots: list[Plot] = []
    for make in (page_plots, panel_plots, spacing_plots, label_plots, book_plots):
        plots += make(shelf, habits)
    return tuple(plots)
