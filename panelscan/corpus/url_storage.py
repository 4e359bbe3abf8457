"""A library on any fsspec URL, such as ``memory://books`` or an object store's bucket.

Object stores put each file whole, but know neither rename nor locks. The commit of
`panelscan.corpus.commit` still holds: the journal's file is put whole, and it is the moment
of commit; a rename is a copy and a deletion, and may be done again. The lock is a lease: an
object that holds who writes; a lease older than a minute is taken over. Between two machines
that ask for it at the same moment the later write wins and the other notices on reading it
back, so there is a short gap that a disk does not have: let one scan at a time write there.
"""

from __future__ import annotations

import os
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from typing import Any

from panelscan.corpus.storage import WORK, FileMark

LEASE_S = 60.0
_GUARDS: dict[str, threading.Lock] = {}


class UrlPlace:
    """Storage behind an fsspec URL.

    Parameters
    ----------
    url : str
        For example ``memory://books``.
    """

    def __init__(self, url: str) -> None:
        import fsspec

        self.url = url.rstrip("/")
        self._files, root = fsspec.core.url_to_fs(self.url)
        self._root = str(root).rstrip("/")

    @property
    def name(self) -> str:
        """The URL."""
        return self.url

    def names(self, folder: str) -> dict[str, FileMark]:
        """Files directly in a folder."""
        self._files.invalidate_cache()
        try:
            entries = self._files.ls(self.full(folder), detail=True)
        except (FileNotFoundError, NotADirectoryError):
            return {}
        found = {}
        for entry in entries:
            if entry["type"] == "file":
                changed = entry.get("ETag") or entry.get("created") or entry.get("mtime") or ""
                name = str(entry["name"]).rpartition("/")[2]
                found[name] = FileMark(int(entry["size"] or 0), 0, str(changed))
        return found

    def read(self, path: str) -> bytes:
        """Bytes of a file."""
        return bytes(self._files.cat_file(self.full(path)))

    def write_new(self, path: str, data: bytes) -> None:
        """Put a file whole."""
        self.make_folder(path.rpartition("/")[0])
        self._files.pipe_file(self.full(path), data)

    def write_quick(self, path: str, data: bytes) -> None:
        """Put a file whole."""
        self.write_new(path, data)

    def replace(self, source: str, target: str) -> None:
        """Copy, then delete the source."""
        self.make_folder(target.rpartition("/")[0])
        self.write_new(target, self.read(source))
        self.delete(source)

    def delete(self, path: str) -> None:
        """Remove a file."""
        with suppress(FileNotFoundError):
            self._files.rm_file(self.full(path))

    def sync(self, folder: str) -> None:
        """Nothing to do: a put is durable when it returns."""

    def make_folder(self, folder: str) -> None:
        """Make a folder, where the store has such a thing."""
        with suppress(FileExistsError):
            self._files.makedirs(self.full(folder), exist_ok=True)

    def lock(self, wait_s: float) -> AbstractContextManager[None]:
        """Be the only writer, by a lease."""
        return self._lease(wait_s)

    @contextmanager
    def _lease(self, wait_s: float) -> Iterator[None]:
        guard = _GUARDS.setdefault(self.url, threading.Lock())
        if not guard.acquire(timeout=max(0.0, wait_s)):
            raise TimeoutError("another writer holds the lease")
        mine = f"{os.getpid()} {uuid.uuid4().hex}"
        path = f"{WORK}/write.lease"
        try:
            self._await_lease(path, mine, wait_s)
            yield
        finally:
            with suppress(OSError):
                if self._holder(path)[0] == mine:
                    self.delete(path)
            guard.release()

    def _await_lease(self, path: str, mine: str, wait_s: float) -> None:
        end = time.monotonic() + wait_s
        while True:
            holder, since = self._holder(path)
            if not holder or time.time() - since > LEASE_S:
                self.write_new(path, f"{mine}|{time.time()}".encode())
                if self._holder(path)[0] == mine:
                    return
            if time.monotonic() >= end:
                raise TimeoutError("another writer holds the lease")
            time.sleep(0.05)

    def _holder(self, path: str) -> tuple[str, float]:
        try:
            holder, _, since = self.read(path).decode().partition("|")
            return holder, float(since)
        except (FileNotFoundError, ValueError):
            return "", 0.0

    def full(self, path: str) -> str:
        """Path inside the file system."""
        return f"{self._root}/{path}" if path else self._root

    def arrow_filesystem(self) -> Any:
        """Arrow's wrapper of the fsspec file system."""
        from pyarrow import fs

        return fs.PyFileSystem(fs.FSSpecHandler(self._files))
