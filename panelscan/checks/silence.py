"""Findings that the artist has silenced for good, in a small file beside the pages.

The file is only ever added to, a line of JSON at a time: silencing and taking that back are
both new lines, the last one for a page and key counts. Lines that cannot be read (written by
a newer panelscan, or damaged) are left in place and ignored. So nothing is lost, and two
people may write at once.
"""

from __future__ import annotations

import datetime
import json
import os
from pathlib import Path

from panelscan.errors import LibraryError

FILE_NAME = "silenced-findings.jsonl"
EVERY_PAGE = "*"


def silenced_keys(folder: Path, page_id: str) -> frozenset[str]:
    """Keys silenced for a page, with those silenced for every page.

    Parameters
    ----------
    folder : Path
        The library, or the folder of a file that is checked by itself.
    page_id : str
        The page's id, or its file name.
    """
    quiet: dict[tuple[str, str], bool] = {}
    try:
        text = (folder / FILE_NAME).read_text(encoding="utf-8")
    except FileNotFoundError:
        return frozenset()
    except (OSError, UnicodeDecodeError) as error:
        raise LibraryError(
            f"{folder / FILE_NAME}: cannot be read ({error}).", "Look at it, or move it aside."
        ) from error
    for line in text.splitlines():
        try:
            entry = json.loads(line)
            quiet[str(entry["page"]), str(entry["finding"])] = bool(entry["silenced"])
        except (ValueError, KeyError, TypeError):
            continue
    pages = (EVERY_PAGE, page_id)
    return frozenset(key for (page, key), on in quiet.items() if on and page in pages)


def set_silenced(
    folder: Path, page_id: str, key: str, silenced: bool = True, why: str = ""
) -> Path:
    """Silence a finding for good, or take that back.

    Parameters
    ----------
    folder : Path
        Where the file lies; it is made at need.
    page_id : str
        The page, or ``"*"`` for every page.
    key : str
        The finding's key, or a rule's name.
    silenced : bool
        False to hear it again.
    why : str
        The artist's reason, kept with it.

    Raises
    ------
    LibraryError
        If the file cannot be written.
    """
    path = folder / FILE_NAME
    entry = {
        "page": page_id,
        "finding": key,
        "silenced": silenced,
        "why": why,
        "at": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
    }
    line = json.dumps(entry, ensure_ascii=False) + "\n"
    try:
        with path.open("ab") as file:
            if file.tell() and not _ends_with_newline(path):
                line = "\n" + line
            file.write(line.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise LibraryError(
            f"{path}: cannot be written ({error.strerror}).",
            "Choose a folder that you may write to.",
        ) from error
    return path


def _ends_with_newline(path: Path) -> bool:
    """Whether a line that was cut short would swallow the next one."""
    with path.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"
