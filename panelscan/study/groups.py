"""Main figures side by side: for each book, year or label, and two books against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelscan.errors import NothingFound, UsageError
from panelscan.study.figures import differs
from panelscan.study.habits import Habits, study
from panelscan.study.shelf import Shelf

if TYPE_CHECKING:
    import pandas as pd

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


def group_habits(shelf: Shelf, by: str, label: str | None = None) -> dict[str, Habits]:
    """Habits of each group of pages.

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
    groups = {
        str(value): study(shelf.part((values == value).fillna(False).to_numpy(dtype=bool)))
        for value in sorted(values.dropna().unique())
    }
    if not groups:
        raise NothingFound(f"No page has a {by}.", "Attach it with panelscan tag first.")
    return groups


def by_group(shelf: Shelf, by: str, label: str | None = None) -> dict[str, dict[str, str]]:
    """Main figures of each group as text; parameters as for `group_habits`."""
    return main_texts(group_habits(shelf, by, label))


def main_texts(groups: dict[str, Habits]) -> dict[str, dict[str, str]]:
    """Number of pages and main figures of each group as text."""
    return {
        name: {"pages": str(h.pages)} | {h.figure(k).title: h.figure(k).text() for k in MAIN[:10]}
        for name, h in groups.items()
    }


def group_table(groups: dict[str, Habits]) -> pd.DataFrame:
    """Every figure of every group: group, section, key, title, value, low, high, unit, count."""
    import pandas as pd

    tables = [h.table().assign(group=name) for name, h in groups.items()]
    table = pd.concat(tables, ignore_index=True)
    return table[["group", *(c for c in table.columns if c != "group")]]


def compare_books(shelf: Shelf, one: str, other: str) -> list[tuple[str, str, str, bool]]:
    """Each figure of two books, and whether they stand apart by more than their uncertainty.

    Raises
    ------
    NothingFound
        If there is no such book; the message lists those there are.
    """
    sides = []
    for name in (one, other):
        rows = shelf.pages["book"].eq(name).to_numpy(dtype=bool)
        if not rows.any():
            books = ", ".join(sorted(shelf.pages["book"].unique()))
            raise NothingFound(f"There is no book “{name}” here.", f"Books: {books}.")
        sides.append(study(shelf.part(rows)))
    rows_out = []
    for section, figures in sides[0].sections.items():
        others = {f.key: f for f in sides[1].sections.get(section, ())}
        for one_figure in figures:
            other_figure = others.get(one_figure.key)
            if other_figure is not None and (one_figure.is_known or other_figure.is_known):
                apart = differs(one_figure, other_figure)
                texts = (one_figure.text(), other_figure.text())
                rows_out.append((one_figure.title, *texts, apart))
    return rows_out
