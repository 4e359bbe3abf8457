"""One writer at a time, with nothing to clear up by hand after a crash.

The lock is the operating system's own (``flock`` or ``msvcrt.locking``) on the file
``write.lock``: the system drops it when the process ends, however it ends, so a file that
is left behind means nothing. Where a network drive knows no such locks, a lease takes its
place: ``write.lease`` is created exclusively, holds who writes, and is touched by a thread
every few seconds; a lease that was not touched for a minute (by the drive's own clock), or
whose process on this machine is gone, is taken over.
"""

from __future__ import annotations

import errno
import json
import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

LEASE_S = 60.0
BEAT_S = 5.0
_NO_LOCKS = {errno.ENOLCK, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL}


@contextmanager
def hold_lock(folder: Path, wait_s: float) -> Iterator[None]:
    """Hold the write lock of a folder.

    Parameters
    ----------
    folder : Path
        Where the lock's file lies; it must exist.
    wait_s : float
        How long to wait for another writer, in seconds.

    Raises
    ------
    TimeoutError
        If another writer held it all the time.
    OSError
        If the folder cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with hold_lock(Path(folder), wait_s=1.0):
    ...         print("mine")
    mine
    """
    with (folder / "write.lock").open("a+b") as file:
        try:
            _wait(lambda: _system_lock(file), wait_s)
        except OSError as error:
            if isinstance(error, TimeoutError) or error.errno not in _NO_LOCKS:
                raise
            with hold_lease(folder / "write.lease", wait_s):
                yield
            return
        try:
            yield
        finally:
            _system_unlock(file)


def _wait(attempt: Callable[[], bool], wait_s: float) -> None:
    end = time.monotonic() + wait_s
    pause_s = 0.002
    while not attempt():
        if time.monotonic() >= end:
            raise TimeoutError("another writer holds the lock")
        time.sleep(pause_s)
        pause_s = min(pause_s * 1.5, 0.1)


if os.name == "nt":  # pragma: no cover - other systems

    def _system_lock(file: IO[bytes]) -> bool:
        import msvcrt

        file.seek(0)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EDEADLK):
                return False
            raise
        return True

    def _system_unlock(file: IO[bytes]) -> None:
        import msvcrt

        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined]

else:

    def _system_lock(file: IO[bytes]) -> bool:
        import fcntl

        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EAGAIN):
                return False
            raise
        return True

    def _system_unlock(file: IO[bytes]) -> None:
        import fcntl

        fcntl.flock(file.fileno(), fcntl.LOCK_UN)


@contextmanager
def hold_lease(path: Path, wait_s: float, lease_s: float = LEASE_S) -> Iterator[None]:
    """Hold a lease file where the drive knows no locks.

    Parameters
    ----------
    path : Path
        The lease's file.
    wait_s : float
        How long to wait for another holder, in seconds.
    lease_s : float
        Age at which a lease that nobody touches counts as abandoned, in seconds.

    Raises
    ------
    TimeoutError
        If another holder kept it alive all the time.
    """
    holder = {"pid": os.getpid(), "host": socket.gethostname(), "thread": threading.get_ident()}
    token = json.dumps({**holder, "since": time.time_ns()})
    _wait(lambda: _take_lease(path, token, lease_s), wait_s)
    done = threading.Event()
    beat = threading.Thread(target=_keep_alive, args=(path, done, lease_s), daemon=True)
    beat.start()
    try:
        yield
    finally:
        done.set()
        beat.join()
        with suppress(OSError):
            if path.read_text(encoding="utf-8") == token:
                path.unlink()


def _take_lease(path: Path, token: str, lease_s: float) -> bool:
    with suppress(FileExistsError):
        with path.open("x", encoding="utf-8") as file:
            file.write(token)
        return True
    if _abandoned(path, lease_s):
        # Renaming lets one contender win: the loser finds no file to move.
        grave = path.with_name(f"{path.name}.{time.time_ns()}.{os.getpid()}")
        with suppress(FileNotFoundError):
            path.rename(grave)
            grave.unlink()
    return False


def _abandoned(path: Path, lease_s: float) -> bool:
    try:
        text, touched = path.read_text(encoding="utf-8"), path.stat().st_mtime
    except FileNotFoundError:
        return False
    if _drive_time(path) - touched > lease_s:
        return True
    try:
        holder = json.loads(text)
        same_host = holder["host"] == socket.gethostname()
        return same_host and not _alive(int(holder["pid"]))
    except (ValueError, KeyError, TypeError):
        return False


def _drive_time(path: Path) -> float:
    """Now, by the clock that stamps the drive's files."""
    probe = path.with_name(f"{path.name}.now.{os.getpid()}.{threading.get_ident()}")
    probe.write_bytes(b"")
    try:
        return probe.stat().st_mtime
    finally:
        probe.unlink(missing_ok=True)


def _alive(pid: int) -> bool:
    if os.name == "nt":  # pragma: no cover - there, os.kill(pid, 0) would end the process
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _keep_alive(path: Path, done: threading.Event, lease_s: float) -> None:
    while not done.wait(min(BEAT_S, lease_s / 4)):
        with suppress(OSError):
            os.utime(path)
