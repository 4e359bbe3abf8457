"""Reading a library's tables: all rows come from files of one moment."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

import pyarrow as pa
import pyarrow.compute as pc

from panelscan.corpus import view as views
from panelscan.corpus.amend import UNSETTLED
from panelscan.corpus.known import KNOWN_COLUMNS, KnownPages
from panelscan.corpus.storage import Place, explained

T = TypeVar("T")


class LibraryTables(ABC):
    """The reading half of a library; `panelscan.corpus.store.Library` is the whole."""

    place: Place

    def table(
        self, table: str, columns: Sequence[str] | None = None, where: Any = None
    ) -> pa.Table:
        """Rows of a table.

        Parameters
        ----------
        table : str
            ``"pages"``, ``"panels"`` or ``"gutters"``.
        columns : sequence of str or None
            Columns wanted, all for None.
        where : pyarrow.compute.Expression or None
            Rows wanted.
        """
        return self.tables({table: columns}, {table: where})[table]

    def tables(
        self, wanted: Mapping[str, Sequence[str] | None], where: Mapping[str, Any] | None = None
    ) -> dict[str, pa.Table]:
        """Several tables of one moment: a book is in all of them, or in none."""
        filters = where or {}

        def read(view: views.View) -> dict[str, pa.Table]:
            return {
                name: views.read_table(self.place, view, name, columns, filters.get(name))
                for name, columns in wanted.items()
            }

        return self.reading(tuple(wanted), read)

    def reading(
        self, tables: Sequence[str], read: Callable[[views.View], T], *, settled: bool = True
    ) -> T:
        """Result of a function that reads files of one moment (it may be called again).

        Parameters
        ----------
        tables : sequence of str
            Tables that it reads.
        read : callable
            The function, given a view.
        settled : bool
            Whether corrections on record must show in the tables first.
        """
        with explained(self.place, "reading the library"):
            if settled and self.place.names(UNSETTLED):
                self._settle_if_free()
            return views.consistently(self.place, tables, read)

    def pages(self, columns: Sequence[str] | None = None, where: Any = None) -> pa.Table:
        """Rows of the pages table."""
        return self.table("pages", columns, where)

    def panels(self, columns: Sequence[str] | None = None, where: Any = None) -> pa.Table:
        """Rows of the panels table."""
        return self.table("panels", columns, where)

    def gutters(self, columns: Sequence[str] | None = None, where: Any = None) -> pa.Table:
        """Rows of the gutters table."""
        return self.table("gutters", columns, where)

    def known_pages(self) -> KnownPages:
        """Every page held, by its id."""
        return KnownPages(self.pages(columns=KNOWN_COLUMNS))

    def books(self) -> list[str]:
        """Names of the books held, sorted."""
        return sorted(pc.unique(self.pages(columns=["book"])["book"]).to_pylist())

    @abstractmethod
    def _settle_if_free(self) -> None:
        """Settle corrections, unless another writer is at work or the folder is read-only."""
