"""Every picture of the report, made from a shelf and its habits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.model.page import PageEdge
from panelscan.study.charts import Series, bars, histogram, lines
from panelscan.study.drawing import Picture
from panelscan.study.drift import book_means
from panelscan.study.habits import Habits
from panelscan.study.miniature import edges_picture, heat_picture
from panelscan.study.norms import norms_for
from panelscan.study.shelf import Shelf


@dataclass(frozen=True)
class Plot:
    """A picture with its name for files, its section and a sentence to read it by."""

    name: str
    section: str
    caption: str
    picture: Picture


def all_plots(shelf: Shelf, habits: Habits) -> tuple[Plot, ...]:
    """Pictures in the report's order."""
    makers = (
        _panel_counts,
        _counts_along,
        _returns,
        _area_by_place,
        _shapes,
        _gutter_widths,
        _gutter_map,
        _margins,
        _bleeds,
        _lettering,
        _clarity,
    )
    plots = [maker(shelf, habits) for maker in makers]
    if len(habits.books) > 1:
        plots += [
            _by_book(shelf, "panel_count", "panels a page"),
            _by_book(shelf, "tier_gutter_mm", "gutter between tiers, mm"),
        ]
    return tuple(plots)


def _panel_counts(shelf: Shelf, habits: Habits) -> Plot:
    most = min(max(habits.panel_counts, default=1), 24)
    numbers = list(range(0, most + 1))
    values = [habits.panel_counts.get(n, 0.0) for n in numbers]
    mean = habits.figure("panels_per_page_mean")
    norm = norms_for("panels_per_page_mean")[0]
    picture = bars(
        "Panels a page",
        f"Mean {mean.text()}.",
        [str(n) for n in numbers],
        values,
        "panels on the page",
        "pages",
        norm=(norm.low + norm.high) / 2,
    )
    caption = f"On average {mean.text()} panels a page. The small mark: {norm.text}."
    return Plot("panels-a-page", "Pages", caption, picture)


def _counts_along(shelf: Shelf, habits: Habits) -> Plot:
    book = habits.books[-1]
    pages = shelf.pages[shelf.pages["book"] == book]
    series = Series(
        book,
        pages["page_number"].astype(float).tolist(),
        pages["panel_count"].astype(float).tolist(),
    )
    tie = habits.rhythm
    words = (
        "Too few pages in a row to say whether counts follow each other."
        if not np.isfinite(tie)
        else f"A page's count is tied to the next one's by {tie:+.2f} (0: not at all)."
    )
    picture = lines("Panels along the book", f"{book}: {words}", [series], "page", "panels")
    return Plot("panels-along-book", "Pages", f"{book}, page by page. {words}", picture)


def _returns(shelf: Shelf, habits: Habits) -> Plot:
    counts = np.bincount(np.minimum(habits.returns, 15), minlength=16)[1:]
    names = [*(str(n) for n in range(1, 15)), "15+"]
    median = float(np.median(habits.returns)) if len(habits.returns) else float("nan")
    words = (
        f"Half of the repeats come within {median:.0f} pages."
        if np.isfinite(median)
        else "No tier pattern comes back."
    )
    picture = bars(
        "How soon a grid comes back",
        words,
        names,
        counts.astype(float).tolist(),
        "pages later",
        "times",
    )
    longest = int(habits.runs.max())
    return Plot("grid-returns", "Pages", f"{words} Longest run of one grid: {longest}.", picture)


def _area_by_place(shelf: Shelf, habits: Habits) -> Plot:
    figures = [f for f in habits.sections["Size by place in the order"] if f.is_known]
    series = Series(
        "median",
        [float(i + 1) for i in range(len(figures))],
        [f.value for f in figures],
        [f.low for f in figures],
        [f.high for f in figures],
    )
    picture = lines(
        "Panel size by place",
        "Median area of the first, second, third panel and so on.",
        [series],
        "place in the reading order",
        "share of page, %",
    )
    return Plot("size-by-place", "Panels", "How large the first, second … panel is.", picture)


