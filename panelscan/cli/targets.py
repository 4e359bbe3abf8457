"""Pages and panels that a text such as ``ferry/3-7`` or ``ferry/3#2`` means."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from panelscan.errors import NothingFound, UsageError

if TYPE_CHECKING:
    from panelscan.corpus.store import Library

Box = tuple[float, float, float, float]
_TARGET = re.compile(r"(?P<book>.+)/(?P<first>\d+)(?:-(?P<last>\d+))?(?:#(?P<panel>\d+))?$")


@dataclass(frozen=True)
class PageIndex:
    """Pages of a library by what people call them.

    Parameters
    ----------
    library : Library
        The library.
    by_number : dict
        ``(book, number) -> page_id``; the book by its own name or as it is labelled.
    by_file : dict
        File name and path as given -> page_id.
    """

    library: Library
    by_number: dict[tuple[str, int], str]
    by_file: dict[str, str]

    @classmethod
    def of(cls, library: Library) -> PageIndex:
        """Index of all pages."""
        from panelscan.corpus.naming import named_pages

        table = library.pages(columns=["page_id", "source_path"])
        by_number, by_file = named_pages(library), {}
        for row in table.to_pylist():
            by_file[row["source_path"]] = row["page_id"]
            by_file[PurePosixPath(row["source_path"]).name] = row["page_id"]
        return cls(library, by_number, by_file)

    @property
    def books(self) -> set[str]:
        """Names of the books."""
        return {book for book, _ in self.by_number}

    def names(self) -> dict[str, str]:
        """Everything that a table may call a page -> its id."""
        numbered = {f"{book}/{number}": p for (book, number), p in self.by_number.items()}
        ids = {p: p for p in self.by_number.values()}
        return {**self.by_file, **numbered, **ids}

    def places(self, text: str) -> list[tuple[str, Box | None]]:
        """Pages, or one panel, that a text means.

        Raises
        ------
        UsageError
            If the text has none of the forms.
        NothingFound
            If there is no such page or panel.
        """
        if text in self.names():
            return [(self.names()[text], None)]
        parts = _TARGET.match(text)
        if parts is None:
            raise UsageError(
                f"“{text}” names no page.", "Write BOOK/NUMBER, BOOK/3-7, or BOOK/3#2 for a panel."
            )
        first = int(parts["first"])
        last = int(parts["last"] or first)
        found = [
            self.by_number[parts["book"], n]
            for n in range(first, last + 1)
            if (parts["book"], n) in self.by_number
        ]
        if not found:
            books = ", ".join(sorted(self.books)[:12])
            raise NothingFound(f"There is no page “{text}”.", f"Books: {books}.")
        if parts["panel"] is None:
            return [(page_id, None) for page_id in found]
        box = self.box(found[0], int(parts["panel"]))
        if box is None:
            raise NothingFound(f"{text}: the page has no panel {parts['panel']}.")
        return [(found[0], box)]

    def box(self, page_id: str, number: int) -> Box | None:
        """Box of a panel in page-relative units, None where there is no such panel."""
        import pyarrow.compute as pc

        columns = ["x_min_share", "y_min_share", "x_max_share", "y_max_share"]
        here = (pc.field("page_id") == page_id) & (pc.field("reading_order") == number)
        rows = self.library.panels(columns=columns, where=here).to_pylist()
        if not rows:
            return None
        x0, y0, x1, y1 = (float(rows[0][c]) for c in columns)
        return x0, y0, x1, y1
