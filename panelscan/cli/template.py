"""``panelscan template``: a grid as a layered page to draw on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, print_table, say
from panelscan.cli.pages import NamedGrid, named_grid, scan_options

if TYPE_CHECKING:
    from panelscan.templates.options import Rough
    from panelscan.templates.template import TemplateReport


@click.command()
@click.argument("source", metavar="PAGE|GRID")
@options.library
@options.page
@options.out("File to write: .svg, .pdf, .ora, .tif or .png.", required=True)
@click.option(
    "--format", "format_name", default="us-print", show_default=True, metavar="NAME",
    help="Page format to draw at, or a name from --formats.",
)
@click.option(
    "--formats", "formats_file", type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="TOML file with page formats of your own.",
)
@click.option("--ppi", type=click.Choice(["300", "400", "600", "1200"]), default="600",
              show_default=True, help="Pixels per inch of the written page.")
@click.option("--ink", type=click.Choice(["bw", "gray", "colour"]), default="colour",
              show_default=True, help="Pixels of PNG and TIFF.")
@click.option("--border-mm", type=click.FloatRange(0.05, 10), help="Border weight.")
@click.option("--tier-gutter-mm", type=click.FloatRange(0, 50), help="Gutter between tiers.")
@click.option("--column-gutter-mm", type=click.FloatRange(0, 50), help="Gutter within a tier.")
@click.option("--as-found", is_flag=True, help="Do not clean the grid up first.")
@click.option("--rough", "rough", type=click.Path(path_type=Path, exists=True, dir_okay=False),
              help="A rough of yours, laid underneath and lightened.")
@click.option("--words", default="", metavar="N,N,...", help="Words of lettering in each panel.")
@click.option("--no-numbers", is_flag=True, help="Leave the order numbers out.")
@click.option("--no-guides", is_flag=True, help="Leave the trim, bleed and live guides out.")
@click.option("--no-lettering", is_flag=True, help="Leave the lettering room out.")
@click.option("--masks", is_flag=True, help="Add a mask for each panel.")
@options.as_json
@options.overwrite
def command(source: str, library: Path | None, page: int, out: Path, **more: Any) -> None:
    r"""Write a grid as a layered, print-sized page: guides, borders, lettering room, order.

    PAGE is a picture or PDF (with --page), or with --library a page of it, written
    BOOK/NUMBER. GRID is a written grid. The grid is cleaned up first (sides straight, gutters
    even) unless --as-found is given. Sizes are trade habit unless they say "standard": your
    printer's own sheet decides.

    \b
    Examples:
      panelscan template ferry/12 --library shelf -o next.ora
      panelscan template page.png --format a4 -o page.pdf
    """
    from panelscan.cli.formats import page_format_named
    from panelscan.templates.template import write_template

    page_format = page_format_named(more["format_name"], more["formats_file"])
    named = _source_grid(source, library, page)
    grid = named.grid
    moves: list[str] = []
    if not more["as_found"]:
        grid, moves = _cleaned(named, page_format)
    report = write_template(grid, page_format, out, _options(more, named))
    _tell(report, named, moves, as_json=more["as_json"])


def _source_grid(source: str, library: Path | None, page: int) -> NamedGrid:
    """A file, a page of the library, or a written grid, whichever the text is."""
    from panelscan.cli.grids import is_written_grid, written_grid

    if not Path(source).exists() and is_written_grid(source):
        return written_grid(source)
    return named_grid(source, library, page, scan_options())


def _cleaned(named: NamedGrid, page_format: Any) -> tuple[Any, list[str]]:
    from panelscan.templates.regularize import regularize

    cleaned = regularize(named.grid, page_format=page_format)
    return cleaned.grid, [str(m) for m in cleaned.moves]


def _options(more: dict[str, Any], named: NamedGrid) -> Any:
    from panelscan.cli.check import numbers
    from panelscan.templates.options import InkMode, TemplateOptions

    return TemplateOptions(
        ppi=int(more["ppi"]),
        ink=InkMode(more["ink"]),
        border_mm=more["border_mm"],
        tier_gutter_mm=more["tier_gutter_mm"],
        column_gutter_mm=more["column_gutter_mm"],
        words=numbers("--words", more["words"]),
        rough=_rough(more["rough"]),
        numbers=not more["no_numbers"],
        lettering=not more["no_lettering"],
        guides=not more["no_guides"],
        masks=more["masks"],
        overwrite=more["overwrite"],
        title=named.name,
    )


def _rough(path: Path | None) -> Rough | None:
    if path is None:
        return None
    from panelscan.pipeline.stages import look_at
    from panelscan.templates.options import Rough, RoughPlace

    record, image = look_at(path)
    panels = tuple(image.to_decoded(record.finding.panels[i].outline) for i in record.layout.order)
    onto = RoughPlace.PANELS if panels else RoughPlace.TRIM
    return Rough(image.pixels, onto=onto, panels=panels)


def _tell(report: TemplateReport, named: NamedGrid, moves: list[str], as_json: bool) -> None:
    if as_json:
        print_json(
            {"file": str(report.path), "from": named.name, "size_mm": report.size_mm,
             "size_px": report.size_px, "layers": report.layers, "notes": report.notes,
             "moved": moves}
        )
        return
    size = f"{report.size_mm[0]:.1f} x {report.size_mm[1]:.1f} mm"
    pixels = f", {report.size_px[0]} x {report.size_px[1]} px" if report.size_px else ""
    say(f"{report.path}: {named.name}, {len(named.grid)} panels, {size}{pixels}")
    print_table("Layers, bottom first", ("Layer",), [(name,) for name in report.layers])
    for line in moves:
        say(line, level=1)
    for note in report.notes:
        say(note)
