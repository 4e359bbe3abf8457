"""Writing a study to files: the HTML report, every figure as CSV and Parquet, plots as SVG."""

from __future__ import annotations

from pathlib import Path

from panelscan.errors import OutputExistsError
from panelscan.study.habits import Habits
from panelscan.study.plots import all_plots
from panelscan.study.report import report_html
from panelscan.study.shelf import Shelf


def write_study(
    shelf: Shelf,
    habits: Habits,
    folder: Path,
    title: str = "Layout habits",
    overwrite: bool = False,
) -> tuple[Path, ...]:
    """Write ``habits.html``, ``habits.csv``, ``habits.parquet`` and ``plots/*.svg``.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    overwrite : bool
        Whether files of an earlier study may be replaced.

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
    plots = folder / "plots"
    plots.mkdir(parents=True, exist_ok=True)
    table = habits.table()
    table.to_csv(folder / "habits.csv", index=False)
    table.to_parquet(folder / "habits.parquet", index=False)
    written = [folder / "habits.csv", folder / "habits.parquet"]
    for plot in all_plots(shelf, habits):
        path = plots / f"{plot.name}.svg"
        path.write_text(plot.picture.source(), encoding="utf-8")
        written.append(path)
    report.write_text(report_html(shelf, habits, title), encoding="utf-8")
    return (report, *written)
