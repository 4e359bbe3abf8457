"""What a person means by PAGE: a file, or a page of the library such as ``ferry/12``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.errors import NothingFound

if TYPE_CHECKING:
    from panelscan.corpus.store import Library
    from panelscan.model.grid import Grid
    from panelscan.pipeline.options import ScanOptions

PAGE_HELP = (
    "PAGE is a picture, PDF, TIFF or archive (with --page), or with --library a page of it, "
    'written BOOK/NUMBER, e.g. "ferry/12".'
)


@dataclass(frozen=True)
class NamedGrid:
    """A grid with the name of the page that it was taken from.

    Parameters
    ----------
    name : str
        For people.
    grid : Grid
        Its arrangement.
    page_id : str
        Its id.
    of_library : bool
        Whether the page stands in the library that was named.
    """

    name: str
    grid: Grid
    page_id: str
    of_library: bool = False


def scan_options(
    *, direction: str = "auto", dpi: float | None = None, page_format: str | None = None,
    spreads: str = "auto", book: str = "", jobs: int | None = None, again: bool = False,
    cluster: str = "",
) -> ScanOptions:
    """Options of a scan from what was typed."""
    from panelscan.intake.options import SpreadMode
    from panelscan.model.formats import format_named
    from panelscan.model.page import ReadingDirection
    from panelscan.pipeline.options import ScanOptions

    return ScanOptions(
        direction=None if direction == "auto" else ReadingDirection(direction),
        dpi=dpi,
        page_format=format_named(page_format) if page_format else None,
        spreads=SpreadMode(spreads),
        book=book,
        workers=jobs,
        again=again,
        cluster=cluster,
    )


def named_grid(
    text: str, library: Path | None, page: int = 1, options: ScanOptions | None = None
) -> NamedGrid:
    """Grid of a page, found on its picture or taken from the library.

    Parameters
    ----------
    text : str
        A file, or ``BOOK/NUMBER`` or a page id of the library.
    library : Path or None
        The library's folder.
    page : int
        Which page of a file with several, from 1.
    options : ScanOptions or None
        How the file is read.

    Raises
    ------
    NothingFound
        If there is neither such a file nor such a page.
    InputError
        If the file cannot be read.
    """
    if library is not None and not Path(text).is_file():
        return _from_library(text, library)
    return _from_file(text, page, options)


def _from_file(text: str, page: int, options: ScanOptions | None) -> NamedGrid:
    if not Path(text).exists():
        raise NothingFound(
            f"{text}: there is no such file.",
            "Check the name; a page of a library needs --library too.",
        )
    from panelscan.pipeline.stages import look_at

    record, _ = look_at(text, page - 1, options)
    if not record.grid.panels:
        raise NothingFound(
            f"{record.ref.label}: no panel was found on this page.",
            "Look at it with panelscan show; a sharper or straighter scan may help.",
        )
    return NamedGrid(record.ref.label, record.grid, record.ref.page_id)


def _from_library(text: str, folder: Path) -> NamedGrid:
    from panelscan.corpus.query import load_grid_objects
    from panelscan.corpus.store import Library

    library = Library.open(folder)
    page_id, name = find_page(library, text)
    grids = load_grid_objects(library, [page_id])
    if not grids or not grids[0].panels:
        raise NothingFound(f"{name}: no panel is known on this page.", "Choose another page.")
    return NamedGrid(name, grids[0], page_id, of_library=True)


def find_page(library: Library, text: str) -> tuple[str, str]:
    """Id and name of the page of a library that a text means.

    Raises
    ------
    NothingFound
        If there is none; the message lists the books.
    """
    import pyarrow.compute as pc

    from panelscan.corpus.labels import labels_now
    from panelscan.corpus.naming import NAMED_BY, shown_books

    pages = library.pages(columns=list(NAMED_BY))
    found = pages.filter(pc.equal(pages["page_id"], text))
    book, _, number = text.rpartition("/")
    if found.num_rows == 0 and not number.isdigit():
        raise NothingFound(
            f"“{text}”: there is neither such a file nor such a page.",
            "Write a file's name, or a page of the library as BOOK/NUMBER, e.g. ferry/12.",
        )
    labels = labels_now(library.place)
    if found.num_rows == 0:
        same = pc.equal(pages["page_number"], int(number))
        found = pages.filter(pc.and_(pc.equal(pages["book"], book), same))
    if found.num_rows == 0:
        labelled = pc.equal(shown_books(pages, labels), book)
        found = pages.filter(pc.and_(labelled, same))
    if found.num_rows == 0:
        books = ", ".join(sorted(set(shown_books(pages, labels).to_pylist()))[:12])
        raise NothingFound(f"There is no page “{text}” in the library.", f"Its books: {books}.")
    row = found.slice(0, 1).to_pylist()[0]
    told = labels.by_page.get("book", {}).get(row["page_id"]) or labels.by_book.get("book", {}).get(
        row["book"]
    )
    return row["page_id"], f"{told or row['book']}, page {row['page_number']}"
