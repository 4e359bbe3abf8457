"""``panelscan demo``: an invented book, and the whole job on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from panelscan.cli import options
from panelscan.cli.console import say
from panelscan.errors import OutputExistsError

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

BOOK = "The Lamp on Quill Rock"
SHOWN_PAGE = 4
SCENE = """\
what happens,words,weight,shot,shape,silent,reveal,keep with next
The boat comes back in the fog,8,normal,long,wide,,,
Nobody is at the oars,0,small,medium,,yes,,yes
Imra runs down the steps,6,normal,full,tall,,,
"He stops: a second lamp, lit",0,big,long,wide,yes,yes,
"Who are you?",4,small,close-up,,,,
The stranger only points out to sea,12,normal,medium,,,,
"Count the knocks.",10,small,close-up,,,,
The light goes round,0,normal,long,wide,yes,,
"""


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False),
                default=Path("panelscan-demo"))
@click.option("--jobs", type=click.IntRange(min=0), help="Worker processes.")
@options.overwrite
def command(folder: Path, jobs: int | None, overwrite: bool) -> None:
    r"""Draw an invented book, scan it, and show the whole job on it.

    Everything lies in FOLDER afterwards (panelscan-demo by default): pages, the library, a
    page with what was found on it, the habits report, found grids, a plan, templates.

    \b
    Example:
      panelscan demo
    """
    if folder.exists() and any(folder.iterdir()) and not overwrite:
        raise OutputExistsError(
            f"{folder}: is there already and not empty.", "Use --overwrite or another folder."
        )
    results = [_draw(folder), _scan(folder, jobs), *_reuse(folder)]
    click.echo("\nWhere everything lies:")
    width = max(len(what) for what, _ in results)
    for what, where in results:
        click.echo(f"  {what:<{width}}  {where}")


def _draw(folder: Path) -> tuple[str, Path]:
    from panelscan.demo.book import draw_book

    say(f"Drawing “{BOOK}”, an invented book …")
    book = draw_book(folder)
    say(f"{len(book.page_paths)} files of pages drawn.")
    return "the pages", folder / "pages"


def _scan(folder: Path, jobs: int | None) -> tuple[str, Path]:
    from panelscan.cli.pages import scan_options
    from panelscan.cli.scan import BarProgress, say_summary
    from panelscan.pipeline.run import scan

    say("Scanning: finding panels, ordering them, saving …")
    library = folder / "library"
    summary = scan([folder / "pages"], library, scan_options(book=BOOK, jobs=jobs), BarProgress())
    say_summary(summary, library)
    return "the library (Parquet)", library


def _reuse(folder: Path) -> list[tuple[str, Path]]:
    from panelscan.corpus.store import Library

    shelf = Library.open(folder / "library")
    say("Habits, grids like a page, a plan for a new scene, templates …")
    return [
        _show(folder, shelf), _habits(folder), _find(folder, shelf), _plan(folder, shelf),
        *_templates(folder),
    ]


def _show(folder: Path, shelf: Library) -> tuple[str, Path]:
    from panelscan.cli.pages import scan_options
    from panelscan.cli.shown import look_again
    from panelscan.vision.overlay import draw_page, save_png

    name = f"{BOOK}/{SHOWN_PAGE}"
    record, image = look_again(name, folder / "library", 1, scan_options(), None)
    target = folder / f"page-{SHOWN_PAGE}-found.png"
    save_png(target, draw_page(image, record.finding, record.layout))
    return "what was found on a page", target


def _habits(folder: Path) -> tuple[str, Path]:
    from panelscan.study.habits import study
    from panelscan.study.library import shelf_of
    from panelscan.study.output import write_study

    pages = shelf_of(folder / "library")
    written = write_study(pages, study(pages), folder / "habits", f"Habits: {BOOK}", overwrite=True)
    return "the habits report", written[0]


def _find(folder: Path, shelf: Library) -> tuple[str, Path]:
    from panelscan.cli.contact import write_answer
    from panelscan.finder.query import Query
    from panelscan.finder.search import search

    answer = search(shelf, Query(written="one then two then two", count=8))
    target = folder / "found-grids.html"
    write_answer(answer, shelf, target, overwrite=True)
    return "grids like “one then two then two”", target


def _plan(folder: Path, shelf: Library) -> tuple[str, Path]:
    from panelscan.cli.contact import write_plan
    from panelscan.finder.index import GridIndex
    from panelscan.finder.plan import plan_scene
    from panelscan.finder.plan_types import PlanOptions
    from panelscan.finder.scene import read_scene

    scene = folder / "scene.csv"
    scene.write_text(SCENE, encoding="utf-8")
    told, index = read_scene(scene), GridIndex.open(shelf)
    plans = plan_scene(told, index.shelf(), PlanOptions())
    target = folder / "plan.html"
    write_plan(plans[0], told, index, None, shelf, target, overwrite=True)
    return "a plan for a new scene", target


def _templates(folder: Path) -> list[tuple[str, Path]]:
    from panelscan.cli.pages import named_grid
    from panelscan.model.formats import format_named
    from panelscan.templates.options import TemplateOptions
    from panelscan.templates.regularize import regularize
    from panelscan.templates.template import write_template

    named = named_grid(f"{BOOK}/{SHOWN_PAGE}", folder / "library")
    page_format = format_named("us-print")
    grid = regularize(named.grid, page_format).grid
    written = []
    for suffix in (".svg", ".pdf", ".ora"):
        target = folder / f"template-page-{SHOWN_PAGE}{suffix}"
        write_template(grid, page_format, target, TemplateOptions(overwrite=True))
        written.append((f"page {SHOWN_PAGE}'s grid as a template", target))
    return written
