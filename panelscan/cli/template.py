"""``panelscan template``: a grid as a layered page to draw on."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, print_table, say
from panelscan.cli.families import FamilyShelf, is_family, list_families
from panelscan.cli.pages import NamedGrid, named_grid, scan_options
from panelscan.cli.thumbnails import write_thumbnails
from panelscan.errors import NothingFound, UsageError

if TYPE_CHECKING:
    from panelscan.model.formats import PageFormat
    from panelscan.model.grid import Grid
    from panelscan.templates.options import Rough
    from panelscan.templates.template import TemplateReport

LARGEST = 12
SEEN_PERCENT = 2.0
FORMATS = (
    "us-print", "us-board", "a4", "a5", "jis-b4", "jis-b5", "iso-b5", "album", "square", "wide",
    "strip",
)  # fmt: skip
"""Named in the help, which is shown without loading the formats; a test compares them."""


@click.command()
@click.argument("sources", nargs=-1, metavar="PAGE|FAMILY|GRID...")
@options.library
@options.page
@options.out("File to write: .svg, .pdf, .ora, .tif or .png.")
@click.option(
    "--format", "format_name", default="us-print", show_default=True, metavar="NAME",
    help=f"Page format to draw at: {', '.join(FORMATS)}, or a name from --formats.",
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
@click.option("--scene", type=click.Path(path_type=Path, dir_okay=False),
              help="A scene file instead of --words: its beats are laid into the panels.")
@click.option("--beats", metavar="N|N-M", help="Only these beats of the scene, as plan lists them.")
@click.option("--no-numbers", is_flag=True, help="Leave the order numbers out.")
@click.option("--no-guides", is_flag=True, help="Leave the trim, bleed and live guides out.")
@click.option("--no-lettering", is_flag=True, help="Leave the lettering room out.")
@click.option("--masks", is_flag=True, help="Add a mask for each panel.")
@click.option("--spread", is_flag=True, help="Draw across both pages of a spread.")
@click.option("--page-number", type=click.IntRange(min=1), metavar="N",
              help="Page of the book: makes it a left- or right-hand page.")
@click.option("--sheet", is_flag=True,
              help="Write one sheet of 4 to 16 thumbnails to print and rough on.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True,
              help="Paper of the thumbnail sheet.")
@click.option("--no-note", is_flag=True,
              help="Do not note in the library that this grid was taken.")
@click.option("--families", "list_them", is_flag=True,
              help="List the families of the library's grids instead.")
@options.as_json
@options.overwrite
def command(
    sources: tuple[str, ...], library: Path | None, page: int, out: Path | None, **more: Any
) -> None:
    r"""Write a grid as a layered, print-sized page: guides, borders, lettering room, order.

    PAGE is a picture or PDF (with --page), or with --library a page of it, written
    BOOK/NUMBER. FAMILY is family:1 for the library's largest family of grids, family:2 for
    the next. GRID is a written grid. The grid is cleaned up first (sides straight, gutters
    even) unless --as-found is given. Sizes are trade habit unless they say "standard": your
    printer's own sheet decides. With --sheet, 4 to 16 grids come on one sheet of thumbnails
    that scan reads back; without any named, the library's largest families are taken.
    The library notes which of its grids were taken, and find moves them up a little;
    info --liking lists and forgets that, --no-note leaves it out.

    \b
    Examples:
      panelscan template ferry/12 --library shelf -o next.ora
      panelscan template page.png --format a4 -o page.pdf
      panelscan template --sheet --library shelf -o thumbnails.pdf
    """
    from panelscan.cli.formats import page_format_named

    if more["list_them"]:
        list_families(library)
        return
    if out is None:
        raise UsageError("There is no file to write.", "Add -o FILE.")
    page_format = _sided(page_format_named(more["format_name"], more["formats_file"]), more)
    named = _source_grids(sources, library, page, more["sheet"])
    if not more["as_found"]:
        cleaned = [_cleaned(each, page_format) for each in named]
    else:
        cleaned = [(each.grid, []) for each in named]
    if more["sheet"]:
        tidy = [replace(n, grid=g) for n, (g, _) in zip(named, cleaned, strict=True)]
        choices = _options(more, named[0], None)
        write_thumbnails(tidy, out, more["paper"], library, choices, more["as_json"])
        return
    from panelscan.templates.template import write_template

    grid, moves = cleaned[0]
    report = write_template(grid, page_format, out, _options(more, named[0], grid))
    taken = "" if more["no_note"] else _noted(named[0], library)
    _tell(report, named[0], moves, taken, as_json=more["as_json"])


def _noted(named: NamedGrid, library: Path | None) -> str:
    """Note that a grid of the library was taken; what was done, in words."""
    if library is None or not named.of_library:
        return ""
    from panelscan.corpus.store import Library
    from panelscan.finder.ranking import note_choice

    return note_choice(Library.open(library), named.page_id)


def _sided(page_format: PageFormat, more: dict[str, Any]) -> PageFormat:
    """The format as a spread, or as a left- or right-hand page, where that was asked."""
    from panelscan.model.formats import side_of_page

    if more["spread"]:
        return page_format.as_spread()
    if more["page_number"] is not None:
        return page_format.on_side(side_of_page(more["page_number"]))
    return page_format


def _source_grids(
    sources: tuple[str, ...], library: Path | None, page: int, sheet: bool
) -> list[NamedGrid]:
    """The grids named; for a sheet without any, the library's largest families."""
    if not sources and not sheet:
        raise UsageError("No page, family or grid is named.", "Name one, or ask for --sheet.")
    if len(sources) > 1 and not sheet:
        raise UsageError("A template holds one grid.", "Name one, or ask for a --sheet of them.")
    shelf = FamilyShelf(library) if not sources or any(map(is_family, sources)) else None
    if not sources and shelf is not None:
        if not shelf.families:
            raise NothingFound(f"{library}: holds no grids yet.", "Scan some pages first.")
        count = min(LARGEST, len(shelf.families))
        return [shelf.grid_of(place) for place in range(count)]
    found = []
    for text in sources:
        if shelf is not None and is_family(text):
            found.append(shelf.named(text))
        else:
            found.append(_source_grid(text, library, page))
    return found


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


