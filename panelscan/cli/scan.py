"""``panelscan scan``: pages in, panels in order in Parquet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, progress_bar, say
from panelscan.cli.pages import scan_options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelscan.pipeline.summary import ScanSummary, SheetSummary

MOST_NAMED = 20


class BarProgress:
    """One progress bar, none off a terminal."""

    def __init__(self) -> None:
        self._bar, self._move = progress_bar("Pages")
        self._total = self._done = 0

    def begin(self, total: int) -> None:
        """The number of source images is known."""
        self._total, self._done = total, 0
        self._bar.start()
        self._move(0, total, "")

    def advance(self, label: str, fate: Any) -> None:
        """One source image is done."""
        self._done += 1
        self._move(self._done, self._total, Path(label).name)

    def end(self) -> None:
        """All is done."""
        self._bar.stop()


@click.command()
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@options.library_needed
@options.direction
@options.dpi
@options.page_format
@options.spreads
@click.option("--book", default="", help="Name of the book, where folders and files do not tell.")
@click.option(
    "--jobs", type=click.IntRange(min=0), default=None,
    help="Worker processes; by default one for each core.",
)
@click.option("--again", is_flag=True, help="Read unchanged pages once more, too.")
@click.option(
    "--cluster", default="", metavar="ADDRESS",
    help='Scan on a Dask cluster, e.g. tcp://host:8786, or "local".',
)
@options.as_json
def command(
    paths: tuple[str, ...], library: Path, direction: str, dpi: float | None,
    page_format: str | None, spreads: str, book: str, jobs: int | None, again: bool,
    cluster: str, as_json: bool,
) -> int:
    r"""Read pages, find their panels, order them and save them in a library.

    PATH is a folder (with all below it), a picture (PNG, JPEG, TIFF, WebP, BMP), a PDF, or a
    CBZ or ZIP of pictures. A photographed thumbnail sheet among them is known by its corner
    marks and cut into its roughs. A book is saved whole or not at all; scanning the same pages
    again adds nothing. A page that cannot be read is named at the end and does not stop the rest.

    \b
    Example:
      panelscan scan pages/ferry --library shelf
    """
    from panelscan.pipeline.run import scan

    wanted = scan_options(
        direction=direction, dpi=dpi, page_format=page_format, spreads=spreads, book=book,
        jobs=jobs, again=again, cluster=cluster,
    )
    summary = scan(paths, library, wanted, BarProgress())
    say_sheets(summary.sheets)
    if as_json:
        print_json(summary_data(summary))
    say_summary(summary, library)
    return summary.exit_code


def say_sheets(sheets: Sequence[SheetSummary]) -> None:
    """Thumbnail sheets that were recognized among the files."""
    for sheet in sheets:
        linked = "linked to their grids" if sheet.linked else "their grids are not on record"
        say(f"{sheet.label}: thumbnail sheet {sheet.name}, {sheet.roughs} roughs, {linked}")
        for note in sheet.notes:
            say(f"  {note}")


def summary_data(summary: ScanSummary) -> dict[str, Any]:
    """The summary for scripts."""
    from dataclasses import asdict

    return asdict(summary)


def say_summary(summary: ScanSummary, library: Path) -> None:
    """Pages, panels, doubtful pages, failures by name and reason."""
    known = f" ({summary.unchanged} more were known and unchanged)" if summary.unchanged else ""
    books = ", ".join(summary.books)
    say(f"{summary.pages} pages read with {summary.panels} panels{known}; library: {library}")
    if books:
        say(f"Books: {books}", level=1)
    for told in summary.directions:
        say(told.text, level=0 if told.needs_a_look else 1)
    if any(told.needs_a_look for told in summary.directions):
        say("If that is wrong, scan again with --direction ltr or rtl.")
    if summary.same_pages:
        say(
            f"{summary.same_pages} pages of the library are another scan or stage of one that is"
            " there; habits count them once (panelscan info --same-pages lists them)."
        )
    _say_some(
        f"{len(summary.disagreements)} pages that you put right would now be read otherwise:",
        list(summary.disagreements),
    )
    _say_some(
        f"{len(summary.doubtful)} doubtful pages, worth a look with panelscan review:",
        [
            f"{d.book}, page {d.page_number} ({d.confidence:.2f})"
            + (f": {d.reason}" if d.reason else "")
            for d in summary.doubtful
        ],
    )
    _say_some(
        f"{len(summary.duplicates)} left out, because the same content stands elsewhere:",
        [f"{name}: same as {other}" for name, other in summary.duplicates],
    )
    for ending, count in summary.passed_over:
        say(f"{count} files ending in {ending or 'nothing'} are no pages.", level=1)
    _say_some(
        f"{len(summary.failures)} could not be read:",
        [f"{f.label}: {f.reason}. {f.remedy}".rstrip() for f in summary.failures],
        level=-1,
    )


def _say_some(title: str, lines: list[str], level: int = 0) -> None:
    """A title and its lines, cut where there are very many."""
    if not lines:
        return
    say(title, level)
    for line in lines[:MOST_NAMED]:
        say(f"  {line}", level)
    if len(lines) > MOST_NAMED:
        say(f"  and {len(lines) - MOST_NAMED} more", level)
