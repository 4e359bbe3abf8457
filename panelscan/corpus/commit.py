"""Several files changed as one: all of them or none, whenever the program or power dies.

How it works. A change writes every new file beside the library's tables, in ``.work``, and
pushes it to the disk. Then it writes one small journal, ``.work/<change>.journal``, that
lists which new file goes where and which old files go. **The rename that gives the journal
its name is the moment of commit**: before it the library is as it was, after it the change
stands. Only then are the new files renamed over the old ones, and last the journal is
removed.

What each instant of death leaves:

- before the journal has its name: stray files in ``.work``, which nobody reads; the next
  writer removes them;
- after that: the journal. Whoever opens the library next finishes the renames (each can be
  done again: a file that is no longer in ``.work`` has been moved already). A reader that
  may not write, or that comes while the writer is at work, looks through the journal instead:
  it reads the files in ``.work`` in place of those that they will replace.

So panelscan's own readers see each book whole, before or after. Other programs that read
``panels/`` see files only, each replaced in one step, never a part of one; between two
renames of one change (well under a millisecond apart) they may see the new panels beside
the old pages.

Why not a table format with a transaction log: one writer with renames costs 1 ms a file,
needs no package, and leaves folders that every Parquet reader opens as they are; a log-based
table took 17 to 31 ms a commit in a trial, and its folders hold old and new files side by
side, which a plain reader would count twice.

The order above relies on: rename within one folder tree is atomic and is not reordered
before the writes that were pushed to the disk (POSIX rename and fsync; the same on NTFS).
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field

from panelscan.corpus.storage import WORK, Place

SUFFIX = ".journal"
# One folder at most, and no name that could lead out of the library on any system.
_OWN = re.compile(r"(?:[a-z]+/)?[0-9A-Za-z_-][0-9A-Za-z._-]*")
_PART = re.compile(rf"{re.escape(WORK)}/[0-9a-f-]+\.part")


@dataclass(frozen=True)
class Change:
    """New contents of files, and files that go; paths relative to the library."""

    writes: Mapping[str, bytes]
    deletes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Pending:
    """A committed change whose renames are not all done: see the module's text."""

    journal: str
    moves: Mapping[str, str] = field(default_factory=dict)
    deletes: tuple[str, ...] = ()


def commit(place: Place, change: Change) -> None:
    """Make a change stand as one; the caller holds the lock and has called `recover`.

    Parameters
    ----------
    place : Place
        Where the library lies.
    change : Change
        What becomes of which file.

    Raises
    ------
    OSError
        If writing failed. Where it failed before the moment of commit, nothing has changed
        and nothing is left; after it, the next `recover` finishes.
    """
    if len(change.writes) == 1 and not change.deletes:
        _commit_single(place, *next(iter(change.writes.items())))
        return
    name = uuid.uuid4().hex
    moves = {f"{WORK}/{name}-{k}.part": path for k, path in enumerate(change.writes)}
    journal = f"{WORK}/{name}{SUFFIX}"
    try:
        for source, target in moves.items():
            place.write_new(source, change.writes[target])
        text = json.dumps({"moves": moves, "deletes": list(change.deletes)})
        place.write_new(f"{WORK}/{name}.part", text.encode())
        place.replace(f"{WORK}/{name}.part", journal)
        place.sync(WORK)
    except Exception:
        _discard(place, journal, [*moves, f"{WORK}/{name}.part"])
        raise
    _finish(place, Pending(journal, moves, change.deletes))


def _commit_single(place: Place, path: str, data: bytes) -> None:
    part = f"{WORK}/{uuid.uuid4().hex}.part"
    try:
        place.write_new(part, data)
        place.replace(part, path)
    except Exception:
        with suppress(OSError):
            place.delete(part)
        raise
    place.sync(_folder(path))


def _discard(place: Place, journal: str, parts: Iterable[str]) -> None:
    """Undo a change that failed before its moment: the journal goes first."""
    with suppress(OSError):
        place.delete(journal)
        place.sync(WORK)
        for part in parts:
            place.delete(part)


def _finish(place: Place, pending: Pending) -> None:
    for source, target in pending.moves.items():
        with suppress(FileNotFoundError):
            place.replace(source, target)
    for path in pending.deletes:
        place.delete(path)
    touched = {_folder(p) for p in (*pending.moves.values(), *pending.deletes)}
    for folder in sorted(touched):
        place.sync(folder)
    place.delete(pending.journal)


def recover(place: Place) -> int:
    """Finish committed changes and clear what dead writers left; the caller holds the lock.

    Returns
    -------
    int
        How many changes were finished.
    """
    waiting = pending_changes(place)
    for pending in waiting:
        _finish(place, pending)
    for name in place.names(WORK):
        if name.endswith(".part"):
            place.delete(f"{WORK}/{name}")
    return len(waiting)


def pending_changes(place: Place) -> list[Pending]:
    """Committed changes whose renames are not all done.

    Notes
    -----
    A journal that is damaged, or that names a file outside the library, is left alone;
    `panelscan.corpus.verify` tells of it.
    """
    found = []
    for name in sorted(n for n in place.names(WORK) if n.endswith(SUFFIX)):
        with suppress(FileNotFoundError, ValueError, KeyError, TypeError, AttributeError):
            found.append(read_journal(place, f"{WORK}/{name}"))
    return found


def read_journal(place: Place, path: str) -> Pending:
    """A journal.

    Raises
    ------
    ValueError, KeyError, TypeError, AttributeError
        If it is damaged or names a file outside the library.
    """
    told = json.loads(place.read(path))
    moves = {str(source): str(target) for source, target in told["moves"].items()}
    deletes = tuple(str(gone) for gone in told["deletes"])
    if any(not _PART.fullmatch(source) for source in moves):
        raise ValueError("a journal moves files out of the work folder only")
    if any(not _OWN.fullmatch(target) for target in (*moves.values(), *deletes)):
        raise ValueError("a journal names files of the library only")
    return Pending(path, moves, deletes)


def _folder(path: str) -> str:
    return path.rpartition("/")[0]
