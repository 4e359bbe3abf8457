"""``panelscan habits``: layout statistics as a table, a report and files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, print_table, say

if TYPE_CHECKING:
    import pandas as pd

    from panelscan.study.habits import Habits
    from panelscan.study.shelf import Shelf

    Tables = dict[str, pd.DataFrame]


@click.command()
@options.library_needed
@options.where
@click.option(
    "--out",
    "out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the HTML report, CSV and Parquet figures and SVG plots.",
)
@click.option(
    "--by",
    type=click.Choice(["book", "year", "label"]),
    help="Main figures for each book, year, or value of --label.",
)
@click.option("--label", "label", metavar="NAME", help="Label to group by, with --by label.")
@click.option(
    "--compare",
    nargs=2,
    metavar="BOOK BOOK",
    help="Two books side by side; only differences that stand out are marked.",
)
@click.option("--everything", is_flag=True, help="Print every figure, not just the main ones.")
@options.as_json
@options.overwrite
def command(
    library: Path,
    where: str | None,
    out: Path | None,
    by: str | None,
    label: str | None,
    compare: tuple[str, str] | None,
    everything: bool,
    as_json: bool,
    overwrite: bool,
) -> None:
    r"""Show layout habits: how many panels, which grids, what gutters, bleeds and margins.

    Every figure stands with its 90 % interval and, where there is one, a published figure
    beside it. Published figures are neighbours, not marks to reach.

    \b
    Example:
      panelscan habits --library shelf --out habits
    """
    from panelscan.study.library import shelf_of

    shelf = shelf_of(library, where)
    tables: dict[str, pd.DataFrame] = {}
    figures: dict[str, pd.DataFrame] = {}
    if compare:
        tables = _compared(shelf, compare, as_json)
    elif by:
        tables, figures = _grouped(shelf, by, label, as_json)
    if not tables or out is not None:
        from panelscan.study.habits import study

        habits = study(shelf)
        if not tables:
            _print_habits(habits, everything, as_json)
        if out is not None:
            _write(shelf, habits, out, overwrite, (tables, figures))


def _compared(shelf: Shelf, names: tuple[str, str], as_json: bool) -> dict[str, pd.DataFrame]:
    """Print two books side by side; the same as a table of the report."""
    import pandas as pd

    from panelscan.study.groups import compare_books

    rows = compare_books(shelf, *names)
    _print_comparison(rows, names, as_json)
    shown = [(h, a, b, "differs" if apart else "") for h, a, b, apart in rows]
    columns = ["habit", *_apart(names), "stands out"]
    return {f"{names[0]} and {names[1]}": pd.DataFrame(shown, columns=columns)}


def _apart(names: tuple[str, str]) -> tuple[str, str]:
    """Two names as two columns, also where a book is laid beside itself."""
    return names if names[0] != names[1] else (names[0], f"{names[1]} again")


def _grouped(shelf: Shelf, by: str, label: str | None, as_json: bool) -> tuple[Tables, Tables]:
    """Print main figures of each group; the same for the report, and every figure as a table."""
    import pandas as pd

    from panelscan.study.groups import group_habits, group_table, main_texts

    groups = group_habits(shelf, by, label)
    texts = main_texts(groups)
    _print_groups(texts, as_json)
    rows = [{"group": group, **told} for group, told in texts.items()]
    shown = {f"By {label if by == 'label' else by}": pd.DataFrame(rows)}
    return shown, {"groups": group_table(groups)}


def _print_habits(habits: Habits, everything: bool, as_json: bool) -> None:
    if as_json:
        print_json(habits.table().to_dict(orient="records"))
        return
    from panelscan.study.groups import MAIN
    from panelscan.study.norms import norms_for

    rows = []
    for section, figures in habits.sections.items():
        for figure in figures:
            if figure.is_known and (everything or figure.key in MAIN):
                norm = "; ".join(n.text for n in norms_for(figure.key))
                rows.append((section, figure.title, figure.text(), figure.count, norm))
    title = f"{habits.pages} pages, {habits.panels} panels, {len(habits.books)} books"
    header = ("Subject", "Habit", "Value (90 % interval)", "Rests on", "Published")
    print_table(title, header, rows, right=(3,))
    grids = [(u.pattern, f"{u.pages:.0f}", f"{100 * u.share:.0f} %") for u in habits.grids[:8]]
    print_table("Most used grids (panels in each tier)", ("Tiers", "Pages", "Share"), grids, (1, 2))


def _print_groups(groups: dict[str, dict[str, str]], as_json: bool) -> None:
    if as_json:
        print_json(groups)
        return
    names = list(next(iter(groups.values()), {}))
    rows = [(group, *(values[n] for n in names)) for group, values in groups.items()]
    print_table("By group", ("Group", *names), rows)


def _print_comparison(
    rows: list[tuple[str, str, str, bool]], names: tuple[str, str], as_json: bool
) -> None:
    if as_json:
        keys = ("habit", names[0], names[1], "stands_out")
        print_json([dict(zip(keys, row, strict=True)) for row in rows])
        return
    shown = [(h, a, b, "differs" if apart else "") for h, a, b, apart in rows]
    print_table(f"{names[0]} and {names[1]}", ("Habit", *names, ""), shown)


def _write(
    shelf: Shelf, habits: Habits, out: Path, overwrite: bool, more: tuple[Tables, Tables]
) -> None:
    from panelscan.study.output import write_study

    tables, figures = more
    written = write_study(shelf, habits, out, overwrite=overwrite, tables=tables, figures=figures)
    say(f"Report: {written[0]}")
    say(f"Figures and plots: {len(written) - 1} files beside it.")
