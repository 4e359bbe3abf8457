"""Families of grids on the command line: ``family:1`` is the library's largest."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.cli.console import print_table
from panelscan.cli.pages import NamedGrid
from panelscan.errors import NothingFound, UsageError

if TYPE_CHECKING:
    from panelscan.model.grid import Grid
    from panelscan.templates.families import Family

MOST_LISTED = 30
_WRITTEN = re.compile(r"family:(\d+)", re.IGNORECASE)


def is_family(text: str) -> bool:
    """Whether a text names a family."""
    return _WRITTEN.fullmatch(text.strip()) is not None


class FamilyShelf:
    """The families of a library, worked out once.

    Parameters
    ----------
    folder : Path or None
        The library.

    Raises
    ------
    UsageError
        If no library is given.
    """

    def __init__(self, folder: Path | None) -> None:
        from panelscan.corpus.labels import labels_now
        from panelscan.corpus.naming import NAMED_BY, shown_books
        from panelscan.corpus.query import load_grid_objects
        from panelscan.corpus.store import Library
        from panelscan.templates.families import group_families

        if folder is None:
            raise UsageError("A family is one of a library.", "Add --library FOLDER.")
        library = Library.open(folder)
        pages = library.pages(columns=list(NAMED_BY))
        books = shown_books(pages, labels_now(library.place))
        rows = pages.set_column(1, "book", books).to_pylist()
        grids = load_grid_objects(library, [r["page_id"] for r in rows])
        kept = [(r, g) for r, g in zip(rows, grids, strict=True) if g.panels]
        self.names = [f"{r['book']}/{r['page_number']}" for r, _ in kept]
        self.page_ids = [r["page_id"] for r, _ in kept]
        self.grids: list[Grid] = [g for _, g in kept]
        self.families: tuple[Family, ...] = group_families(self.grids)

    def named(self, text: str) -> NamedGrid:
        """The family's own grid, from ``family:N``, counting from 1, largest first.

        Raises
        ------
        NothingFound
            If there are not so many.
        """
        found = _WRITTEN.fullmatch(text.strip())
        number = int(found.group(1)) if found else 0
        if not 1 <= number <= len(self.families):
            raise NothingFound(
                f"{text}: there is no such family.",
                f"The library's grids form {len(self.families)} families; see --families.",
            )
        return self.grid_of(number - 1)

    def grid_of(self, place: int) -> NamedGrid:
        """The family's own grid, the middle of its members, by the page most typical of it."""
        from panelscan.templates.families import family_grid

        family = self.families[place]
        name = f"family {place + 1}, as {self.names[family.typical]}"
        return NamedGrid(
            name, family_grid(family, self.grids), self.page_ids[family.typical], of_library=True
        )


def list_families(folder: Path | None) -> None:
    """The library's families, largest first, as a table."""
    from panelscan.finder.grid_forms import form_of
    from panelscan.layout.notation import write_grid

    shelf = FamilyShelf(folder)
    rows = []
    for place, family in enumerate(shelf.families[:MOST_LISTED]):
        mirror = "" if family.mirror_of is None else f"family:{family.mirror_of + 1}"
        rows.append(
            (
                f"family:{place + 1}",
                len(family),
                shelf.names[family.typical],
                form_of(write_grid(shelf.grids[family.typical])),
                mirror,
            )
        )
    print_table(
        f"{len(shelf.families)} families of grids",
        ("Family", "Pages", "Most typical", "Grid", "Mirror of"),
        rows,
    )