def _shapes(shelf: Shelf, habits: Habits) -> Plot:
    keys = (
        "wide_share",
        "square_share",
        "tall_share",
        "slanted_share",
        "round_share",
        "inset_share",
        "overlap_share",
        "full_tier_share",
    )
    names = ("wide", "square", "tall", "slanted", "round", "inset", "over another", "full tier")
    values = [habits.figure(k).value for k in keys]
    known = [v if np.isfinite(v) else 0.0 for v in values]
    said = ", ".join(f"{n} {v:.0f} %" for n, v in zip(names, known, strict=True) if v >= 0.5)
    picture = bars("Shapes of panels", said, names, known, "", "share of panels, %")
    return Plot("shapes", "Panels", f"Shapes: {said}. One panel may count in several.", picture)


def _gutter_widths(shelf: Shelf, habits: Habits) -> Plot:
    kind = shelf.gutters["kind"].to_numpy()
    known = shelf.gutters["width_mm"].notna().any()
    column, unit = ("width_mm", "mm") if known else ("width_share", "% of page width")
    values = shelf.gutters[column].to_numpy(dtype=float) * (1 if known else 100)
    groups = {"between tiers": values[kind == "tier"], "within a tier": values[kind == "column"]}
    key = "gutter_mm" if known else "gutter_share"
    said = (
        f"Between tiers {habits.figure('tier_' + key).text()}, "
        f"within a tier {habits.figure('column_' + key).text()}."
    )
    picture = histogram("Gutter widths", said, groups, f"width, {unit}")
    return Plot("gutter-widths", "Gutters", said, picture)


def _gutter_map(shelf: Shelf, habits: Habits) -> Plot:
    words = "Dark where most pages leave the paper free: margins and usual gutters."
    picture = heat_picture("Where gutters fall", words, habits.gutter_map, _aspect(shelf))
    return Plot("gutter-map", "Gutters", words, picture)


def _margins(shelf: Shelf, habits: Habits) -> Plot:
    figures = {str(e): habits.figure(f"margin_{e}") for e in PageEdge}
    values = {k: f.text() for k, f in figures.items()}
    said = ", ".join(f"{k} {v}" for k, v in values.items())
    picture = edges_picture("Margins", said, values, {}, _aspect(shelf))
    return Plot("margins", "Margins", f"Median free margin: {said}.", picture)


def _bleeds(shelf: Shelf, habits: Habits) -> Plot:
    figures = {str(e): habits.figure(f"bleed_{e}_share") for e in PageEdge}
    values = {k: f"{f.value:.0f} % of pages" for k, f in figures.items()}
    weights = {k: f.value / 100 for k, f in figures.items()}
    said = f"{habits.figure('bleed_share').text()} of the pages bleed somewhere."
    picture = edges_picture("Bleeds by side", said, values, weights, _aspect(shelf))
    return Plot("bleeds", "Bleeds", said, picture)


def _lettering(shelf: Shelf, habits: Habits) -> Plot:
    values = 100 * shelf.panels["free_top_share"].to_numpy(dtype=float)
    figure = habits.figure("free_top_share")
    said = f"Calm strip at the top of a panel: {figure.text()} of its height (approximate)."
    picture = histogram(
        "Lettering room", said, {"panels": values}, "calm strip, % of the panel's height"
    )
    return Plot("lettering-room", "Lettering room", said, picture)


def _clarity(shelf: Shelf, habits: Habits) -> Plot:
    values = 100 * shelf.pages["clarity"].to_numpy(dtype=float)
    said = f"Reading clarity: {habits.figure('clarity').text()} on average."
    picture = histogram("Reading clarity", said, {"pages": values}, "clarity, %")
    return Plot("clarity", "Reading", said, picture)


def _by_book(shelf: Shelf, measure: str, label: str) -> Plot:
    books, means, errors = book_means(shelf, measure)
    half = 1.645 * errors
    series = Series(
        label,
        [float(i) for i in range(len(books))],
        means.tolist(),
        (means - half).tolist(),
        (means + half).tolist(),
    )
    picture = lines(
        f"Book by book: {label}",
        f"Mean of each book's pages, {len(books)} books.",
        [series],
        "book",
        label,
        x_names=books,
    )
    name = f"by-book-{measure.replace('_', '-')}"
    return Plot(name, "Book by book", f"{label}, mean of each book with 90 % interval.", picture)


def _aspect(shelf: Shelf) -> float:
    aspect = shelf.pages["aspect"].to_numpy(dtype=float)
    good = aspect[np.isfinite(aspect)]
    return float(np.clip(np.median(good), 0.2, 3.0)) if good.size else 2 / 3
