"""Pictures of panels: sizes, shapes, slants, lettering room, quiet and full panels."""

from __future__ import annotations

import numpy as np

from panelscan.study.charts import histogram, lines
from panelscan.study.habits import Habits
from panelscan.study.norms import norms_for
from panelscan.study.plotting import Plot, ends_of, figure_series, said
from panelscan.study.row_charts import rows
from panelscan.study.shelf import Shelf
from panelscan.study.sizes import slants

SHAPES = {
    "wide": "wide_share",
    "near square": "square_share",
    "tall": "tall_share",
    "slanted": "slanted_share",
    "round": "round_share",
    "other shape": "polygon_share",
    "inset": "inset_share",
    "over another": "overlap_share",
    "full tier": "full_tier_share",
}


def panel_plots(shelf: Shelf, habits: Habits) -> list[Plot]:
    """Pictures of the sections Panels, Size by place, Lettering room and Reading."""
    plots = [_shapes(habits), _aspects(shelf, habits), _contrast(shelf, habits)]
    turned = slants(shelf)
    if np.isfinite(turned).any():
        plots.append(_slants(turned, habits))
    plots += [_by_place(habits), _lettering(shelf, habits), _covered(shelf, habits)]
    return [*plots, _ink(shelf, habits), _clarity(shelf, habits)]


def _shapes(habits: Habits) -> Plot:
    figures = [habits.figure(key) for key in SHAPES.values()]
    names = list(SHAPES)
    words = f"{said(names, figures)}. One panel may count in several."
    picture = rows(
        "Shapes of panels", words, names, {"panels": [f.value for f in figures]},
        "share of panels, %", {"panels": ends_of(figures)},
    )  # fmt: skip
    return Plot("shapes", "Panels", f"Of the panels: {words}", picture)


def _aspects(shelf: Shelf, habits: Habits) -> Plot:
    aspect = shelf.panel_rows.numbers("aspect")
    words = (
        f"Half of the panels are wider than {habits.figure('aspect').text()} their height; "
        "1 is square."
    )
    picture = histogram(
        "Width against height", words, {"panels": aspect}, "width divided by height", cut=0.97
    )
    return Plot("aspects", "Panels", words, picture)


def _contrast(shelf: Shelf, habits: Habits) -> Plot:
    words = (
        f"The largest panel of a page is {habits.figure('contrast').text()} as large as the "
        "smallest, on average."
    )
    values = shelf.numbers("contrast")
    several = np.where(shelf.numbers("panel_count") > 1, values, np.nan)
    picture = histogram(
        "Largest against smallest panel", words, {"pages": several}, "times as large", cut=0.95
    )
    return Plot("contrast", "Panels", words, picture)


def _slants(turned: np.ndarray, habits: Habits) -> Plot:
    share, middle = habits.figure("slanted_share"), habits.figure("slant_deg")
    words = f"{share.text()} of the panels are slanted, half of them by more than {middle.text()}."
    picture = histogram(
        "Slants", words, {"slanted panels": turned}, "largest turn of a side, degrees", bins=20
    )
    return Plot("slants", "Panels", words, picture)


def _by_place(habits: Habits) -> Plot:
    section = "Size by place in the order"
    figures = [f for f in habits.sections[section] if f.is_known]
    series = figure_series("median", figures, [float(i + 1) for i in range(len(figures))])
    words = "Median area of the first, second, third panel and so on, with 90 % intervals."
    picture = lines(
        "Panel size by place", words, [series], "place in the reading order", "share of page, %"
    )
    return Plot("size-by-place", section, words, picture)


def _lettering(shelf: Shelf, habits: Habits) -> Plot:
    values = 100 * shelf.panel_rows.numbers("free_top_share")
    figure = habits.figure("free_top_share")
    norm = norms_for("free_top_share")[0]
    words = (
        f"Calm strip at the top of a panel: {figure.text()} of its height (approximate). "
        f"Pale mark: {norm.text}."
    )
    picture = histogram(
        "Free height at the top", words, {"panels": values}, "calm strip, % of panel's height",
        norm=(100 * norm.low - 1, 100 * norm.high + 1),
    )  # fmt: skip
    return Plot("lettering-room", "Lettering room", words, picture)


def _covered(shelf: Shelf, habits: Habits) -> Plot:
    values = 100 * shelf.panel_rows.numbers("lettered_share")
    words = (
        f"Covered by balloons and captions that were found: "
        f"{habits.figure('lettered_share').text()}; none found in "
        f"{habits.figure('wordless_share').text()} of the panels (approximate)."
    )
    picture = histogram("Covered by lettering", words, {"panels": values}, "share of the panel, %")
    return Plot("lettered", "Lettering room", words, picture)


def _ink(shelf: Shelf, habits: Habits) -> Plot:
    values = 100 * shelf.panel_rows.numbers("ink_density")
    quiet, full = habits.figure("quiet_share"), habits.figure("full_share")
    words = f"Quiet panels: {quiet.text()}; full ones: {full.text()}."
    picture = histogram(
        "Quiet and full panels", words, {"panels": values}, "dark or busy, % of the panel"
    )
    return Plot("ink-density", "Lettering room", words, picture)


def _clarity(shelf: Shelf, habits: Habits) -> Plot:
    values = 100 * shelf.numbers("clarity")
    words = f"How surely readers follow the order: {habits.figure('clarity').text()} on average."
    picture = histogram("Reading clarity", words, {"pages": values}, "clarity, %", cut=1.0)
    return Plot("clarity", "Reading", words, picture)
