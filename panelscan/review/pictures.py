"""Pictures of pages for the browser: re-encoded here, small ones made once and kept.

The browser names a page by its id, never by a path; what is sent was decoded and encoded
again by us, so a hostile file cannot reach the browser.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
import threading
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely

from panelscan.corpus.store import Library
from panelscan.corpus.view import View, read_table
from panelscan.errors import InputError, NothingFound
from panelscan.layout.frame import frame_map
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage, PagePart

SMALL_HEIGHT_PX = 260
LARGE_SIDE_PX = 2600
QUALITY_SMALL, QUALITY_LARGE = 80, 88


@dataclass(frozen=True)
class SourceOfPage:
    """Where a page's pixels lie, its book, and its own frame in source pixels."""

    path: str
    index: int
    part: str
    book: str = ""
    frame: tuple[tuple[float, float], ...] = ()


class Sources:
    """Where the pixels of all pages lie; read once, and again for a page not known yet.

    Looking a page up settles no corrections, so that it stays fast while pages are mended.

    Parameters
    ----------
    library : Library
        The library.
    """

    def __init__(self, library: Library) -> None:
        self._library = library
        self._known: dict[str, dict[str, Any]] = {}

    def read(self) -> None:
        """Read all pages' whereabouts anew."""
        columns = ["page_id", "book", "source_path", "source_index", "part", "geometry"]

        def of(view: View) -> list[dict[str, Any]]:
            table = read_table(self._library.place, view, "pages", columns, None)
            rows: list[dict[str, Any]] = table.to_pylist()
            return rows

        rows = self._library.reading(("pages",), of, settled=False)
        self._known = {row["page_id"]: row for row in rows}

    def of(self, page_id: str) -> SourceOfPage:
        """Source of a page.

        Raises
        ------
        NothingFound
            If there is no such page.
        """
        if page_id not in self._known:
            self.read()
        if page_id not in self._known:
            raise NothingFound("There is no such page in this library.")
        row = self._known[page_id]
        return SourceOfPage(
            row["source_path"], row["source_index"], row["part"], row["book"],
            _ring(row["geometry"]),
        )


def _ring(polygon: bytes) -> tuple[tuple[float, float], ...]:
    ring = shapely.get_exterior_ring(shapely.from_wkb(polygon))
    return tuple((x, y) for x, y in shapely.get_coordinates(ring)[:-1].tolist())


def load_pixels(source: SourceOfPage) -> PageImage:
    """Pixels of a page, as the detector saw them; the last few are kept."""
    return _load(source.path, source.index, source.part)


@lru_cache(maxsize=3)
def _load(path: str, index: int, part: str) -> PageImage:
    """Pixels of a page.

    Raises
    ------
    InputError
        If the file is no longer there or cannot be read.
    """
    from panelscan.intake.loading import load_page
    from panelscan.intake.options import IntakeOptions, SpreadMode
    from panelscan.intake.sources import list_pages

    if not Path(path).exists():
        raise InputError(
            f"{path}: the picture is no longer there.",
            "Bring it back, or scan the pages where they lie now.",
        )
    pages = list_pages([path]).pages
    if index >= len(pages):
        raise InputError(f"{path}: it has no image {index + 1} any more.")
    halved = part in (PagePart.LEFT, PagePart.RIGHT)
    mode = SpreadMode.SPLIT if halved else SpreadMode.KEEP
    loaded = load_page(pages[index], IntakeOptions(spreads=mode))
    wanted = [each for each in loaded if not halved or each.ref.part == part]
    return (wanted or list(loaded))[0].image


def large_jpeg(image: PageImage) -> bytes:
    """The page for looking at, at most `LARGE_SIDE_PX` on its long side."""
    return _jpeg(image, LARGE_SIDE_PX, QUALITY_LARGE)


def small_folder_of(library: Library) -> Path:
    """Small pictures lie in the person's cache, so a shared or read-only library stays clean."""
    return cache_of(library, "small")


def cache_of(library: Library, kind: str) -> Path:
    """Folder in the person's own cache for things of a library that can be made anew."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or ""
    root = Path(base) if base else Path.home() / ".cache"
    name = hashlib.sha256(library.place.name.encode()).hexdigest()[:16]
    return root / "panelscan" / kind / name


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
    return kept_small(folder, page_id, source) or make_small(folder, page_id, source)


def kept_small(folder: Path, page_id: str, source: SourceOfPage) -> bytes | None:
    """The small picture of a page if it was made before."""
    kept = folder / _small_name(page_id, source)
    return kept.read_bytes() if kept.exists() else None


def make_small(folder: Path, page_id: str, source: SourceOfPage) -> bytes:
    """Make the small picture of a page and keep it."""
    image = _load.__wrapped__(source.path, source.index, source.part)
    data = _encoded(_along_frame(image, source), QUALITY_SMALL)
    _keep(folder, _small_name(page_id, source), data)
    return data


def _small_name(page_id: str, source: SourceOfPage) -> str:
    spec = f"{page_id}:{SMALL_HEIGHT_PX}:{source.frame}"
    return hashlib.sha256(spec.encode()).hexdigest()[:32] + ".jpg"


def quietly() -> None:
    """Let the calling thread stand back behind the browser, which shares the machine with it."""
    if sys.platform == "linux":  # elsewhere a thread has no such number of its own
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 10)


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


def _along_frame(image: PageImage, source: SourceOfPage) -> np.ndarray[Any, Any]:
    """The page itself, straight and small, so that its grid fits over it."""
    if len(source.frame) != 4:
        return _reduced(image.pixels, SMALL_HEIGHT_PX)
    frame = frame_map(Outline.of(source.frame))
    height = SMALL_HEIGHT_PX
    width = max(1, min(4 * height, round(height * frame.width / frame.height)))
    shares = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    corners = frame.to_source(shares * (frame.width, frame.height))
    places = (corners - image.offset_px) / image.reduction
    # Shrunk first, or the few pixels that are taken would be a random choice of many.
    shrunk = _reduced(image.pixels, round(1.5 * SMALL_HEIGHT_PX))
    places = places * (shrunk.shape[1] / image.pixels.shape[1])
    target = shares * (width, height)
    turn = cv2.getPerspectiveTransform(
        (places - 0.5).astype(np.float32), (target - 0.5).astype(np.float32)
    )
    white = (255, 255, 255)
    return np.asarray(cv2.warpPerspective(shrunk, turn, (width, height), borderValue=white))


def _jpeg(image: PageImage, side_px: int, quality: int) -> bytes:
    return _encoded(_reduced(image.pixels, side_px), quality)


def _reduced(pixels: np.ndarray[Any, Any], side_px: int) -> np.ndarray[Any, Any]:
    scale = min(1.0, side_px / max(pixels.shape[:2]))
    if scale < 1.0:
        size = (max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale)))
        return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))
    return pixels


def _encoded(pixels: np.ndarray[Any, Any], quality: int) -> bytes:
    if pixels.ndim == 3:
        pixels = cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise InputError("The page's picture could not be encoded.")
    return bytes(data)
