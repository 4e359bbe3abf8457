"""Pictures of the air around and between panels: gutters, margins, bleeds, borders."""

from __future__ import annotations

import numpy as np

from panelscan.model.page import PageEdge
from panelscan.study.charts import histogram
from panelscan.study.habits import Habits
from panelscan.study.miniature import edges_picture, heat_picture
from panelscan.study.norms import norms_for
from panelscan.study.plotting import Plot, page_aspect
from panelscan.study.shelf import Shelf

EDGES = [str(edge) for edge in PageEdge]


def spacing_plots(shelf: Shelf, habits: Habits) -> list[Plot]:
    """Pictures of the sections Gutters, Margins, Bleeds and Borders."""
    plots = [
        _gutter_widths(shelf, habits),
        _evenness(shelf, habits),
        _straightness(shelf, habits),
        _gutter_map(shelf, habits),
        _average_page(shelf, habits),
        _margins(shelf, habits),
        _bleeds(shelf, habits),
    ]
    return [*plots, _borders(shelf, habits), _wobble(shelf, habits)]


def _gutter_widths(shelf: Shelf, habits: Habits) -> Plot:
    rows = shelf.gutter_rows
    known = bool(np.isfinite(rows.numbers("width_mm")).any())
    column, unit = ("width_mm", "mm") if known else ("width_share", "% of page width")
    values = rows.numbers(column) * (1 if known else 100)
    groups = {
        "between tiers": values[rows.equals("kind", "tier")],
        "within a tier": values[rows.equals("kind", "column")],
    }
    key = "gutter_mm" if known else "gutter_share"
    words = (
        f"Between tiers {habits.figure('tier_' + key).text()}, "
        f"within a tier {habits.figure('column_' + key).text()}."
    )
    norm = norms_for("column_gutter_mm")[0] if known else None
    if norm is not None:
        words += f" Pale band: {norm.text}; {norm.standing}."
    picture = histogram(
        "Gutter widths", words, groups, f"width, {unit}",
        norm=None if norm is None else (norm.low, norm.high),
    )  # fmt: skip
    return Plot("gutter-widths", "Gutters", words, picture)


def _evenness(shelf: Shelf, habits: Habits) -> Plot:
    words = (
        f"A page's gutters vary by {habits.figure('gutter_cv').text()} of their width; a page's "
        f"tier gutter lies {habits.figure('gutter_drift').text()} off its book's usual one."
    )
    values = 100 * shelf.numbers("gutter_cv")
    picture = histogram(
        "Evenness of gutters", words, {"pages": values}, "variation on the page, %", cut=0.97
    )
    return Plot("gutter-evenness", "Gutters", words, picture)


def _straightness(shelf: Shelf, habits: Habits) -> Plot:
    turn, taper = habits.figure("gutter_turn"), habits.figure("gutter_taper")
    words = (
        f"Half of the gutters turn by more than {turn.text()} from level or upright, and widen "
        f"by more than {taper.text()} along their length."
    )
    values = np.abs(shelf.gutter_rows.numbers("angle_deg"))
    picture = histogram(
        "Straightness of gutters", words, {"gutters": values}, "turn, degrees", cut=0.98
    )
    return Plot("gutter-straightness", "Gutters", words, picture)


def _gutter_map(shelf: Shelf, habits: Habits) -> Plot:
    most = 100 * float(habits.gutter_map.max())
    words = (
        "All pages laid over each other: the darker, the more pages have a gutter there "
        f"(darkest: {most:.0f} % of the pages)."
    )
    picture = heat_picture("Where gutters fall", words, habits.gutter_map, page_aspect(shelf))
    return Plot("gutter-map", "Gutters", words, picture)


def _average_page(shelf: Shelf, habits: Habits) -> Plot:
    words = (
        f"The average page: the darker, the more pages have a panel there. Panels cover "
        f"{habits.figure('density').text()} of the page."
    )
    picture = heat_picture("The average page", words, habits.average_page, page_aspect(shelf))
    return Plot("average-page", "Margins", words, picture)


def _margins(shelf: Shelf, habits: Habits) -> Plot:
    figures = {edge: habits.figure(f"margin_{edge}") for edge in EDGES}
    values = {edge: f"{f.value:.1f} {f.unit}" if f.is_known else "" for edge, f in figures.items()}
    words = ", ".join(f"{edge} {f.text()}" for edge, f in figures.items())
    picture = edges_picture("Margins", words, [("", values, {})], page_aspect(shelf))
    return Plot("margins", "Margins", f"Median free margin: {words}.", picture)


def _bleeds(shelf: Shelf, habits: Habits) -> Plot:
    pages = []
    for side in ("left", "right"):
        figures = {e: habits.figure(f"bleed_{e}_on_{side}_page") for e in EDGES}
        values = {e: f"{f.value:.0f} %" if f.is_known else "" for e, f in figures.items()}
        weights = {e: f.value / 100 if f.is_known else 0.0 for e, f in figures.items()}
        pages.append((f"{side}-hand pages", values, weights))
    words = (
        f"{habits.figure('bleed_share').text()} of the pages bleed somewhere: of the left-hand "
        f"pages {habits.figure('bleed_on_left_page').text()}, of the right-hand pages "
        f"{habits.figure('bleed_on_right_page').text()}."
    )
    picture = edges_picture("Bleeds by side", words, pages, page_aspect(shelf))
    return Plot("bleeds", "Bleeds", words, picture)


def _borders(shelf: Shelf, habits: Habits) -> Plot:
    values = shelf.panel_rows.numbers("border_mm")
    norm = norms_for("border_mm")[0]
    figure = habits.figure("border_mm")
    words = (
        f"Border weight: {figure.text()}. Pale band: {norm.text}; {norm.standing}."
        if figure.is_known
        else "Border weight is not known: it needs drawn borders and the pages' resolution."
    )
    picture = histogram(
        "Border weight", words, {"panels": values}, "weight, mm", norm=(norm.low, norm.high)
    )
    return Plot("border-weight", "Borders", words, picture)


def _wobble(shelf: Shelf, habits: Habits) -> Plot:
    values = shelf.panel_rows.numbers("wobble_mm")
    words = (
        f"Distance of the drawn border from straight sides: {habits.figure('wobble_mm').text()}."
    )
    picture = histogram("Wobble of borders", words, {"panels": values}, "wobble, mm", cut=0.97)
    return Plot("border-wobble", "Borders", words, picture)
