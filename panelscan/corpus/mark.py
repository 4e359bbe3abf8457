"""The file that marks a folder as a library and holds its version."""

from __future__ import annotations

import json

import panelscan
from panelscan.corpus.commit import Change, commit
from panelscan.corpus.pack_index import PackIndex, encode_index
from panelscan.corpus.schema import SCHEMA_VERSION, TABLES
from panelscan.corpus.storage import WORK, Place, explained
from panelscan.errors import LibraryError, NewerLibraryError

MARK = "panelscan-library.json"


def is_library(place: Place) -> bool:
    """Whether there is a library.

    Raises
    ------
    LibraryError
        If the place cannot be read.
    """
    with explained(place, "looking for a library"):
        return MARK in place.names("")


def make_library(place: Place, at: str) -> None:
    """Mark a place as a library.

    Raises
    ------
    LibraryError
        If it holds other things that the library would get mixed up with, or cannot be written.
    """
    told = {
        "what": "panelscan library",
        "schema_version": SCHEMA_VERSION,
        "created_at": at,
        "created_by": f"panelscan {panelscan.__version__}",
    }
    with explained(place, "making the library"):
        _refuse_foreign(place)
        for folder in (*TABLES, WORK):
            place.make_folder(folder)
        commit(place, Change(encode_index(PackIndex())))
        commit(place, Change({MARK: json.dumps(told, indent=1).encode()}))


def version_of(place: Place) -> int:
    """Version of a library.

    Raises
    ------
    LibraryError
        If there is none, or its mark is damaged.
    NewerLibraryError
        If a newer panelscan wrote it.
    """
    with explained(place, "opening the library"):
        try:
            told = json.loads(place.read(MARK))
            version = int(told["schema_version"])
        except (FileNotFoundError, NotADirectoryError) as error:
            raise LibraryError(
                f"{place.name} is no library.",
                "`panelscan scan PAGES --library DIR` makes one.",
            ) from error
        except (ValueError, KeyError, TypeError) as error:
            raise LibraryError(
                f"{place.name}: {MARK} is damaged.",
                f'Write {{"schema_version": {SCHEMA_VERSION}}} into it, then run'
                " `panelscan info --verify`.",
            ) from error
    if version > SCHEMA_VERSION:
        raise NewerLibraryError(
            f"{place.name} was written by a newer panelscan (library version {version}; this"
            f" one knows {SCHEMA_VERSION}).",
            "Install the newest panelscan.",
        )
    return version


def _refuse_foreign(place: Place) -> None:
    taken = [t for t in TABLES if place.names(t)]
    if taken:
        raise LibraryError(
            f"{place.name} is no library, but has a folder {taken[0]!r} with files in it.",
            "Choose an empty folder for the library, so that nothing of yours gets mixed up.",
        )
