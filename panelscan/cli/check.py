"""``panelscan check``: a page looked over before inking."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, say
from panelscan.cli.pages import scan_options
from panelscan.errors import InputError, OutputExistsError, UsageError

if TYPE_CHECKING:
    import numpy as np

    from panelscan.corpus.store import Library
    from panelscan.model.grid import Grid
    from panelscan.model.record import PageRecord

HAS_FINDINGS = 10
PAGES_AROUND = 3


@click.command()
@click.argument("page_name", metavar="PAGE")
@options.library
@options.page
@click.option("--format", "format_name", default="us-print", show_default=True, metavar="NAME",
              help="Page format to check against.")
@click.option("--formats", "formats_file", help="TOML file with page formats of your own.",
              type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--words", default="", metavar="N,N,...", help="Words of lettering in each panel.")
@click.option("--silence", multiple=True, metavar="FINDING",
              help="Do not show this finding again on this page; the artist decides.")
@click.option("--hear", multiple=True, metavar="FINDING", help="Show a silenced finding again.")
@options.out("The page with its findings drawn on it: .svg or .png.")
@options.dpi
@options.as_json
@options.overwrite
def command(
    page_name: str, library: Path | None, page: int, format_name: str,
    formats_file: Path | None, words: str, silence: tuple[str, ...], hear: tuple[str, ...],
    out: Path | None, dpi: float | None, as_json: bool, overwrite: bool,
) -> int:
    r"""Look a page over before inking: gutters, borders, live area, bleeds, order, lettering.

    PAGE is a picture or PDF, or with --library a page of it, written BOOK/NUMBER. Each
    finding has a number, a place and a remedy. The exit code is 10 where there are findings.
    This is advice: artist, editor and printer decide.

    \b
    Example:
      panelscan check page_07.png --format us-print -o look.svg
    """
    from panelscan.checks.check import check_page
    from panelscan.checks.page import page_of_record
    from panelscan.checks.report import report_data, report_text
    from panelscan.checks.silence import silenced_keys
    from panelscan.cli.formats import page_format_named

    record, around = _record(page_name, library, page, dpi)
    folder, name = _silence_place(page_name, library, record)
    _set_silence(folder, name, silence, hear)
    checked = page_of_record(
        record, page_format_named(format_name, formats_file), numbers("--words", words), around
    )
    report = check_page(checked, silenced=silenced_keys(folder, name))
    if as_json:
        print_json(report_data(report))
    else:
        click.echo(report_text(report))
    if out is not None:
        from panelscan.checks.overlay import overlay_svg
        from panelscan.checks.pictures import overlay_pixels

        write_picture(
            out,
            lambda: overlay_svg(checked, report),
            lambda: overlay_pixels(checked, report, own_picture(page_name, library, page, dpi)),
            overwrite,
        )
    return 0 if report.is_clear else HAS_FINDINGS


def numbers(option: str, text: str) -> tuple[int, ...]:
    """Whole numbers parted by commas.

    Raises
    ------
    UsageError
        If something else stands there.
    """
    try:
        return tuple(int(w) for w in text.split(",") if w.strip())
    except ValueError as cause:
        raise UsageError(
            f"{option} {text}: not a list of numbers.", f"Write e.g. {option} 12,0,25."
        ) from cause


def write_picture(
    out: Path, svg: Callable[[], str], pixels: Callable[[], np.ndarray], overwrite: bool
) -> None:
    """Write a drawing as SVG or PNG, whichever the file's name asks for.

    Raises
    ------
    OutputExistsError
        If the file is there and replacing it was not asked for.
    UsageError
        If the suffix is neither.
    """
    if out.exists() and not overwrite:
        raise OutputExistsError(f"{out}: is there already.", "Use --overwrite or another name.")
    suffix = out.suffix.lower()
    if suffix == ".svg":
        out.write_text(svg(), encoding="utf-8")
    elif suffix == ".png":
        from panelscan.checks.pictures import png_of_pixels

        out.write_bytes(png_of_pixels(pixels()))
    else:
        raise UsageError(
            f"{out}: is drawn as SVG or PNG only.", "Name the file with .svg or .png."
        )
    say(f"Picture: {out}")


def own_picture(
    name: str, library: Path | None, page: int, dpi: float | None
) -> np.ndarray | None:
    """The page's own pixels along its frame; None where its picture is no longer there."""
    from panelscan.checks.pictures import page_picture
    from panelscan.cli.shown import look_again

    try:
        record, image = look_again(name, library, page, scan_options(dpi=dpi), None)
    except InputError:
        return None
    return page_picture(image, record.finding.frame)


def _record(
    name: str, library: Path | None, page: int, dpi: float | None
) -> tuple[PageRecord, list[Grid]]:
    from panelscan.pipeline.stages import look_at

    if library is None or Path(name).is_file():
        return look_at(name, page - 1, scan_options(dpi=dpi))[0], []
    from panelscan.cli.pages import find_page
    from panelscan.corpus.store import Library

    shelf = Library.open(library)
    page_id, _ = find_page(shelf, name)
    record = shelf.page(page_id).record
    return record, _before(shelf, record)


def _before(shelf: Library, record: PageRecord) -> list[Grid]:
    """Grids of the pages before this one in its book, the nearest last."""
    import pyarrow.compute as pc

    from panelscan.corpus.query import load_grid_objects

    number = record.page_number
    near = (
        (pc.field("book") == record.book)
        & (pc.field("page_number") >= number - PAGES_AROUND)
        & (pc.field("page_number") < number)
    )
    rows = shelf.pages(columns=["page_id", "page_number"], where=near).to_pylist()
    rows.sort(key=lambda r: r["page_number"])
    return load_grid_objects(shelf, [r["page_id"] for r in rows])


def _silence_place(name: str, library: Path | None, record: PageRecord) -> tuple[Path, str]:
    """Where silenced findings are kept: in the library, or beside a file checked by itself."""
    if library is None or Path(name).is_file():
        return Path(name).resolve().parent, Path(name).name
    return library, record.ref.page_id


def _set_silence(
    folder: Path, name: str, silence: tuple[str, ...], hear: tuple[str, ...]
) -> None:
    from panelscan.checks.silence import set_silenced

    for key in silence:
        set_silenced(folder, name, key)
        say(f"Silenced on this page: {key}")
    for key in hear:
        set_silenced(folder, name, key, silenced=False)
