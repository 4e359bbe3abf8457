"""``panelscan tag``: labels on pages, panels and books."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import click

from panelscan.cli import options
from panelscan.cli.console import print_table, say
from panelscan.errors import InputError, NothingFound, UsageError

if TYPE_CHECKING:
    from panelscan.cli.targets import PageIndex
    from panelscan.corpus.labels import Label
    from panelscan.corpus.store import Library


@click.command()
@click.argument("words", nargs=-1, metavar="[PAGES...] [LABEL=VALUE...]")
@options.library_needed
@options.where
@click.option(
    "--csv", "table", type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Labels from a table: a column page or book, perhaps panel, every other a label.",
)
@click.option("--book", help="Label the whole book instead of pages.")
def command(
    words: tuple[str, ...], library: Path, where: str | None, table: Path | None,
    book: str | None,
) -> None:
    r"""Attach labels: book, issue, date, artist, stage, scene, beat, shot, rating, your own.

    PAGES are written BOOK/NUMBER, a range BOOK/3-7, or one panel BOOK/3#2. With --where all
    pages for which the filter holds are meant. LABEL=- takes a label away. Labels follow a
    page when its file is renamed or moved. Without any label, those there are are listed.

    \b
    Examples:
      panelscan tag ferry/3-7 scene="the crossing" stage=inks --library shelf
      panelscan tag "ferry/3#2" shot=close-up --library shelf
      panelscan tag --book ferry date=2024 --library shelf
    """
    from panelscan.cli.targets import PageIndex
    from panelscan.corpus.store import Library

    shelf = Library.open(library)
    said = dict(_parted(w) for w in words if "=" in w)
    targets = [w for w in words if "=" not in w]
    index = PageIndex.of(shelf)
    if table is not None:
        labels = _from_table(table, index)
    elif not said:
        _list(shelf)
        return
    elif book is not None:
        labels = _of_book(index, book, said)
    else:
        labels = _of_pages(index, targets, where, shelf, said)
    _save(shelf, labels)


def _parted(word: str) -> tuple[str, str | None]:
    name, _, value = word.partition("=")
    return name.strip(), None if value.strip() == "-" else value.strip()


def _of_book(index: PageIndex, book: str, said: dict[str, str | None]) -> list[Label]:
    from panelscan.corpus.labels import Label

    if book not in index.books:
        raise NothingFound(
            f"There is no book “{book}”.", f"Books: {', '.join(sorted(index.books))}."
        )
    return [Label(name, value, book=book) for name, value in said.items()]


def _of_pages(
    index: PageIndex, targets: list[str], where: str | None, shelf: Library,
    said: dict[str, str | None],
) -> list[Label]:
    from panelscan.corpus.labels import Label

    places = [place for text in targets for place in index.places(text)]
    if where is not None:
        from panelscan.corpus.query import load_pages

        found = load_pages(shelf, where, columns=["page_id"], duplicates=True)
        places += [(page_id, None) for page_id in found["page_id"]]
    if not places:
        raise UsageError(
            "No page is named.", "Write BOOK/NUMBER, a range BOOK/3-7, or use --where or --book."
        )
    return [
        Label(name, value, page_id=page_id, panel_box=box)
        for page_id, box in places
        for name, value in said.items()
    ]


def _from_table(path: Path, index: PageIndex) -> list[Label]:
    from panelscan.corpus.labels import labels_from_rows

    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as cause:
        raise InputError(f"{path}: not a text in UTF-8.", "Save the table as CSV UTF-8.") from cause
    first = text.splitlines()[0] if text.strip() else ""
    delimiter = max(",;\t", key=first.count)
    rows = csv.DictReader(text.splitlines(), delimiter=delimiter)
    try:
        return labels_from_rows(rows, index.names(), index.box)
    except UsageError as error:
        raise UsageError(f"{path}: {error.message}", error.remedy) from error


def _save(shelf: Library, labels: list[Label]) -> None:
    import getpass
    from datetime import UTC, datetime

    from panelscan.corpus.labels import add_labels

    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    add_labels(shelf.place, labels, getpass.getuser(), at)
    pages = len({label.page_id or label.book for label in labels})
    what = "1 label" if len(labels) == 1 else f"{len(labels)} labels"
    say(f"{what} saved on {'1 page or book' if pages == 1 else f'{pages} pages or books'}.")


def _list(shelf: Library) -> None:
    """Labels there are, with how many pages carry each value."""
    from panelscan.corpus.labels import labels_now
    from panelscan.corpus.query import load_pages

    names = labels_now(shelf.place).names
    frame = load_pages(shelf, columns=["page_id"], duplicates=True)
    rows = [
        (name, value, count)
        for name in names
        for column in (name if name in frame else f"label_{name}",)
        if column in frame
        for value, count in frame[column].value_counts().items()
    ]
    print_table("Labels", ("Label", "Value", "Pages"), rows, right=(2,))
