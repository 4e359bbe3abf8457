"""From the paths a person gives to the pages in them, in reading order of the files."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from panelscan.errors import PanelscanError
from panelscan.intake import files, limits
from panelscan.intake.archive import list_members
from panelscan.intake.integrity import FileKind, kind_of
from panelscan.intake.names import (
    PAGE_SUFFIXES,
    UNREAD_SUFFIXES,
    NameKey,
    is_storable,
    natural_key,
    printable,
    suffix_of,
)
from panelscan.intake.pdf import pages_and_direction
from panelscan.intake.tiff import tiff_images
from panelscan.model.page import ReadingDirection
from panelscan.model.record import PageFailure

_EXPORT = "Export the pages as PNG, TIFF, JPEG or PDF, or pack them as ZIP."


class SourceKind(StrEnum):
    """What kind of file a page comes out of."""

    IMAGE = "image"
    TIFF = "tiff"
    PDF = "pdf"
    ARCHIVE = "archive"


@dataclass(frozen=True, slots=True)
class SourcePage:
    """A page that was listed but not read yet; small, and sendable to another process.

    Parameters
    ----------
    source_path : str
        File as the person gave it or found below a folder they gave, ``/`` between parts.
    index : int
        Image inside a PDF, TIFF or archive, from 0.
    member : str
        Name inside an archive, else empty.
    book : str
        Folder name, or name of the PDF, archive or multi-page TIFF without its ending.
    kind : SourceKind
        What it comes out of.
    said_direction : ReadingDirection or None
        Which way its file says that the book is read; None where it does not say.

    Examples
    --------
    >>> SourcePage("ink/p2.png", book="ink").label
    'ink/p2.png'
    >>> SourcePage("ink.pdf", 3, book="ink", kind=SourceKind.PDF).label
    'ink.pdf: page 4'
    """

    source_path: str
    index: int = 0
    member: str = ""
    book: str = ""
    kind: SourceKind = SourceKind.IMAGE
    said_direction: ReadingDirection | None = None

    @property
    def label(self) -> str:
        """How messages name the page."""
        inside = self.kind in (SourceKind.PDF, SourceKind.TIFF)
        place = printable(self.member) or (f"page {self.index + 1}" if inside else "")
        return f"{printable(self.source_path)}{': ' + place if place else ''}"


@dataclass(frozen=True)
class Listing:
    """What was found at the paths given.

    Parameters
    ----------
    pages : tuple of SourcePage
        In order of the paths given, below each in natural order.
    failures : tuple of PageFailure
        Files that could not be opened or were refused.
    passed_over : tuple of (str, int)
        Endings of files that are no pages, and how many of each were passed over.
    """

    pages: tuple[SourcePage, ...] = ()
    failures: tuple[PageFailure, ...] = ()
    passed_over: tuple[tuple[str, int], ...] = ()


Probe = Callable[[Sequence[str]], Iterable[Listing]]


def list_pages(
    paths: Sequence[str | os.PathLike[str]], probe: Probe | None = None, book: str = ""
) -> Listing:
    """List the pages at the paths given.

    Parameters
    ----------
    paths : sequence of path
        Files, folders (searched to the bottom) and patterns such as ``scans/*.png``.
    probe : callable or None
        Opens files and lists the pages in each; given where that is to happen in other
        processes. By default `probe_file` in this one.
    book : str
        Name of the book, where the person gave one; otherwise taken from folders and files.

    Returns
    -------
    Listing
        A file that cannot be opened is a failure; it never stops the rest.
    """
    found, failures, passed_over = _find_files([files.as_given(path) for path in paths])
    listings = list((probe or _probe_here)(found))
    pages = [page for listing in listings for page in listing.pages]
    failures += [failure for listing in listings for failure in listing.failures]
    named = [replace(page, book=book) for page in pages] if book else _with_books(pages)
    return Listing(tuple(named), tuple(failures), tuple(sorted(passed_over.items())))


def _probe_here(paths: Sequence[str]) -> Iterable[Listing]:
    return (probe_file(path) for path in paths)


def _find_files(paths: Sequence[str]) -> tuple[list[str], list[PageFailure], Counter[str]]:
    """Candidate files in order, each once; what was asked for but is missing."""
    found: list[str] = []
    failures: list[PageFailure] = []
    passed_over: Counter[str] = Counter()
    for given in (each for path in paths for each in files.expand(path)):
        try:
            folder = files.is_folder(given)
        except PanelscanError as error:
            failures.append(PageFailure(printable(given), error.message, error.remedy))
            continue
        if not folder:
            found.append(given)
            continue
        inside = sorted(files.walk(given), key=_folder_key)
        pages = [path for path in inside if suffix_of(path) in PAGE_SUFFIXES | UNREAD_SUFFIXES]
        passed_over.update(suffix_of(path) or "(none)" for path in set(inside) - set(pages))
        found += pages
        if not pages:
            failures.append(
                PageFailure(f"{printable(given)}", "no pages were found in this folder", _EXPORT)
            )
    once: dict[str, str] = {}
    for path in found:
        once.setdefault(files.identity(path), path)
    return list(once.values()), failures, passed_over


def _folder_key(path: str) -> tuple[tuple[tuple[int, NameKey], ...], str]:
    """Natural order in which a folder's own files come before its subfolders."""
    *folders, name = path.split("/")
    return (*((1, natural_key(part)) for part in folders), (0, natural_key(name))), path


def probe_file(path: str) -> Listing:
    """Open one file and list the pages in it; what it is, is judged from its bytes.

    Parameters
    ----------
    path : str
        As given, with ``/`` between parts.

    Returns
    -------
    Listing
        Its pages (without a book's name yet) and what was refused.
    """
    shown = printable(path)
    if not is_storable(path):
        return _failed(shown, "its name cannot be written as text", "Rename the file.")
    try:
        return _probe(path)
    except PanelscanError as error:
        return _failed(shown, error.message.removeprefix(f"{shown}: "), error.remedy)


def _failed(label: str, reason: str, remedy: str) -> Listing:
    return Listing(failures=(PageFailure(label, reason.rstrip("."), remedy),))


def _probe(path: str) -> Listing:
    head = files.head_of(path)
    shown = printable(path)
    if not head:
        return _failed(shown, "the file is empty", "Export or copy it again.")
    kind = kind_of(head)
    if kind is FileKind.PDF:
        count, said = pages_and_direction(path)
        return Listing(
            tuple(
                SourcePage(path, i, kind=SourceKind.PDF, said_direction=said) for i in range(count)
            )
        )
    if kind is FileKind.ZIP:
        members, failures = list_members(path)
        if not members and not failures:
            return _failed(shown, "the archive holds no page images", _EXPORT)
        pages = (
            SourcePage(path, i, member, kind=SourceKind.ARCHIVE) for i, member in enumerate(members)
        )
        return Listing(tuple(pages), failures)
    if kind is FileKind.TIFF:
        return _probe_tiff(path)
    if kind is FileKind.UNREAD or suffix_of(path) in UNREAD_SUFFIXES:
        return _failed(shown, "this kind of file is not opened here", _EXPORT)
    if kind is FileKind.UNKNOWN:
        return _failed(shown, "this is no picture, PDF or archive that is read here", _EXPORT)
    return Listing((SourcePage(path),))


def _probe_tiff(path: str) -> Listing:
    with files.open_binary(path) as stream:
        try:
            images = tiff_images(stream)
        except (ValueError, OSError) as error:
            return _failed(printable(path), str(error), "Export or copy it again.")
    pages = [image for image in images if image.is_page] or list(images[:1])
    if not pages:
        return _failed(printable(path), "the TIFF holds no image", "Export or copy it again.")
    if len(pages) == 1:
        return Listing((SourcePage(path, pages[0].index),))
    return Listing(tuple(SourcePage(path, page.index, kind=SourceKind.TIFF) for page in pages))


def _with_books(pages: Sequence[SourcePage]) -> list[SourcePage]:
    """Name each page's book; books that would share a name get more of their path."""
    homes = {page: _home(page) for page in pages}
    names: dict[str, str] = {}
    depth = 1
    waiting = set(homes.values())
    while waiting:
        tried = {home: _tail(home, depth) for home in waiting}
        uses = Counter([*tried.values(), *names.values()])
        done = {h for h in waiting if uses[tried[h]] == 1 or depth > limits.MOST_MEMBERS}
        done |= {h for h in waiting if _tail(h, depth) == _tail(h, depth + 1) and depth > 1}
        names.update({home: tried[home] for home in done})
        waiting -= done
        depth += 1
    return [replace(page, book=names[homes[page]]) for page in pages]


def _home(page: SourcePage) -> str:
    """What the book is: the folder of a plain image, else the file itself."""
    if files.is_address(page.source_path):
        place = page.source_path.split("://", 1)[1]
        return place if page.kind is not SourceKind.IMAGE else place.rpartition("/")[0]
    path = Path(page.source_path)
    if page.kind is SourceKind.IMAGE:
        return path.absolute().parent.as_posix() + "/"
    return path.absolute().as_posix()


def _tail(home: str, depth: int) -> str:
    """Last parts of a home's path; at depth 1 a file's name goes without its ending."""
    parts = [part for part in home.split("/") if part]
    if depth == 1 and parts and not home.endswith("/"):
        return Path(parts[-1]).stem
    return "/".join(parts[-max(1, depth - (not home.endswith("/"))) :]) or "pages"
