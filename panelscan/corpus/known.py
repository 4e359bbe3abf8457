"""Pages that a library holds already, as a scan needs to know them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import pyarrow as pa
import pyarrow.compute as pc


@dataclass(frozen=True)
class KnownPage:
    """A page that the library holds."""

    page_id: str
    book: str
    source_path: str
    source_index: int
    page_number: int
    detector: str
    settings: str


KNOWN_COLUMNS = tuple(KnownPage.__dataclass_fields__)


class KnownPages(Mapping[str, KnownPage]):
    """Pages held, by their id; a page becomes an object only when it is asked for.

    Parameters
    ----------
    rows : pyarrow.Table
        With the columns ``KNOWN_COLUMNS``.

    Examples
    --------
    >>> empty = KnownPages(pa.table({name: pa.array([]) for name in KNOWN_COLUMNS}))
    >>> len(empty), "ab12" in empty
    (0, False)
    """

    def __init__(self, rows: pa.Table) -> None:
        self._rows = rows.combine_chunks()
        self._columns = [self._rows[name] for name in KNOWN_COLUMNS]

    @cached_property
    def _places(self) -> dict[str, int]:
        return {page_id: k for k, page_id in enumerate(self._rows["page_id"].to_pylist())}

    def __getitem__(self, page_id: str) -> KnownPage:
        return self._page(self._places[page_id])

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)

    def of_book(self, book: str) -> list[KnownPage]:
        """Pages of one book, without looking at the others one by one."""
        places = pc.indices_nonzero(pc.equal(self._rows["book"], book)).to_pylist()
        return [self._page(k) for k in places]

    def _page(self, k: int) -> KnownPage:
        return KnownPage(*(column[k].as_py() for column in self._columns))
