"""The images of a TIFF: a walk over its directories, in plain Python, before any decoder.

TIFF revision 6.0 (Adobe, 1992), section 2; 64-bit offsets as in the BigTIFF design.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

from panelscan.intake.limits import MOST_MEMBERS

_SUBFILE, _WIDTH, _HEIGHT = 254, 256, 257
_MOST_TAGS = 4096
_SHORT, _LONG, _LONG8 = 3, 4, 16


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
