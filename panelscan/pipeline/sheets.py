"""Photographed thumbnail sheets: known by their marks, cut into cells, linked to their grids.

A worker that reads a picture looks for the marks first, whether the picture was named by
itself or lay in a folder or book among pages. Each cell becomes a picture of its own in the
library's ``sheets`` folder, so that it is scanned, shown and corrected like any page; the
photograph itself is not taken for a page.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from panelscan.errors import InputError, NothingFound, UsageError
from panelscan.intake.files import is_address
from panelscan.intake.loading import load_whole
from panelscan.intake.options import IntakeOptions
from panelscan.intake.sources import SourcePage
from panelscan.model.page import PageImage
from panelscan.model.sheet_record import FOLDER_NAME, SheetEntry, read_record, record_path

AGENT = "panelscan"
LOOK_PX = 700
"""Least long side of the copy on which the marks of a sheet are looked for first."""


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


def is_sheet(image: PageImage) -> bool:
    """Whether a picture shows a thumbnail sheet whose code can be read.

    Parameters
    ----------
    image : PageImage
        The picture.
    """
    from panelscan.vision.sheet import looks_like_sheet, read_sheet
    from panelscan.vision.shrinking import halved_page

    quick = halved_page(image, LOOK_PX)[0]
    return looks_like_sheet(quick) and read_sheet(image.pixels) is not None


def unpack_sheet(page: SourcePage, library_dir: str | os.PathLike[str]) -> UnpackedSheet:
    """Cut a thumbnail sheet into its cells; the same photograph gives the same files.

    Parameters
    ----------
    page : SourcePage
        The photograph or scan.
    library_dir : path
        Folder of the library.

    Raises
    ------
    InputError
        If the picture can no longer be read, or shows no thumbnail sheet.
    UsageError
        If the library lies at an address, where no pictures are kept.
    LibraryError
        If the cells cannot be written.
    """
    from panelscan.vision.sheet import read_sheet

    if is_address(os.fspath(library_dir)):
        raise UsageError(
            "A thumbnail sheet is cut into pictures beside the library.",
            "Scan it into a library in a folder.",
        )
    library = Path(library_dir)
    pixels = load_whole(page, IntakeOptions()).image.pixels
    reading = read_sheet(pixels)
    if reading is None:
        raise InputError(f"{page.label}: this is no thumbnail sheet.", "Photograph it again.")
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
        From `unpack_sheet`.

    Returns
    -------
    int
        How many pages were labelled.
    """
    # Workers ask this module only whether a picture is a sheet: they need no tables.
    from panelscan.corpus.labels import Label, add_labels
    from panelscan.corpus.store import Library

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
