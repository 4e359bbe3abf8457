"""``panelscan export``: the library in forms that other tools read."""

from __future__ import annotations

from pathlib import Path

import click

from panelscan.cli import options
from panelscan.cli.console import say

FORMS = ("geoparquet", "csv", "coco", "page-xml", "svg")


@click.command()
@click.argument("form", type=click.Choice(FORMS))
@options.library_needed
@options.where
@options.out("File (geoparquet, coco) or folder (csv, page-xml, svg) to write.", required=True)
@click.option("--once", is_flag=True, help="Leave out other scans and stages of the same page.")
@options.overwrite
def command(
    form: str, library: Path, where: str | None, out: Path, once: bool, overwrite: bool
) -> None:
    r"""Write the library, or a part of it, in another form.

    \b
    Forms:
      geoparquet  one GeoParquet 1.1 file of panels
      csv         tables of pages, panels and gutters
      coco        COCO JSON with polygons and boxes
      page-xml    PAGE XML, one file a page
      svg         one drawing a page

    \b
    Example:
      panelscan export coco --library shelf -o panels.json
    """
    from panelscan.corpus.export import export
    from panelscan.corpus.store import Library

    written = export(
        Library.open(library), form, out, where=where, duplicates=not once, overwrite=overwrite
    )
    say(f"{len(written)} file{'' if len(written) == 1 else 's'} written: {written[0]}")
