"""Pictures of drift: each tracked measure over the books, with trend and change points."""

from __future__ import annotations

from panelscan.study.charts import Series, lines
from panelscan.study.drift import TRACKED, book_means
from panelscan.study.figures import Z_90
from panelscan.study.habits import Habits
from panelscan.study.plotting import Plot
from panelscan.study.shelf import Shelf

SECTION = "Book by book"


def book_plots(shelf: Shelf, habits: Habits) -> list[Plot]:
    """A picture for each tracked measure; none where there is one book."""
    if len(habits.books) < 2:
        return []
    plots = [_over_books(shelf, habits, measure) for measure in TRACKED]
    return [plot for plot in plots if plot is not None]


def _over_books(shelf: Shelf, habits: Habits, measure: str) -> Plot | None:
    told = book_means(shelf, measure)
    known = told.known
    if known.sum() < 2:
        return None
    label = TRACKED[measure]
    places = [float(k + 1) for k in range(len(told.books)) if known[k]]
    means, half = told.means[known], Z_90 * told.errors[known]
    series = Series(label, places, means.tolist(), (means - half).tolist(), (means + half).tolist())
    words = [f"{label}, mean of each book with 90 % interval."]
    slope = next((t for t in habits.trends if t.measure == measure), None)
    line = None
    if slope is not None:
        unsure = "" if slope.stands_out else ", which does not stand out of its uncertainty"
        words.append(
            f"Trend {slope.slope:+.3g} a book ({slope.low:+.3g} to {slope.high:+.3g}){unsure}."
        )
        middle_x, middle_y = sum(places) / len(places), float(means.mean())
        ends = [middle_y + slope.slope * (x - middle_x) for x in (places[0], places[-1])]
        line = Series("trend", [places[0], places[-1]], ends) if slope.stands_out else None
    changes = [c for c in habits.changes if c.measure == measure]
    marks = [told.books.index(c.after_book) + 1.5 for c in changes]
    words += [
        f"Another level after {c.after_book}: {c.before:.3g}, then {c.after:.3g}." for c in changes
    ]
    text = " ".join(words)
    picture = lines(
        f"Book by book: {label}", text, [series], "book, in order", label,
        marks=marks, trend=line,
    )  # fmt: skip
    return Plot(f"by-book-{measure.replace('_', '-')}", SECTION, text, picture)
