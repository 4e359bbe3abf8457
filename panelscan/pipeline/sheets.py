"""Photographed thumbnail sheets: cut into their cells before a scan, linked to grids after it.

Each cell becomes a picture of its own in the library's ``sheets`` folder, so that it is
scanned, shown and corrected like any page; the photograph itself is not taken for a page.
Only files named one by one are looked at: a folder of finished pages is not searched.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from panelscan.corpus.labels import Label, add_labels
from panelscan.corpus.store import Library
from panelscan.errors import InputError, NothingFound, PanelscanError
from panelscan.intake.loading import load_whole
from panelscan.intake.options import IntakeOptions
from panelscan.intake.sources import SourcePage, list_pages
from panelscan.model.sheet_record import FOLDER_NAME, SheetEntry, read_record, record_path

MOST_LOOKED_AT = 40
AGENT = "panelscan"


@dataclass(frozen=True)
class UnpackedSheet:
    """A sheet that was recognized and cut into cells.

    Parameters
    ----------
    name : str
        The sheet's id as printed.
    source : str
        The photograph.
    cells : tuple of Path
        A picture for each thumbnail, in order.
    entries : tuple of SheetEntry
        What the record says of each; empty where there is no record.
    notes : tuple of str
        What is doubtful.
    """

    name: str
    source: str
    cells: tuple[Path, ...]
    entries: tuple[SheetEntry, ...] = ()
    notes: tuple[str, ...] = ()


def unpack_sheets(
    paths: Sequence[str | os.PathLike[str]], library_dir: str | os.PathLike[str]
) -> tuple[tuple[str, ...], tuple[UnpackedSheet, ...]]:
    """Find thumbnail sheets among the files named, and cut them into cells.

    Parameters
    ----------
    paths : sequence of path
        As given to a scan.
    library_dir : path
        Folder of the library.

    Returns
    -------
    paths : tuple of str
        The same, each sheet replaced by the folder of its cells.
    sheets : tuple of UnpackedSheet
        The sheets found.

    Raises
    ------
    LibraryError
        If the cells cannot be written.
    """
    library = Path(library_dir)
    kept: list[str] = []
    sheets: list[UnpackedSheet] = []
    for path in paths:
        found = _sheets_in(os.fspath(path), library) if len(paths) <= MOST_LOOKED_AT else ()
        sheets += found
        kept += [str(s.cells[0].parent) for s in found] or [os.fspath(path)]
    return tuple(dict.fromkeys(kept)), tuple(sheets)


def _sheets_in(path: str, library: Path) -> tuple[UnpackedSheet, ...]:
    """Sheets in one file, if every page of it is one; none in a folder or an ordinary file."""
    if not Path(path).is_file():
        return ()
    try:
        pages = list_pages([path]).pages
        if not 0 < len(pages) <= MOST_LOOKED_AT:
            return ()
        return tuple(_unpacked(page, library) for page in pages)
    except (PanelscanError, _NoSheet):
        return ()


class _NoSheet(Exception):
    """The page is no thumbnail sheet."""


def _unpacked(page: SourcePage, library: Path) -> UnpackedSheet:
    """Read a sheet and write its cells; the same photograph gives the same files."""
    from panelscan.vision.sheet import looks_like_sheet, read_sheet

    loaded = load_whole(page, IntakeOptions())
    pixels = loaded.image.pixels
    reading = read_sheet(pixels) if looks_like_sheet(pixels) else None
    if reading is None:
        raise _NoSheet
    folder = library / FOLDER_NAME / f"thumbnails-{reading.plan.name}-{_short(pixels)}"
    notes = tuple(d.text for d in reading.doubts)
    entries: tuple[SheetEntry, ...] = ()
    try:
        entries = read_record(record_path(library, reading.plan.name)).entries
    except (NothingFound, InputError) as error:
        notes = (*notes, str(error))
    cells = []
    for cell in reading.cells:
        ppi = cell.image.resolution.mean_ppi if cell.image.resolution else None
        cells.append(_written(folder, cell.number, cell.image.pixels, ppi))
    return UnpackedSheet(reading.plan.name, page.label, tuple(cells), entries, notes)


def _short(pixels: np.ndarray) -> str:
    return hashlib.sha256(np.ascontiguousarray(pixels).tobytes()).hexdigest()[:8]


def _written(folder: Path, number: int, pixels: np.ndarray, ppi: float | None) -> Path:
    """A cell as PNG with its resolution, written whole or not at all."""
    from PIL import Image

    from panelscan.errors import LibraryError

    out = folder / f"thumbnail-{number + 1:02d}.png"
    aside = folder / f".{out.name}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        dpi = {} if ppi is None else {"dpi": (ppi, ppi)}
        Image.fromarray(pixels).save(aside, format="PNG", **dpi)
        aside.replace(out)
    except OSError as error:
        raise LibraryError(
            f"{out}: cannot be written there ({error.strerror}).",
            "Make room, or choose a library that you may write to.",
        ) from error
    return out


def link_sheets(library_dir: str | os.PathLike[str], sheets: Sequence[UnpackedSheet]) -> int:
    """Label the cells' pages after the scan: stage, sheet, and the grid each one belongs to.

    Parameters
    ----------
    library_dir : path
        Folder of the library.
    sheets : sequence of UnpackedSheet
        From `unpack_sheets`.

    Returns
    -------
    int
        How many pages were labelled.
    """
    if not sheets:
        return 0
    library = Library.open(library_dir)
    rows = library.pages(columns=["page_id", "source_path"]).to_pylist()
    ids = {Path(row["source_path"]).as_posix(): row["page_id"] for row in rows}
    labels: list[Label] = []
    pages = 0
    for sheet in sheets:
        for number, cell in enumerate(sheet.cells):
            page_id = ids.get(cell.as_posix())
            if page_id is None:
                continue
            pages += 1
            said = {"stage": "rough", "sheet": f"{sheet.name}, thumbnail {number + 1}"}
            if number < len(sheet.entries):
                entry = sheet.entries[number]
                said |= {"grid of": entry.link} if entry.link else {}
                said |= {"thumbnail": entry.caption} if entry.caption else {}
            labels += [Label(name, value, page_id=page_id) for name, value in said.items()]
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    add_labels(library.place, labels, AGENT, at)
    return pages
