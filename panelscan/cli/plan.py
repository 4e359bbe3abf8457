"""``panelscan plan``: a whole scene over pages with the artist's proven grids."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, print_table, say
from panelscan.errors import NothingFound

if TYPE_CHECKING:
    from panelscan.corpus.store import Library
    from panelscan.finder.beats import Scene
    from panelscan.finder.index import GridIndex
    from panelscan.finder.plan_types import Plan, PlanOptions
    from panelscan.finder.shelf import Shelf

MORE_PAGES = 3


@click.command()
@click.argument("scene", type=click.Path(path_type=Path, dir_okay=False))
@options.library_needed
@options.where
@click.option("--pages", type=click.IntRange(min=1), help="Number of pages; open by default.")
@click.option("--first-page", type=click.IntRange(min=1), default=1, show_default=True,
              help="Page number that the scene starts on; page turns follow from it.")
@click.option("--pace", type=click.FloatRange(1, 20), default=5.0, show_default=True,
              help="Beats a page to aim at where the number of pages is open.")
@click.option("--apart", type=click.IntRange(min=0), default=4, show_default=True,
              help="A grid does not come back within this many pages.")
@click.option("--plans", type=click.IntRange(1, 20), default=3, show_default=True,
              help="How many plans to show.")
@click.option("--no-liking", is_flag=True, help="Let ratings and past choices count for nothing.")
@options.out("Contact sheet of the best plan to write: .html, .svg or .png.")
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False),
              help="Sheet of the best plan's grids as thumbnails to print and rough on: .pdf, "
                   ".svg, .png or .tif. scan reads it back.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True,
              help="Paper of the thumbnail sheet.")
@options.as_json
@options.overwrite
def command(
    scene: Path, library: Path, where: str | None, pages: int | None, first_page: int,
    pace: float, apart: int, plans: int, no_liking: bool, out: Path | None,
    sheet: Path | None, paper: str, as_json: bool, overwrite: bool,
) -> None:
    r"""Lay a whole scene over pages: page breaks and grids chosen together.

    SCENE is a text file or table (CSV) with one beat a line: what happens, words of
    lettering, weight (small, normal, big), shot, wide or tall, silent, reveal after a page
    turn, keep with the next. Reveals fall after a page turn, words fit where they can, and a
    grid does not come back too soon. Every choice has its reason. You decide.

    \b
    Example:
      panelscan plan crossing.csv --library shelf --first-page 3
    """
    import numpy as np

    from panelscan.corpus.labels import labels_now
    from panelscan.corpus.store import Library
    from panelscan.finder.index import GridIndex
    from panelscan.finder.plan_types import PlanOptions
    from panelscan.finder.ranking import BEAT_SCALE, likings
    from panelscan.finder.scene import read_scene

    told = read_scene(scene)
    for note in told.notes:
        say(note)
    shelf = Library.open(library)
    liked = {} if no_liking else likings(labels_now(shelf.place))
    ranking = {page: BEAT_SCALE * liking.move for page, liking in liked.items()}
    wanted = PlanOptions(
        pages=pages, first_page=first_page, pace=pace, apart=apart, plans=plans, ranking=ranking
    )
    index = GridIndex.open(shelf)
    places = _places(shelf, index, where)
    grids = index.shelf() if places is None else index.shelf(np.array(places, dtype=np.int64))
    found = _planned(told, grids, wanted)
    if as_json:
        print_json([plan.to_json() for plan in found])
    else:
        for number, plan in enumerate(found, start=1):
            _print(plan, number)
    if out is not None:
        from panelscan.cli.contact import write_plan

        write_plan(found[0], told, index, places, shelf, out, overwrite)
    if sheet is not None:
        from panelscan.cli.thumbnails import write_plan_thumbnails

        own = [index.grid(p.grid if places is None else places[p.grid]) for p in found[0].pages]
        write_plan_thumbnails(found[0], own, sheet, paper, library, overwrite)


def _planned(scene: Scene, grids: Shelf, wanted: PlanOptions) -> tuple[Plan, ...]:
    """Plans; where the number of pages is open, a few more are tried before giving up."""
    from panelscan.finder.plan import plan_scene

    try:
        return plan_scene(scene, grids, wanted)
    except NothingFound:
        if wanted.pages is not None:
            raise
        least = math.ceil(len(scene.beats) / wanted.pace)
        for pages in range(least + 1, least + 1 + MORE_PAGES):
            try:
                found = plan_scene(scene, grids, replace(wanted, pages=pages))
            except NothingFound:
                continue
            say(f"No plan keeps the rules on fewer than {pages} pages.")
            return found
        raise


def _places(library: Library, index: GridIndex, where: str | None) -> list[int] | None:
    """Places in the index of the pages that the filter chooses; None for all."""
    from panelscan.corpus.select import select_pages

    if where is None:
        return None
    ids = select_pages(library, where, ["page_id"]).pages["page_id"].to_pylist()
    return [int(place) for place in index.pages.places(ids)]


def _print(plan: Plan, number: int) -> None:
    rows = [
        (page.number, page.side, page.name,
         ", ".join(str(b + 1) for p in page.placements for b in p.beats),
         " ".join(page.reasons))
        for page in plan.pages
    ]
    title = f"Plan {number}: {len(plan.pages)} pages, cost {plan.cost:.2f}"
    print_table(title, ("Page", "Side", "Grid of", "Beats", "Why"), rows, right=(0,))
    for give in plan.gives:
        say(f"  page {give.page} gives: {give.text}")
    for line in plan.advice:
        say(f"  advice: {line}")
