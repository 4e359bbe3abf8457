"""Where a library lies: a folder on a disk, with durable writes; the protocol for others.

Everything above this module names files by a path relative to the library, with ``/``.
A name that starts with a dot is ours alone: readers of the Parquet folders skip it.
"""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from panelscan.corpus.lock import hold_lock
from panelscan.errors import LibraryError


class FileMark(NamedTuple):
    """What tells that a file was replaced: size in bytes, time in ns, and a number of its own."""

    size: int
    time_ns: int
    identity: str


class Place(Protocol):
    """Storage of a library; paths are relative to it."""

    @property
    def name(self) -> str:
        """How messages name the place."""

    def names(self, folder: str) -> dict[str, FileMark]:
        """Files directly in a folder (dot names included), empty where there is no folder."""

    def read(self, path: str) -> bytes:
        """Bytes of a file; FileNotFoundError where there is none."""

    def write_new(self, path: str, data: bytes) -> None:
        """Write a file so that it survives a power cut; its folder is made."""

    def write_quick(self, path: str, data: bytes) -> None:
        """Write a small file that may be lost in a power cut."""

    def replace(self, source: str, target: str) -> None:
        """Move a file over another (or to a new name) in one step."""

    def delete(self, path: str) -> None:
        """Remove a file; nothing happens where there is none."""

    def sync(self, folder: str) -> None:
        """Make renames and deletions in a folder survive a power cut."""

    def make_folder(self, folder: str) -> None:
        """Make a folder, and those above it."""

    def lock(self, wait_s: float) -> AbstractContextManager[None]:
        """Be the only writer; TimeoutError after ``wait_s``."""

    def full(self, path: str) -> str:
        """Path as ``arrow_filesystem`` wants it."""

    def arrow_filesystem(self) -> Any:
        """A ``pyarrow.fs.FileSystem``."""


class FolderPlace:
    """A folder on a local or network disk.

    Parameters
    ----------
    root : path
        The library's folder.
    """

    def __init__(self, root: str | os.PathLike[str]) -> None:
        self.root = Path(root)

    @property
    def name(self) -> str:
        """The folder's path."""
        return str(self.root)

    def names(self, folder: str) -> dict[str, FileMark]:
        """Files directly in a folder."""
        found: dict[str, FileMark] = {}
        try:
            entries = os.scandir(self.root / folder)
        except (FileNotFoundError, NotADirectoryError):
            return found
        with entries:
            for entry in entries:
                with suppress(FileNotFoundError):
                    if entry.is_file():
                        facts = entry.stat()
                        found[entry.name] = FileMark(
                            facts.st_size, facts.st_mtime_ns, str(facts.st_ino)
                        )
        return found

    def read(self, path: str) -> bytes:
        """Bytes of a file."""
        return (self.root / path).read_bytes()

    def write_new(self, path: str, data: bytes) -> None:
        """Write a file and push it to the disk."""
        target = self.root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        with target.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    def write_quick(self, path: str, data: bytes) -> None:
        """Write a small file."""
        target = self.root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)

    def replace(self, source: str, target: str) -> None:
        """Move a file over another; waits a little where another program holds it (Windows)."""
        goal = self.root / target
        goal.parent.mkdir(parents=True, exist_ok=True)
        for pause_s in (0.01, 0.05, 0.2, 0.5, 1.0):
            try:
                (self.root / source).replace(goal)
                return
            except PermissionError:
                if os.name != "nt":
                    raise
                time.sleep(pause_s)
        (self.root / source).replace(goal)

    def delete(self, path: str) -> None:
        """Remove a file."""
        (self.root / path).unlink(missing_ok=True)

    def sync(self, folder: str) -> None:
        """Push a folder's entries to the disk, where the system can."""
        if os.name == "nt":
            return
        with suppress(OSError):
            handle = os.open(self.root / folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)

    def make_folder(self, folder: str) -> None:
        """Make a folder."""
        (self.root / folder).mkdir(parents=True, exist_ok=True)

    def lock(self, wait_s: float) -> AbstractContextManager[None]:
        """Be the only writer."""
        self.make_folder(WORK)
        return hold_lock(self.root / WORK, wait_s)

    def full(self, path: str) -> str:
        """Absolute path."""
        return (self.root / path).as_posix()

    def arrow_filesystem(self) -> Any:
        """Arrow's own local file system."""
        from pyarrow import fs

        return fs.LocalFileSystem()


WORK = ".work"


def place_of(path: str | os.PathLike[str]) -> Place:
    """Storage for a folder or an fsspec URL such as ``memory://books``."""
    text = os.fspath(path)
    if "://" in text:
        from panelscan.corpus.url_storage import UrlPlace

        return UrlPlace(text)
    return FolderPlace(text)


@contextmanager
def explained(place: Place, deed: str) -> Iterator[None]:
    """Turn a disk's refusal into a message for a person.

    Parameters
    ----------
    place : Place
        Where it happened.
    deed : str
        What was being done, e.g. ``"saving the book Salt"``.

    Raises
    ------
    LibraryError
        In place of any OSError.
    """
    try:
        yield
    except TimeoutError as error:
        raise LibraryError(
            f"{place.name}: {deed} waited too long for another panelscan that is writing.",
            "Let the other one finish, then run this again.",
        ) from error
    except OSError as error:
        raise LibraryError(
            f"{place.name}: {deed} failed: {_reason(error)}", _remedy(error)
        ) from error


def _reason(error: OSError) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full. The library is as it was before."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "the folder may not be written to."
    return f"{error.strerror or error}."


def _remedy(error: OSError) -> str:
    if isinstance(error, (FileExistsError, NotADirectoryError)):
        return "Choose a folder for the library, not a file."
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "Free some space and run it again; pages already saved are skipped."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "Ask for the right to write there, or copy the library and use the copy."
    return "Check that the disk or network drive is connected, then run it again."
