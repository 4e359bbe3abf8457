"""Pictures of pages: counts, tiers, rhythm, grids that come back, page turns."""

from __future__ import annotations

import numpy as np

from panelscan.study.charts import Series, bars, lines
from panelscan.study.drawing import Picture
from panelscan.study.estimate import page_mean
from panelscan.study.habits import Habits
from panelscan.study.norms import norms_for
from panelscan.study.plotting import Plot, ends_of, figure_series, said
from panelscan.study.rhythm import splash_neighbours
from panelscan.study.row_charts import rows, strips
from panelscan.study.shelf import Shelf

MOST_BOOKS = 60
"""Books drawn page by page; the CSV has them all."""
AROUND = 3


def page_plots(shelf: Shelf, habits: Habits) -> list[Plot]:
    """Pictures of the sections Pages, Grids and Page turns."""
    plots = [_panel_counts(habits), _tier_counts(habits), _along_books(shelf, habits)]
    plots.append(_kinds(habits))
    plots += [_returns(habits), _runs(habits), _at_turns(habits)]
    if habits.panel_counts.get(1):
        plots.append(_around_splashes(shelf))
    return plots


def _panel_counts(habits: Habits) -> Plot:
    mean = habits.figure("panels_per_page_mean")
    norm = norms_for("panels_per_page_mean")[0]
    picture = _counted(
        "Panels a page", f"Mean {mean.text()}.", habits.panel_counts, "panels on the page",
        (norm.low + norm.high) / 2,
    )  # fmt: skip
    caption = f"On average {mean.text()} panels a page. The small mark: {norm.text}."
    return Plot("panels-a-page", "Pages", caption, picture)


def _tier_counts(habits: Habits) -> Plot:
    mean = habits.figure("tiers_mean")
    norm = norms_for("tiers_mean")[0]
    picture = _counted(
        "Tiers a page", f"Mean {mean.text()}.", habits.tier_counts, "tiers on the page", norm.low
    )
    caption = f"On average {mean.text()} tiers a page. The small mark: {norm.text}."
    return Plot("tiers-a-page", "Pages", caption, picture)


def _counted(title: str, text: str, counts: dict[int, float], label: str, norm: float) -> Picture:
    most = min(max(counts, default=1), 24)
    numbers = list(range(0 if counts.get(0) else 1, most + 1))
    values = [counts.get(n, 0.0) for n in numbers]
    names = [str(n) for n in numbers]
    at = norm - numbers[0]
    return bars(title, text, names, values, label, "pages", norm=at if at <= most else None)


def _along_books(shelf: Shelf, habits: Habits) -> Plot:
    """Every book page by page, on one scale."""
    books = habits.books[:MOST_BOOKS]
    codes, counts = shelf.book_codes, shelf.counts.mean(axis=0)
    series = []
    for k, book in enumerate(books):
        own = counts[codes == k]
        series.append(Series(book, list(range(1, len(own) + 1)), own.tolist()))
    tie, spread = habits.figure("count_tie"), habits.figure("count_spread")
    words = f"Counts spread by {spread.text()} about their book's mean. "
    if not tie.is_known:
        words += "Too few pages in a row to say whether counts follow each other."
    else:
        words += f"A page's count is tied to the next one's by {tie.text()} (0: not at all)."
    if len(habits.books) > len(books):
        words += f" The first {len(books)} of {len(habits.books)} books are drawn."
    picture = strips("Panels along each book", words, series, "panels on each page")
    caption = f"Each book page by page; splash pages stand in the second colour. {words}"
    return Plot("panels-along-books", "Pages", caption, picture)


def _kinds(habits: Habits) -> Plot:
    kinds = {
        "splash": "splash_share",
        "bleeds": "bleed_share",
        "symmetric": "symmetric_share",
        "grid as before": "repeat_share",
    }
    figures = [habits.figure(key) for key in kinds.values()]
    names = list(kinds)
    words = f"{said(names, figures)}. One page may count in several."
    picture = rows(
        "Kinds of pages", words, names, {"pages": [f.value for f in figures]},
        "share of pages, %", {"pages": ends_of(figures)},
    )  # fmt: skip
    return Plot("kinds-of-pages", "Pages", f"Of the pages: {words}", picture)


def _returns(habits: Habits) -> Plot:
    counts = np.bincount(np.minimum(habits.returns, 15), minlength=16)[1:]
    names = [*(str(n) for n in range(1, 15)), "15+"]
    if len(habits.returns):
        median = float(np.median(habits.returns))
        words = f"Half of the repeats come within {median:.0f} pages."
    else:
        words = "No tier pattern comes back."
    picture = bars(
        "How soon a grid comes back", words, names, counts.astype(float).tolist(),
        "pages later", "times",
    )  # fmt: skip
    return Plot("grid-returns", "Grids", words, picture)


def _runs(habits: Habits) -> Plot:
    longest = int(habits.runs.max())
    shown = min(max(longest, 4), 12)
    counts = np.bincount(np.minimum(habits.runs, shown), minlength=shown + 1)[1:]
    names = [*(str(n) for n in range(1, shown)), f"{shown}{'+' if longest > shown else ''}"]
    share = habits.figure("repeat_share")
    words = f"{share.text()} of the pages use the grid of the page before. Longest run: {longest}."
    picture = bars(
        "Runs of the same grid", words, names, counts.astype(float).tolist(),
        "pages in a row with one grid", "times",
    )  # fmt: skip
    return Plot("grid-runs", "Grids", words, picture)


def _at_turns(habits: Habits) -> Plot:
    kinds = {"full_tier": "full tier", "wide": "wide", "largest": "largest"}
    last = [habits.figure(f"turn_{k}") for k in kinds]
    other = [habits.figure(f"other_{k}") for k in kinds]
    groups = {"last before a turn": last, "other panels": other}
    ratio = habits.figure("turn_panel_ratio")
    words = (
        f"The last panel before a page turn is {ratio.text()} the size of the mean panel there."
        if ratio.is_known
        else "No page before a turn has several panels."
    )
    picture = rows(
        "The last panel before a page turn", words, list(kinds.values()),
        {name: [f.value for f in figures] for name, figures in groups.items()},
        "share of those panels, %",
        {name: ends_of(figures) for name, figures in groups.items()},
    )  # fmt: skip
    return Plot("page-turns", "Page turns", words, picture)


def _around_splashes(shelf: Shelf) -> Plot:
    offsets = [k for k in range(-AROUND, AROUND + 1) if k]
    figures = [page_mean(shelf, "x", "x", splash_neighbours(shelf, k)) for k in offsets]
    before, after = (figures[offsets.index(k)].text() for k in (-1, 1))
    known = [(k, f) for k, f in zip(offsets, figures, strict=True) if f.is_known]
    words = f"The page before a splash has {before} panels, the page after it {after}."
    series = figure_series("panels", [f for _, f in known], [float(k) for k, _ in known])
    picture = lines(
        "Around splash pages", words, [series], "pages before (-) and after a splash", "panels"
    )
    return Plot("around-splashes", "Page turns", words, picture)
