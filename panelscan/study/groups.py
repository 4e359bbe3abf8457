"""Main figures side by side: for each book, year or label, and two books against each other."""

from __future__ import annotations

import numpy as np

from panelscan.errors import NothingFound, UsageError
from panelscan.study.figures import differs
from panelscan.study.habits import Habits, study
from panelscan.study.shelf import Shelf

MAIN = (
    "panels_per_page_mean",
    "tiers_mean",
    "splash_share",
    "effective_grids",
    "contrast",
    "slanted_share",
    "inset_share",
    "tier_gutter_mm",
    "column_gutter_mm",
    "gutter_cv",
    "bleed_share",
    "border_mm",
    "free_top_share",
    "lettered_share",
    "clarity",
    "turn_panel_ratio",
)


def part_of(shelf: Shelf, rows: np.ndarray) -> Shelf:
    """Shelf of some of the pages.

    Parameters
    ----------
    rows : ndarray of bool, shape (P,)
        Which pages to keep.
    """
    pages = shelf.pages[rows]
    ids = set(pages["page_id"])
    panels = shelf.panels[shelf.panels["page_id"].isin(ids)]
    gutters = shelf.gutters[shelf.gutters["page_id"].isin(ids)]
    return Shelf.of(pages, panels, gutters)


def by_group(shelf: Shelf, by: str, label: str | None = None) -> dict[str, dict[str, str]]:
    """Main figures of each group as text.

    Parameters
    ----------
    by : str
        ``"book"``, ``"year"`` (of the ``date`` label) or ``"label"``.
    label : str or None
        Column of the label to group by.

    Raises
    ------
    UsageError
        If the label is missing.
    NothingFound
        If no page carries it.
    """
    column = {"book": "book", "year": "date", "label": label}[by]
    if column is None:
        raise UsageError("--by label needs to know which label.", "Add --label NAME.")
    if column not in shelf.pages:
        raise NothingFound(
            f"No page carries the label “{column}”.", "Attach it with panelscan tag first."
        )
    values = shelf.pages[column].astype("string")
    values = values.str.slice(0, 4) if by == "year" else values
    groups: dict[str, dict[str, str]] = {}
    for value in sorted(values.dropna().unique()):
        habits = study(part_of(shelf, (values == value).fillna(False).to_numpy(dtype=bool)))
        groups[str(value)] = {"pages": str(habits.pages), **_main_texts(habits)}
    if not groups:
        raise NothingFound(f"No page has a {by}.", "Attach it with panelscan tag first.")
    return groups


def _main_texts(habits: Habits) -> dict[str, str]:
    return {habits.figure(key).title: habits.figure(key).text() for key in MAIN[:10]}


def compare_books(shelf: Shelf, one: str, other: str) -> list[tuple[str, str, str, bool]]:
    """Each figure of two books, and whether they stand apart by more than their uncertainty.

    Raises
    ------
    NothingFound
        If there is no such book; the message lists those there are.
    """
    sides = []
    for name in (one, other):
        rows = (shelf.pages["book"] == name).to_numpy()
        if not rows.any():
            books = ", ".join(sorted(shelf.pages["book"].unique()))
            raise NothingFound(f"There is no book “{name}” here.", f"Books: {books}.")
        sides.append(study(part_of(shelf, rows)))
    rows_out = []
    for section in sides[0].sections:
        pairs = zip(sides[0].sections[section], sides[1].sections[section], strict=True)
        rows_out += [(a.title, a.text(), b.text(), differs(a, b)) for a, b in pairs]
    return rows_out
