"""Pages inside a ZIP or CBZ, read member by member into memory; nothing is unpacked to disk.

PKWARE APPNOTE 6.3.x: 4.3.16 end of central directory, 4.4.4 flag bit 0 (encrypted), 4.4.5
compression methods.
"""

from __future__ import annotations

import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager

from panelscan.errors import InputError
from panelscan.intake import limits
from panelscan.intake.files import open_binary
from panelscan.intake.names import (
    ARCHIVE_SUFFIXES,
    IMAGE_SUFFIXES,
    PDF_SUFFIXES,
    UNREAD_SUFFIXES,
    is_litter,
    natural_key,
    printable,
    refused_name,
    suffix_of,
)
from panelscan.model.record import PageFailure

_ENCRYPTED = 0x1
# Only these two: others inflate without a bound (40 bytes of bzip2 can hold 45 MB).
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_AGAIN = "Make the archive again with an ordinary ZIP program, or give the folder of images."
_BROKEN = (
    zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError, OSError,
    EOFError, ValueError, struct.error, zlib.error, UnicodeError, KeyError, OverflowError,
    MemoryError,
)  # fmt: skip


@contextmanager
def _opened(path: str) -> Iterator[zipfile.ZipFile]:
    """Open an archive after a look at its directory's size."""
    shown = printable(path)
    with open_binary(path) as stream:
        if fault := _directory_fault(stream):
            raise InputError(f"{shown}: {fault}.", _AGAIN)
        try:
            archive = zipfile.ZipFile(stream)
        except _BROKEN as error:
            raise InputError(f"{shown}: the archive is damaged ({error}).", _AGAIN) from error
        with archive:
            yield archive


def _directory_fault(stream: object) -> str:
    """Look at the end record before anything is parsed (APPNOTE 4.3.16)."""
    read, seek, tell = stream.read, stream.seek, stream.tell  # type: ignore[attr-defined]
    seek(0, 2)
    size = tell()
    seek(max(0, size - 65_557))
    tail = read(65_557)
    seek(0)
    place = tail.rfind(b"PK\x05\x06")
    if place < 0 or place + 22 > len(tail):
        return "the archive's directory is missing, so it was cut off"
    entries, directory_bytes = struct.unpack("<HI", tail[place + 10 : place + 16])
    if entries > limits.MOST_MEMBERS:
        return f"the archive holds more than {limits.MOST_MEMBERS} members"
    if limits.MOST_DIRECTORY_BYTES < directory_bytes < 0xFFFFFFFF:
        return "the archive's directory is unreasonably large"
    return ""


def list_members(path: str) -> tuple[tuple[str, ...], tuple[PageFailure, ...]]:
    """Names of the page images in an archive, in natural order, and what was refused.

    Raises
    ------
    InputError
        If the archive as a whole cannot be read.
    """
    with _opened(path) as archive:
        members = archive.infolist()
    if len(members) > limits.MOST_MEMBERS:
        raise InputError(
            f"{printable(path)}: the archive holds more than {limits.MOST_MEMBERS} members.", _AGAIN
        )
    pages: list[str] = []
    failures: list[PageFailure] = []
    for info in members:
        name = info.orig_filename
        # Not is_dir(): it fails on an empty name.
        if name.endswith(("/", "\\")) or is_litter(name):
            continue
        fault = _member_fault(info) or ("two members have this name" if name in pages else "")
        if fault:
            failures.append(_refusal(path, name, fault))
        elif suffix_of(name) in IMAGE_SUFFIXES:
            pages.append(name)
    return tuple(sorted(pages, key=natural_key)), tuple(failures)


def _refusal(path: str, name: str, fault: str) -> PageFailure:
    shown = f"{printable(path)}: {printable(name) or '(no name)'}"
    return PageFailure(shown, fault, _AGAIN)


def _member_fault(info: zipfile.ZipInfo) -> str:
    """Why a member is refused; empty where it is a page or plainly something else."""
    suffix = suffix_of(info.orig_filename)
    if fault := refused_name(info.orig_filename):
        return fault
    if suffix in ARCHIVE_SUFFIXES | PDF_SUFFIXES | UNREAD_SUFFIXES:
        return "an archive or PDF inside an archive is not opened; put it beside"
    if suffix not in IMAGE_SUFFIXES:
        return ""
    if info.flag_bits & _ENCRYPTED:
        return "it is encrypted; take the password off"
    if info.compress_type not in _METHODS:
        return "it is packed in an unusual way (only stored and Deflate are read)"
    if info.file_size == 0:
        return "it is empty"
    if info.file_size > limits.MOST_MEMBER_BYTES:
        return "it is larger than 1 GiB when unpacked"
    ratio = info.file_size / max(1, info.compress_size)
    if info.file_size > limits.RATIO_FREE_BYTES and ratio > limits.MOST_RATIO:
        return f"it would grow {ratio:.0f} times when unpacked, as only a trap does"
    return ""


def read_member(path: str, member: str) -> bytes:
    """Bytes of one member, never more than its directory entry promises.

    Raises
    ------
    InputError
        If the member is missing, refused, damaged or longer than promised.
    """
    shown = f"{printable(path)}: {printable(member)}"
    with _opened(path) as archive:
        found = [info for info in archive.infolist() if info.orig_filename == member]
        if not found:
            raise InputError(f"{shown}: the archive has no such page.", "Look for its name.")
        if fault := _member_fault(found[0]):
            raise InputError(f"{shown}: {fault}.", _AGAIN)
        try:
            with archive.open(found[0]) as stream:
                data = stream.read(found[0].file_size + 1)
        except _BROKEN as error:
            raise InputError(f"{shown}: the page is damaged ({error}).", _AGAIN) from error
    if len(data) != found[0].file_size:
        raise InputError(f"{shown}: its length is not what the archive says.", _AGAIN)
    return data
