"""Writing a file whole or not at all: aside first, then put in place; nothing overwritten."""

from __future__ import annotations

import contextlib
import secrets
from pathlib import Path

from panelscan.errors import LibraryError, OutputExistsError


def refuse_overwrite(path: Path, overwrite: bool) -> None:
    """Raise if the file is there and nobody asked to replace it.

    Raises
    ------
    OutputExistsError
        Naming the file.
    """
    if path.exists() and not overwrite:
        raise OutputExistsError(
            f"{path}: is already there.", "Choose another name, or ask for it to be replaced."
        )


def write_whole(path: Path, data: bytes, overwrite: bool) -> None:
    """Write the bytes beside the place and move them there in one step.

    Raises
    ------
    OutputExistsError
        If the file is there and `overwrite` is false.
    LibraryError
        If the folder cannot be written; nothing is left half written.
    """
    refuse_overwrite(path, overwrite)
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        aside.write_bytes(data)
        if not overwrite and path.exists():
            refuse_overwrite(path, overwrite)
        aside.replace(path)
    except OSError as error:
        raise LibraryError(
            f"{path}: cannot be written there ({error.strerror}).",
            "Choose a folder that exists and that you may write to.",
        ) from error
    finally:
        with contextlib.suppress(OSError):
            aside.unlink(missing_ok=True)
