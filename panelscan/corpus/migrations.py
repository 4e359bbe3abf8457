"""Libraries of older versions: brought up to the current one when they are opened.

To change the schema: raise ``SCHEMA_VERSION``, add a step here from the old version, and keep
a sample of the old version under ``tests/data`` (``scripts/sample_library.py`` made the first).

Each file is migrated in one step of its own and says its version itself, and the library's
mark comes last: killed at any instant, the next opening goes on where it was left.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping

import pyarrow as pa

from panelscan.corpus.commit import Change, commit, recover
from panelscan.corpus.schema import SCHEMA_VERSION, TABLES
from panelscan.corpus.storage import Place, explained
from panelscan.corpus.tables import about_file, conformed, read_parquet, to_bytes
from panelscan.corpus.view import is_table_file
from panelscan.errors import LibraryError

Step = Callable[[str, pa.Table], pa.Table]

STEPS: dict[int, Step] = {}
"""Version -> what makes rows of a table of that version into rows of the next."""


def migrate(
    place: Place,
    mark: str,
    steps: Mapping[int, Step] = STEPS,
    target: int | None = None,
) -> int:
    """Bring a library up to a version.

    Parameters
    ----------
    place : Place
        Where the library lies.
    mark : str
        Name of the file that holds the library's version.
    steps : mapping of int to callable
        As `STEPS`.
    target : int or None
        Version wanted, the current one for None.

    Returns
    -------
    int
        How many files were written anew.

    Raises
    ------
    LibraryError
        If a file is damaged, a step is missing or the folder cannot be written; what was
        migrated so far stays, and the rest can be migrated later.
    """
    target = SCHEMA_VERSION if target is None else target
    done = 0
    with explained(place, "bringing the library up to date"), place.lock(120.0):
        recover(place)
        told = json.loads(place.read(mark))
        for table in TABLES:
            for name in sorted(n for n in place.names(table) if is_table_file(n)):
                done += _migrate_file(place, table, name, steps, target)
        commit(place, Change({mark: json.dumps({**told, "schema_version": target}).encode()}))
    return done


def _migrate_file(
    place: Place, table: str, name: str, steps: Mapping[int, Step], target: int
) -> bool:
    path = f"{table}/{name}"
    try:
        rows = read_parquet(place.read(path))
    except ValueError as error:
        raise LibraryError(
            f"{place.name}: {path} is damaged ({error}).",
            "Bring it back from a copy, or move it away and scan the book again.",
        ) from error
    about = about_file(rows.schema.metadata)
    version = int(about.get("schema_version", 1))
    if version >= target:
        return False
    while version < target:
        if version not in steps:
            raise LibraryError(
                f"{place.name}: {path} is of version {version}, which cannot be brought up to date."
            )
        rows = steps[version](table, rows)
        version += 1
    kept = {k: v for k, v in about.items() if k not in ("schema_version", "table", "program")}
    commit(place, Change({path: to_bytes(table, conformed(table, rows), kept)}))
    return True
