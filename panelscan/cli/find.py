"""``panelscan find``: the artist's own pages that would carry a scene."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from panelscan.cli import options
from panelscan.cli.console import print_json, print_table, say
from panelscan.cli.pages import named_grid, scan_options
from panelscan.errors import NothingFound, UsageError

if TYPE_CHECKING:
    from panelscan.finder.brief import Brief, Span
    from panelscan.finder.query import Answer, Query


@click.command()
@options.library_needed
@click.option(
    "--like", metavar="PAGE",
    help="Pages like this one: BOOK/NUMBER, a picture or PDF, or a photo of a pencil thumbnail.",
)
@options.page
@click.option("--grid", "written", default="", metavar="GRID",
              help='A written grid, e.g. "two then three then one"; "any" and "some" leave tiers '
                   'open; so does "three tiers, the last one a single panel".')
@click.option("--same-hand", "hand", metavar="PAGE",
              help="Pages laid out like this page of the library in margins, gutters and "
                   "proportions, whatever their grid.")
@click.option("--scene", type=click.Path(path_type=Path, dir_okay=False),
              help="A scene file with one beat a line, for one page.")
@options.where
@click.option("--panels", metavar="N|N-M", help="Number of panels.")
@click.option("--tiers", metavar="N|N-M", help="Number of tiers.")
@click.option("--wide", type=int, multiple=True, metavar="PLACE",
              help="A wide panel at this place.")
@click.option("--tall", type=int, multiple=True, metavar="PLACE",
              help="A tall panel at this place.")
@click.option("--big", type=int, multiple=True, metavar="PLACE", help="A big panel at this place.")
@click.option("--full-tier", "full_tier", type=int, multiple=True, metavar="PLACE",
              help="A panel of full width at this place.")
@click.option("--splash/--no-splash", default=None, help="Only splash pages, or none.")
@click.option("--bleeds/--no-bleeds", default=None, help="With a bleed, or without.")
@click.option("--slants/--no-slants", default=None, help="With slanted panels, or without.")
@click.option("--insets/--no-insets", default=None, help="With insets, or without.")
@click.option("--words", "least_words", type=click.IntRange(min=1), metavar="N",
              help="Every panel holds this many words by the trade's rule of thumb.")
@click.option("--words-at", "words_at", multiple=True, metavar="PLACE:N",
              help="The panel at a place holds this many words.")
@click.option("--free-top", type=click.FloatRange(0, 1), metavar="SHARE",
              help="Every panel has at least this calm strip at its top.")
@click.option("--format", "page_format", metavar="NAME", help="Pages of this format.")
@click.option("--side", type=click.Choice(["left", "right"]), help="Side of the open book.")
@click.option("--clarity", type=click.FloatRange(0, 1), help="Least reading clarity.")
@click.option("--rating", type=click.IntRange(1, 5), help="Least rating of yours.")
@click.option("--label", "labels", multiple=True, metavar="NAME=VALUE", help="A label it carries.")
@click.option("--not-used-for", type=click.IntRange(min=1), metavar="PAGES",
              help="Grids not used on the last so many pages.")
@click.option("--in-book", default="", metavar="BOOK", help="Book meant by --not-used-for.")
@click.option("--before", type=click.IntRange(min=1), metavar="NUMBER",
              help="Page number that the new page will have, for --not-used-for.")
@click.option("--count", type=click.IntRange(1, 500), default=10, show_default=True,
              help="How many to show.")
@click.option("--no-mirrors", is_flag=True, help="Leave mirror images out.")
@click.option("--no-liking", is_flag=True, help="Let ratings and past choices count for nothing.")
@options.out("Contact sheet to write: .html, .svg or .png.")
@options.as_json
@options.overwrite
def command(library: Path, out: Path | None, as_json: bool, overwrite: bool, **asked: Any) -> int:
    r"""Rank your grids for a new scene: by example, written grid, requirements or a scene.

    All ways combine freely. Each hit says why it is there; mirror images and near misses are
    named as such. An empty answer says which requirement excluded most.

    \b
    Examples:
      panelscan find --library shelf --like thumbnail.jpg
      panelscan find --library shelf --grid "two then three then one"
      panelscan find --library shelf --panels 5-7 --wide 1 --no-slants -o hits.html
    """
    from panelscan.corpus.store import Library
    from panelscan.finder.search import search

    shelf = Library.open(library)
    answer = search(shelf, _query(asked, library))
    if as_json:
        print_json(answer.to_json())
    else:
        _print(answer)
    if out is not None:
        from panelscan.cli.contact import write_answer

        write_answer(answer, shelf, out, overwrite)
    return 0 if answer.hits else NothingFound.exit_code


def _query(asked: dict[str, Any], library: Path) -> Query:
    from panelscan.finder.query import Query
    from panelscan.finder.scene import read_scene

    like, hand = None, ""
    skip: list[str] = []
    if asked["like"]:
        named = named_grid(asked["like"], library, asked["page"], scan_options())
        like, skip = named.grid, [named.page_id]
    if asked["hand"]:
        from panelscan.cli.pages import find_page
        from panelscan.corpus.store import Library

        hand, _ = find_page(Library.open(library), asked["hand"])
        skip.append(hand)
    return Query(
        like=like,
        written=asked["written"],
        hand=hand,
        brief=_brief(asked),
        scene=read_scene(asked["scene"]) if asked["scene"] else None,
        where=asked["where"] or "",
        count=asked["count"],
        mirrors=not asked["no_mirrors"],
        use_liking=not asked["no_liking"],
        skip=tuple(skip),
    )


def _brief(asked: dict[str, Any]) -> Brief:
    from panelscan.finder.brief import Brief

    return Brief(
        panels=span("--panels", asked["panels"]),
        tiers=span("--tiers", asked["tiers"]),
        wide_at=asked["wide"], tall_at=asked["tall"], big_at=asked["big"],
        full_tier_at=asked["full_tier"], words_at=tuple(_words_at(t) for t in asked["words_at"]),
        free_top_share=asked["free_top"], size_mm=_size_mm(asked["page_format"]),
        unused_in=asked["in_book"], unused_before=asked["before"],
        splash=asked["splash"], bleeds=asked["bleeds"], slants=asked["slants"],
        insets=asked["insets"], least_words=asked["least_words"], side=asked["side"],
        clarity=asked["clarity"], rating=asked["rating"], unused_for=asked["not_used_for"],
        labels=dict(_label(text) for text in asked["labels"]),
    )


def _words_at(text: str) -> tuple[int, int]:
    place, _, words = text.partition(":")
    try:
        return int(place), int(words)
    except ValueError as cause:
        raise UsageError(
            f"--words-at {text}: not a place and a number.", "Write PLACE:N, e.g. 2:35."
        ) from cause


def _size_mm(name: str | None) -> tuple[float, float] | None:
    if name is None:
        return None
    from panelscan.model.formats import format_named

    return format_named(name).trim_mm


def span(option: str, text: str | None) -> Span | None:
    """A number or a range such as ``5-7``, ``5-`` or ``-7``.

    Raises
    ------
    UsageError
        If it is neither.
    """
    if text is None:
        return None
    least, dash, most = text.partition("-")
    try:
        low = int(least) if least.strip() else None
        high = (int(most) if most.strip() else None) if dash else low
    except ValueError as cause:
        raise UsageError(
            f"{option} {text}: neither a number nor a range.", "Write 5 or 5-7."
        ) from cause
    return low, high


def _label(text: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign:
        raise UsageError(f"--label {text}: no value.", "Write NAME=VALUE, e.g. scene=crossing.")
    return name.strip(), value.strip()


def _print(answer: Answer) -> None:
    rows = [
        (place, hit.target, str(hit.likeness), f"{hit.score:.3f}", " ".join(hit.reasons),
         " ".join(g.text for g in hit.gives) or None)
        for place, hit in enumerate(answer.hits, start=1)
    ]
    header = ("", "Page", "What", "Score", "Why", "What gives")
    title = f"{len(rows)} of {answer.meeting} pages that meet what was asked"
    print_table(title, header, rows, right=(0, 3))
    for note in answer.notes:
        say(note)
    if not rows:
        say(answer.why_empty, level=-1)
    else:
        say("From a hit on to a page to draw on: panelscan template PAGE --library … -o page.ora")
