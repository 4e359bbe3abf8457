"""The images of a TIFF: a walk over its directories, in plain Python, before any decoder.

TIFF revision 6.0 (Adobe, 1992), section 2; 64-bit offsets as in the BigTIFF design.
"""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass
from typing import BinaryIO

from panelscan.intake.limits import MOST_MEMBER_BYTES, MOST_MEMBERS

_SUBFILE, _WIDTH, _HEIGHT = 254, 256, 257
_MOST_TAGS = 4096
_BYTE, _SHORT, _LONG, _RATIONAL, _LONG8 = 1, 3, 4, 5, 16
_MOST_VALUES = 1 << 20
_STRIPS, _STRIP_SIZES, _TILES, _TILE_SIZES = 273, 279, 324, 325
# Size, depth, packing, colours, orientation, resolution, predictor, tiles, palette, alpha,
# JPEG tables; not the tags for names, dates and page numbers.
_SHOWN_TAGS = frozenset(
    (256, 257, 258, 259, 262, 266, 274, 277, 278, 282, 283, 284, 296, 317, 320, 322, 323, 338, 347)
)


@dataclass(frozen=True)
class TiffImage:
    """One image of a TIFF.

    Parameters
    ----------
    index : int
        Place of its directory in the file, from 0.
    width_px, height_px : int
        Size as stored, before any turning.
    is_page : bool
        False for a reduced-resolution copy or a transparency mask (TIFF 6.0, NewSubfileType
        bits 0 and 2).
    """

    index: int
    width_px: int
    height_px: int
    is_page: bool


@dataclass(frozen=True)
class _Layout:
    """Byte order and widths of a TIFF or BigTIFF."""

    order: str
    count: str
    entry_bytes: int
    offset: str


def tiff_images(stream: BinaryIO) -> tuple[TiffImage, ...]:
    """List a TIFF's images.

    Raises
    ------
    ValueError
        If the first directory cannot be read, or there are too many.
    """
    layout, place = _header(stream)
    images: list[TiffImage] = []
    seen: set[int] = set()
    while place and place not in seen:
        if len(images) >= MOST_MEMBERS:
            raise ValueError(f"it holds more than {MOST_MEMBERS} images")
        seen.add(place)
        try:
            image, place = _directory(stream, layout, place, len(images))
        except struct.error as error:
            if not images:
                raise ValueError("its first directory is cut off") from error
            break  # what came before is still there; the decoder judges each image
        images.append(image)
    return tuple(images)


def image_sha256(stream: BinaryIO, index: int) -> str:
    """Hash of one image's own data and of the tags that say how it is shown.

    It stays when other images are added to the file. Empty where the image cannot be read
    this way.

    Parameters
    ----------
    stream : binary file
        The whole TIFF.
    index : int
        Which directory, from 0.
    """
    try:
        layout, place = _header(stream)
        for _ in range(index):
            _, place = _directory(stream, layout, place, 0)
        if not place:
            return ""
        entries = _entries(stream, layout, place)
        digest = hashlib.sha256()
        for tag in sorted(_SHOWN_TAGS & entries.keys()):
            digest.update(f"{tag}:{entries[tag]}\0".encode())
        starts = entries.get(_STRIPS) or entries.get(_TILES) or ()
        sizes = entries.get(_STRIP_SIZES) or entries.get(_TILE_SIZES) or ()
        if not starts or len(starts) != len(sizes) or sum(sizes) > MOST_MEMBER_BYTES:
            return ""
        for start, size in zip(starts, sizes, strict=True):
            stream.seek(start)
            digest.update(stream.read(size))
        return digest.hexdigest()
    except (struct.error, OSError, ValueError, OverflowError, MemoryError):
        return ""


def _entries(stream: BinaryIO, layout: _Layout, place: int) -> dict[int, tuple[int, ...]]:
    """Values of a directory's whole-number tags (TIFF 6.0, section 2: inline where they fit)."""
    stream.seek(place)
    (count,) = _take(stream, layout.order + layout.count)
    if count > _MOST_TAGS:
        raise struct.error("too many tags")
    block = stream.read(count * layout.entry_bytes)
    wide = struct.calcsize(layout.offset)
    found: dict[int, tuple[int, ...]] = {}
    for start in range(0, count * layout.entry_bytes, layout.entry_bytes):
        tag, kind = struct.unpack_from(layout.order + "HH", block, start)
        (number,) = struct.unpack_from(layout.order + layout.offset, block, start + 4)
        form = {_BYTE: "B", _SHORT: "H", _LONG: "I", _RATIONAL: "Q", _LONG8: "Q"}.get(kind)
        if form is None or number > _MOST_VALUES:
            continue
        size = struct.calcsize(form) * number
        at = start + layout.entry_bytes - wide
        data = block[at : at + size]
        if size > wide:
            stream.seek(struct.unpack_from(layout.order + layout.offset, block, at)[0])
            data = stream.read(size)
        found[tag] = struct.unpack(f"{layout.order}{number}{form}", data)
    return found


def _take(stream: BinaryIO, form: str) -> tuple[int, ...]:
    return struct.unpack(form, stream.read(struct.calcsize(form)))


def _header(stream: BinaryIO) -> tuple[_Layout, int]:
    head = stream.read(4)
    order = {b"II": "<", b"MM": ">"}.get(head[:2], "")
    if not order or len(head) < 4:
        raise ValueError("it has no TIFF header")
    try:
        if struct.unpack(order + "H", head[2:4])[0] == 43:
            _, _, place = _take(stream, order + "HHQ")
            return _Layout(order, "Q", 20, "Q"), place
        return _Layout(order, "H", 12, "I"), _take(stream, order + "I")[0]
    except struct.error as error:
        raise ValueError("its header is cut off") from error


def _directory(stream: BinaryIO, layout: _Layout, place: int, index: int) -> tuple[TiffImage, int]:
    """Read one directory; returns its image and the place of the next (0 at the end)."""
    stream.seek(place)
    (count,) = _take(stream, layout.order + layout.count)
    if count > _MOST_TAGS:
        raise struct.error("too many tags")
    block = stream.read(count * layout.entry_bytes)
    tags: dict[int, int] = {}
    for start in range(0, count * layout.entry_bytes, layout.entry_bytes):
        tag, kind = struct.unpack_from(layout.order + "HH", block, start)
        if tag in (_SUBFILE, _WIDTH, _HEIGHT):
            tags[tag] = _value(block, start, kind, layout)
    try:
        (following,) = _take(stream, layout.order + layout.offset)
    except struct.error:
        following = 0
    image = TiffImage(
        index, tags.get(_WIDTH, 0), tags.get(_HEIGHT, 0), not tags.get(_SUBFILE, 0) & 0b101
    )
    return image, following


def _value(block: bytes, start: int, kind: int, layout: _Layout) -> int:
    form = {_SHORT: "H", _LONG: "I", _LONG8: "Q"}.get(kind)
    if form is None:
        return 0
    at = start + layout.entry_bytes - struct.calcsize(layout.offset)
    return int(struct.unpack_from(layout.order + form, block, at)[0])
