"""Pictures of pages for the browser: re-encoded here, small ones made once and kept.

The browser names a page by its id, never by a path; what is sent was decoded and encoded
again by us, so a hostile file cannot reach the browser.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from panelscan.corpus.store import Library
from panelscan.errors import InputError, NothingFound
from panelscan.model.page import PageImage, PagePart

SMALL_HEIGHT_PX = 260
LARGE_SIDE_PX = 2600
QUALITY_SMALL, QUALITY_LARGE = 80, 88


@dataclass(frozen=True)
class SourceOfPage:
    """Where a page's pixels lie."""

    path: str
    index: int
    part: str


def source_of(library: Library, page_id: str) -> SourceOfPage:
    """Source of a page of the library.

    Raises
    ------
    NothingFound
        If there is no such page.
    """
    import pyarrow.compute as pc

    columns = ["source_path", "source_index", "part"]
    rows = library.pages(columns=columns, where=pc.field("page_id") == page_id).to_pylist()
    if not rows:
        raise NothingFound("There is no such page in this library.")
    return SourceOfPage(rows[0]["source_path"], rows[0]["source_index"], rows[0]["part"])


@lru_cache(maxsize=6)
def load_pixels(source: SourceOfPage) -> PageImage:
    """Pixels of a page, as the detector saw them; the last few are kept.

    Raises
    ------
    InputError
        If the file is no longer there or cannot be read.
    """
    from panelscan.intake.loading import load_page
    from panelscan.intake.options import IntakeOptions, SpreadMode
    from panelscan.intake.sources import list_pages

    if not Path(source.path).exists():
        raise InputError(
            f"{source.path}: the picture is no longer there.",
            "Bring it back, or scan the pages where they lie now.",
        )
    pages = list_pages([source.path]).pages
    if source.index >= len(pages):
        raise InputError(f"{source.path}: it has no image {source.index + 1} any more.")
    halved = source.part in (PagePart.LEFT, PagePart.RIGHT)
    mode = SpreadMode.SPLIT if halved else SpreadMode.KEEP
    loaded = load_page(pages[source.index], IntakeOptions(spreads=mode))
    wanted = [each for each in loaded if not halved or each.ref.part == source.part]
    return (wanted or list(loaded))[0].image


def large_jpeg(source: SourceOfPage) -> bytes:
    """The page for looking at, at most `LARGE_SIDE_PX` on its long side."""
    return _jpeg(load_pixels(source), LARGE_SIDE_PX, QUALITY_LARGE)


def small_folder_of(library: Library) -> Path:
    """Small pictures lie in the person's cache, so a shared or read-only library stays clean."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or ""
    root = Path(base) if base else Path.home() / ".cache"
    name = hashlib.sha256(str(library).encode()).hexdigest()[:16]
    return root / "panelscan" / "small" / name


def small_jpeg(folder: Path, page_id: str, source: SourceOfPage) -> bytes:
    """The small picture of a page, from the folder where it was kept, else made and kept.

    Parameters
    ----------
    folder : Path
        Where small pictures are kept; anything in it can be made anew.
    page_id : str
        Id of a page that the library holds.
    source : SourceOfPage
        Where its pixels lie.
    """
    name = hashlib.sha256(f"{page_id}:{SMALL_HEIGHT_PX}".encode()).hexdigest()[:32] + ".jpg"
    kept = folder / name
    if kept.exists():
        return kept.read_bytes()
    data = _jpeg(load_pixels.__wrapped__(source), SMALL_HEIGHT_PX, QUALITY_SMALL)
    _keep(folder, name, data)
    return data


def _keep(folder: Path, name: str, data: bytes) -> None:
    """Save aside and rename, so that nobody reads half a picture; a full disk is no error."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=".", dir=folder)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(aside).replace(folder / name)
    except OSError:
        return


def _jpeg(image: PageImage, side_px: int, quality: int) -> bytes:
    pixels: np.ndarray[Any, Any] = image.pixels
    scale = min(1.0, side_px / max(pixels.shape[:2]))
    if scale < 1.0:
        size = (max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale)))
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    if pixels.ndim == 3:
        pixels = cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise InputError("The page's picture could not be encoded.")
    return bytes(data)
