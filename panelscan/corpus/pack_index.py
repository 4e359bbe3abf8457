"""Which books lie in which pack.

``packs.json`` tells it. It is written in the same step as the packs, and can be made anew
from them. A library without packs has one too, so that saving a book need not look through
the folder.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.parquet as pq

from panelscan.corpus.storage import Place
from panelscan.corpus.tables import about_file

PATH = "packs.json"
PREFIX = "pack-"


@dataclass(frozen=True)
class PackIndex:
    """Which books lie in which pack."""

    packs: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def pack_of(self, book: str) -> str | None:
        """File name of the pack that a book lies in."""
        return next((name for name, books in self.packs.items() if book in books), None)

    def books_in(self, pack: str) -> list[str]:
        """Books of a pack."""
        return list(self.packs.get(pack, ()))

    def without(self, book: str) -> PackIndex:
        """The index after a book has left its pack."""
        left = {n: tuple(b for b in books if b != book) for n, books in self.packs.items()}
        return PackIndex({n: books for n, books in left.items() if books})


def pack_index(place: Place) -> PackIndex:
    """The index as it stands; made anew from the packs where its file is damaged."""
    try:
        told = json.loads(place.read(PATH))
        return PackIndex({str(k): tuple(map(str, v)) for k, v in told["packs"].items()})
    except (FileNotFoundError, ValueError, KeyError, TypeError, AttributeError):
        return rebuilt_index(place)


def rebuilt_index(place: Place) -> PackIndex:
    """The index as the packs themselves tell it."""
    packs = {}
    for name in place.names("pages"):
        if name.startswith(PREFIX):
            metadata = pq.read_metadata(pa.BufferReader(place.read(f"pages/{name}"))).metadata
            packs[name] = tuple(about_file(metadata).get("books", ()))
    return PackIndex(packs)


def encode_index(index: PackIndex) -> dict[str, bytes]:
    """The index as a file to write."""
    told = {"packs": {name: list(books) for name, books in index.packs.items()}}
    return {PATH: json.dumps(told, indent=0).encode()}