def _options(more: dict[str, Any], named: NamedGrid, grid: Grid | None) -> Any:
    from panelscan.cli.check import numbers
    from panelscan.cli.scene_words import words_of_scene
    from panelscan.templates.options import InkMode, TemplateOptions

    words = numbers("--words", more["words"])
    if grid is not None and more["scene"] is not None:
        words = words_of_scene(more["scene"], more["beats"], grid)
    return TemplateOptions(
        ppi=int(more["ppi"]),
        ink=InkMode(more["ink"]),
        border_mm=more["border_mm"],
        tier_gutter_mm=more["tier_gutter_mm"],
        column_gutter_mm=more["column_gutter_mm"],
        words=words,
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


def _tell(
    report: TemplateReport, named: NamedGrid, moves: list[str], taken: str, as_json: bool
) -> None:
    if as_json:
        print_json(
            {"file": str(report.path), "from": named.name, "size_mm": report.size_mm,
             "size_px": report.size_px, "layers": report.layers, "notes": report.notes,
             "moved": moves, "taken": taken,
             "shape_changes": [
                 {"panel": c.panel + 1, "before": round(c.before, 4), "after": round(c.after, 4)}
                 for c in report.placement.changes
             ]}
        )
        return
    size = f"{report.size_mm[0]:.1f} x {report.size_mm[1]:.1f} mm"
    pixels = f", {report.size_px[0]} x {report.size_px[1]} px" if report.size_px else ""
    say(f"{report.path}: {named.name}, {len(named.grid)} panels, {size}{pixels}")
    print_table("Layers, bottom first", ("Layer",), [(name,) for name in report.layers])
    if moves:
        sides = "1 side was" if len(moves) == 1 else f"{len(moves)} sides were"
        say(f"Cleaned up: {sides} moved, most of all: {moves[0]}")
    for line in moves[1:]:
        say(line, level=1)
    _tell_shapes(report)
    for note in report.notes:
        say(note)
    if taken:
        say(taken)


def _tell_shapes(report: TemplateReport) -> None:
    """How the panels' shapes changed with the page's, where the change can be seen."""
    changed = [c for c in report.placement.changes if abs(c.percent) >= SEEN_PERCENT]
    if not changed:
        return
    told = ", ".join(
        f"panel {c.panel + 1} {abs(c.percent):.0f} % {'wider' if c.percent > 0 else 'narrower'}"
        for c in changed
    )
    say(f"For their height, on this page: {told}.")
