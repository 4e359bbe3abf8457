"""Writing a study to files: the HTML report, every figure as CSV and Parquet, plots as SVG."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.errors import OutputExistsError
from panelscan.study.habits import Habits
from panelscan.study.markup import slug
from panelscan.study.plots import all_plots
from panelscan.study.report import report_html
from panelscan.study.shelf import Shelf
from panelscan.study.tables import all_tables

if TYPE_CHECKING:
    import pandas as pd


def write_study(
    shelf: Shelf,
    habits: Habits,
    folder: Path,
    title: str = "Layout habits",
    overwrite: bool = False,
    tables: Mapping[str, pd.DataFrame] | None = None,
    figures: Mapping[str, pd.DataFrame] | None = None,
) -> tuple[Path, ...]:
    """Write the report, its figures and its plots.

    ``habits.html``; ``habits.csv`` and ``habits.parquet`` with every figure; ``tables/`` with
    what the plots show, each as CSV and Parquet; ``plots/`` with every plot as SVG.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    overwrite : bool
        Whether files of an earlier study may be replaced.
    tables : mapping of str to DataFrame, or None
        Further tables for the report, by heading: books against each other, groups.
    figures : mapping of str to DataFrame, or None
        Further tables that are written but not shown, by file name.

    Returns
    -------
    tuple of Path
        What was written, the report first.

    Raises
    ------
    OutputExistsError
        If the folder already holds a report and `overwrite` is false.
    """
    report = folder / "habits.html"
    if report.exists() and not overwrite:
        raise OutputExistsError(
            f"{report}: there is a report already.", "Use --overwrite or another folder."
        )
    written = _write_table(habits.table(), folder, "habits")
    further = {slug(name): table for name, table in (tables or {}).items()}
    for name, table in {**all_tables(shelf, habits), **further, **(figures or {})}.items():
        written += _write_table(table, folder / "tables", name)
    plots = folder / "plots"
    plots.mkdir(parents=True, exist_ok=True)
    for plot in all_plots(shelf, habits):
        path = plots / f"{plot.name}.svg"
        path.write_text(plot.picture.source(), encoding="utf-8")
        written.append(path)
    report.write_text(report_html(shelf, habits, title, tables), encoding="utf-8")
    return (report, *written)


def _write_table(table: pd.DataFrame, folder: Path, name: str) -> list[Path]:
    """A table as CSV and as Parquet."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"{name}.csv", folder / f"{name}.parquet"]
    table.to_csv(paths[0], index=False)
    table.to_parquet(paths[1], index=False)
    return paths
