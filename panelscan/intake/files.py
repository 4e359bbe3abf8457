"""Opening and walking files and folders, on this machine's disk or at an fsspec address.

Only these functions open files; the readers work on bytes and open streams. Nothing is ever
written.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, BinaryIO, cast

from panelscan.errors import InputError
from panelscan.intake.names import is_litter, natural_key, printable

_ADDRESS = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]+://")
MOST_FILE_BYTES = 4 << 30


def is_address(path: str) -> bool:
    """Whether a path is an fsspec address such as ``memory://…`` or ``s3://…``."""
    return bool(_ADDRESS.match(path))


def _file_system(path: str) -> tuple[Any, str]:
    import fsspec

    try:
        system, inner = fsspec.core.url_to_fs(path)
    except (ImportError, ValueError) as error:
        raise InputError(
            f"{printable(path)}: this kind of address cannot be opened ({error}).",
            "Install the package it needs, or copy the pages to a local folder.",
        ) from error
    return system, str(inner)


def as_given(path: str | os.PathLike[str]) -> str:
    """The path as the person gave it, with ``/`` between parts."""
    text = os.fspath(path)
    return text if is_address(text) else Path(text).as_posix()


def open_binary(path: str) -> BinaryIO:
    """Open for reading.

    Raises
    ------
    InputError
        If the file is missing, is no plain file, or may not be read.
    """
    try:
        if is_address(path):
            system, inner = _file_system(path)
            return cast(BinaryIO, system.open(inner, "rb"))
        place = Path(path)
        if place.exists() and not place.is_file():
            raise InputError(f"{printable(path)}: this is no file.", "Give a file or a folder.")
        return place.open("rb")
    except FileNotFoundError as error:
        raise InputError(
            f"{printable(path)}: there is no such file.", "Check the path and its spelling."
        ) from error
    except PermissionError as error:
        raise InputError(
            f"{printable(path)}: the file may not be read.", "Give yourself the right to read it."
        ) from error
    except (OSError, ValueError) as error:
        raise InputError(
            f"{printable(path)}: the file cannot be opened ({error}).", "Copy it elsewhere."
        ) from error


def read_bytes(path: str) -> bytes:
    """All bytes of a file.

    Raises
    ------
    InputError
        If it cannot be read, is empty, or is larger than 4 GiB.
    """
    with open_binary(path) as stream:
        try:
            data = stream.read(MOST_FILE_BYTES + 1)
        except OSError as error:
            raise InputError(
                f"{printable(path)}: reading broke off ({error}).", "Check the disk, copy it again."
            ) from error
    if not data:
        raise InputError(f"{printable(path)}: the file is empty.", "Export or copy it again.")
    if len(data) > MOST_FILE_BYTES:
        raise InputError(f"{printable(path)}: the file is larger than 4 GiB.", "Split it.")
    return data


def head_of(path: str, count: int = 1024) -> bytes:
    """First bytes of a file."""
    with open_binary(path) as stream:
        try:
            return stream.read(count)
        except OSError as error:
            raise InputError(
                f"{printable(path)}: reading broke off ({error}).", "Check the disk, copy it again."
            ) from error


def sha256_of_file(path: str) -> str:
    """Hash of a file's bytes; kept for as long as its size and time stay the same."""
    if is_address(path):
        return _hash(path)
    try:
        status = Path(path).stat()
    except OSError:
        return _hash(path)
    return _known_hash(path, status.st_size, status.st_mtime_ns)


@lru_cache(maxsize=256)
def _known_hash(path: str, _size: int, _mtime_ns: int) -> str:
    return _hash(path)


def _hash(path: str) -> str:
    digest = hashlib.sha256()
    with open_binary(path) as stream:
        while chunk := stream.read(1 << 20):
            digest.update(chunk)
    return digest.hexdigest()


def is_folder(path: str) -> bool:
    """Whether a path is a folder."""
    if is_address(path):
        system, inner = _file_system(path)
        return bool(system.isdir(inner))
    return Path(path).is_dir()


def identity(path: str) -> str:
    """The same text for the same file, however it was named."""
    return path if is_address(path) else os.path.realpath(path)


def expand(path: str) -> list[str]:
    """The path itself, or what a pattern such as ``scans/*.png`` stands for.

    Shells on Windows hand patterns on as they are.
    """
    if is_address(path) or Path(path).exists() or not any(mark in path for mark in "*?["):
        return [path]
    place = Path(path)
    top = Path(place.anchor) if place.is_absolute() else Path()
    inner = place.relative_to(place.anchor) if place.is_absolute() else place
    found = [each.as_posix() for each in top.glob(str(inner)) if not is_litter(each.name)]
    return sorted(found, key=natural_key) or [path]


def walk(folder: str) -> Iterator[str]:
    """All files below a folder except litter, as paths that begin with the folder as given.

    Linked folders are followed, each real folder once, so that a ring of links ends.
    """
    if is_address(folder):
        system, inner = _file_system(folder)
        for found in system.find(inner):
            below = str(found)[len(inner.rstrip("/")) :]
            if not is_litter(below):
                yield folder.rstrip("/") + below
        return
    yield from _walk_local(Path(folder))


def _walk_local(folder: Path) -> Iterator[str]:
    seen: set[str] = set()
    for top, folders, files in os.walk(folder, followlinks=True):
        real = os.path.realpath(top)
        if real in seen:
            folders.clear()
            continue
        seen.add(real)
        folders[:] = [name for name in folders if not is_litter(name)]
        for name in files:
            if not is_litter(name):
                yield (Path(top) / name).as_posix()
