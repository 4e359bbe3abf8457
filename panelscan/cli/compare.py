"""``panelscan compare``: what moved between two stages of a page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from panelscan.cli import options
from panelscan.cli.check import own_picture, write_picture
from panelscan.cli.console import print_json
from panelscan.cli.pages import scan_options

if TYPE_CHECKING:
    from panelscan.checks.compare import Stage


@click.command()
@click.argument("rough")
@click.argument("final")
@options.library
@options.page
@click.option("--same-mm", type=click.FloatRange(0, 50), default=1.0, show_default=True,
              help="Moves up to this do not count.")
@options.dpi
@options.out("Picture of both laid over each other (.svg or .png).")
@options.as_json
@options.overwrite
def command(
    rough: str, final: str, library: Path | None, page: int, same_mm: float, dpi: float | None,
    out: Path | None, as_json: bool, overwrite: bool,
) -> None:
    r"""Tell what moved between two stages of the same page, e.g. rough and inks.

    ROUGH and FINAL are pictures, or with --library pages of it, written BOOK/NUMBER. The
    two are laid over each other by their panels, so turn, scale and shift do not matter.

    \b
    Example:
      panelscan compare rough_07.jpg inks_07.png -o moved.svg
    """
    from panelscan.checks.compare import compare_stages
    from panelscan.checks.compare_report import (
        comparison_data,
        comparison_svg,
        comparison_text,
    )

    result = compare_stages(
        _stage(rough, library, page, dpi), _stage(final, library, page, dpi), same_mm
    )
    if as_json:
        print_json(comparison_data(result))
    else:
        click.echo(comparison_text(result))
    if out is not None:
        from panelscan.checks.pictures import comparison_pixels

        write_picture(
            out,
            lambda: comparison_svg(result),
            lambda: comparison_pixels(result, own_picture(final, library, page, dpi)),
            overwrite,
        )


def _stage(name: str, library: Path | None, page: int, dpi: float | None) -> Stage:
    from panelscan.checks.compare import stage_of_record
    from panelscan.cli.shown import look_again

    record, _ = look_again(name, library, page, scan_options(dpi=dpi), None)
    return stage_of_record(record)
