"""``panelscan compare``: what moved between two stages of a page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from panelscan.cli import options
from panelscan.cli.check import own_picture, write_picture
from panelscan.cli.console import print_json
from panelscan.cli.pages import scan_options
from panelscan.errors import NothingFound, UsageError

if TYPE_CHECKING:
    from panelscan.checks.compare import Stage


@click.command()
@click.argument("rough")
@click.argument("final", required=False)
@options.library
@options.page
@click.option("--same-mm", type=click.FloatRange(0, 50), default=1.0, show_default=True,
              help="Moves up to this do not count.")
@options.dpi
@options.out("Picture of both laid over each other (.svg or .png).")
@options.as_json
@options.overwrite
def command(
    rough: str, final: str | None, library: Path | None, page: int, same_mm: float,
    dpi: float | None, out: Path | None, as_json: bool, overwrite: bool,
) -> None:
    r"""Tell what moved between two stages of the same page, e.g. rough and inks.

    ROUGH and FINAL are pictures, or with --library pages of it, written BOOK/NUMBER. The
    two are laid over each other by their panels, so turn, scale and shift do not matter.
    Where FINAL is left out, the library's other stage or scan of ROUGH is taken (see
    info --same-pages), the earlier stage first.

    \b
    Examples:
      panelscan compare rough_07.jpg inks_07.png -o moved.svg
      panelscan compare ferry/7 --library shelf
    """
    from panelscan.checks.compare import compare_stages
    from panelscan.checks.compare_report import (
        comparison_data,
        comparison_svg,
        comparison_text,
    )

    if final is None:
        rough, final = _linked(rough, library)
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


def _linked(name: str, library: Path | None) -> tuple[str, str]:
    """Ids of a page and of its other stage, the earlier stage first.

    Raises
    ------
    UsageError
        If no library is given.
    NothingFound
        If no other stage is known.
    """
    from panelscan.cli.pages import find_page
    from panelscan.corpus.labels import STAGES, labels_now
    from panelscan.corpus.page_links import linked_with
    from panelscan.corpus.store import Library

    if library is None:
        raise UsageError("There is one page only.", "Name the other, or give --library FOLDER.")
    shelf = Library.open(library)
    page_id, title = find_page(shelf, name)
    others = linked_with(shelf, page_id)
    if not others:
        raise NothingFound(
            f"{title}: no other stage or scan of this page is known.",
            "Find them with panelscan info --same-pages, or name the other page.",
        )
    said = labels_now(shelf.place)
    rows = shelf.pages(["page_id", "book", "scanned_at"])
    stages = said.column("stage", rows["page_id"], rows["book"]).to_pylist()
    ids, ats = rows["page_id"].to_pylist(), rows["scanned_at"].to_pylist()
    ranks = {
        page: (STAGES.index(stage) if stage in STAGES else 0, at or "")
        for page, stage, at in zip(ids, stages, ats, strict=True)
    }
    here = ranks[page_id]
    known = [page for page in others if page in ranks]
    if not known:
        raise NothingFound(f"{title}: its other stage left the library.", "Name the other page.")
    later = [page for page in known if ranks[page] > here]
    other = min(later, key=ranks.__getitem__) if later else max(known, key=ranks.__getitem__)
    return (page_id, other) if ranks[other] > here else (other, page_id)


def _stage(name: str, library: Path | None, page: int, dpi: float | None) -> Stage:
    from panelscan.checks.compare import stage_of_record
    from panelscan.cli.shown import look_again

    record, _ = look_again(name, library, page, scan_options(dpi=dpi), None)
    return stage_of_record(record)
