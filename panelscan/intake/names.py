"""File and member names: natural order, litter that systems leave, names that are refused."""

from __future__ import annotations

import re
import unicodedata
from pathlib import PurePosixPath

IMAGE_SUFFIXES = frozenset(
    ".png .apng .jpg .jpeg .jpe .jfif .tif .tiff .webp .bmp .dib .gif .jp2 .avif".split()
)
PDF_SUFFIXES = frozenset({".pdf"})
ARCHIVE_SUFFIXES = frozenset({".cbz", ".zip"})
PAGE_SUFFIXES = IMAGE_SUFFIXES | PDF_SUFFIXES | ARCHIVE_SUFFIXES
# Kinds that do hold pages but that panelscan does not open: these are told, not passed over.
UNREAD_SUFFIXES = frozenset(
    ".cbr .rar .cb7 .7z .cbt .tar .jxl .heic .heif .djvu .xps .epub".split()
)

LONGEST_NAME = 1024
_LITTER = frozenset({"thumbs.db", "ehthumbs.db", "desktop.ini", "icon\r", "$recycle.bin", "@eadir"})
_DIGITS = re.compile(r"([0-9]+)")
_DRIVE = re.compile(r"^[A-Za-z]:")

NameKey = tuple[tuple[tuple[int, int, str], ...], ...]


def natural_key(name: str) -> NameKey:
    """Sort key that puts page 2 before page 10, folder by folder.

    Digits compare by value (by length, then as text, so that no number is too long),
    letters without regard to case; common practice, no source.

    Examples
    --------
    >>> sorted(["p10.png", "p2.png", "P1.png"], key=natural_key)
    ['P1.png', 'p2.png', 'p10.png']
    """
    return tuple(_part_key(part) for part in name.replace("\\", "/").split("/"))


def _part_key(part: str) -> tuple[tuple[int, int, str], ...]:
    stem, dot, suffix = part.rpartition(".")
    text = unicodedata.normalize("NFC", stem if dot else part).casefold()
    key = [_run_key(run) for run in _DIGITS.split(text) if run]
    # The ending last, so that "p1.png" comes before "p1b.png"; the exact text makes the
    # order the same on every machine.
    return (*key, (-1, 0, suffix.casefold()), (-1, 0, part))


def _run_key(run: str) -> tuple[int, int, str]:
    if not _DIGITS.fullmatch(run):
        return (1, 0, run)
    value = run.lstrip("0")
    return (0, len(value), value)


def is_litter(name: str) -> bool:
    """Whether any part of a path is something that a system leaves behind.

    Resource forks (``__MACOSX``, ``._page.png``), dotfiles, thumbnail caches, folder
    settings.

    Examples
    --------
    >>> is_litter("__MACOSX/._page1.png"), is_litter("ch1/page1.png")
    (True, False)
    """
    parts = [part for part in name.replace("\\", "/").split("/") if part not in ("", ".", "..")]
    return any(p.startswith(".") or p.startswith("__MACOSX") or p.lower() in _LITTER for p in parts)


def suffix_of(name: str) -> str:
    """Ending in small letters, with its dot; empty where there is none."""
    return PurePosixPath(name.replace("\\", "/")).suffix.lower()


def refused_name(name: str) -> str:
    """Why a member's name is refused; empty where it is fine.

    Nothing is ever unpacked to disk, so such names could do no harm here; but an archive
    that holds them was not made by a page exporter, and the names go into the library.
    PKWARE APPNOTE 4.4.17 asks for relative paths with forward slashes.

    Examples
    --------
    >>> refused_name("../../home/x.png")
    'its name points outside the archive'
    >>> refused_name("p1.png")
    ''
    """
    if not name.strip():
        return "it has no name"
    if len(name) > LONGEST_NAME:
        return f"its name has {len(name)} characters"
    if any(unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp") for letter in name):
        return "its name holds control characters"
    parts = name.replace("\\", "/").split("/")
    if name.startswith(("/", "\\")) or _DRIVE.match(name):
        return "its name is an absolute path"
    if ".." in parts:
        return "its name points outside the archive"
    return ""


def printable(name: str) -> str:
    r"""Name for messages: control and direction-changing characters shown as escapes, cut short.

    Examples
    --------
    >>> printable("page\x1b[2J.png")
    'page\\x1b[2J.png'
    """
    shown = "".join(
        letter
        if unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Zl", "Zp")
        else letter.encode("unicode_escape", "surrogatepass").decode("ascii")
        for letter in name
    )
    return shown if len(shown) <= 160 else f"{shown[:90]}…{shown[-60:]}"


def is_storable(name: str) -> bool:
    """Whether a path can be written as UTF-8, as the library's tables need."""
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return "\0" not in name
