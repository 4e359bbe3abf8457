"""What a file really is, and whether it is whole, judged from its bytes before decoding.

Decoders are kind where they should not be: a JPEG that was cut off comes back filled with
gray, and a PNG of 60 bytes that promises a chunk of 4 GB makes a decoder take 4 GB.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from enum import StrEnum

from panelscan.intake.limits import MOST_DEFLATE_RATIO, MOST_PIXELS, MOST_SIDE_PX


class FileKind(StrEnum):
    """What a file is, whatever its name says."""

    PNG = "PNG"
    JPEG = "JPEG"
    TIFF = "TIFF"
    WEBP = "WebP"
    BMP = "BMP"
    GIF = "GIF"
    JPEG2000 = "JPEG 2000"
    AVIF = "AVIF"
    PDF = "PDF"
    ZIP = "ZIP"
    UNREAD = "unread"
    UNKNOWN = "unknown"


_MAGIC = (
    (b"\x89PNG\r\n\x1a\n", FileKind.PNG),
    (b"\xff\xd8\xff", FileKind.JPEG),
    (b"II*\0", FileKind.TIFF),
    (b"MM\0*", FileKind.TIFF),
    (b"II+\0", FileKind.TIFF),
    (b"MM\0+", FileKind.TIFF),
    (b"BM", FileKind.BMP),
    (b"GIF87a", FileKind.GIF),
    (b"GIF89a", FileKind.GIF),
    (b"\0\0\0\x0cjP  \r\n\x87\n", FileKind.JPEG2000),
    (b"\xff\x4f\xff\x51", FileKind.JPEG2000),
    (b"PK\x03\x04", FileKind.ZIP),
    (b"PK\x05\x06", FileKind.ZIP),
    (b"Rar!\x1a\x07", FileKind.UNREAD),
    (b"7z\xbc\xaf\x27\x1c", FileKind.UNREAD),
    (b"\xff\x0a", FileKind.UNREAD),
    (b"\0\0\0\x0cJXL ", FileKind.UNREAD),
)
PNG_SIGNATURE = _MAGIC[0][0]


def kind_of(head: bytes) -> FileKind:
    """Kind of a file from its first 1024 bytes.

    Examples
    --------
    >>> kind_of(bytes.fromhex("ffd8ffe0")).value
    'JPEG'
    """
    for magic, kind in _MAGIC:
        if head.startswith(magic):
            return kind
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return FileKind.WEBP
    if head[4:8] == b"ftyp":
        return FileKind.AVIF if head[8:12] in (b"avif", b"avis") else FileKind.UNREAD
    # ISO 32000-2, 7.5.2 wants "%PDF-" first; its Annex H note lets readers accept it
    # within the first 1024 bytes (clause number from memory).
    return FileKind.PDF if b"%PDF-" in head[:1024] else FileKind.UNKNOWN


@dataclass(frozen=True)
class Soundness:
    """Whether a file may be decoded.

    Parameters
    ----------
    fault : str
        Why it must not be; empty where it may.
    doubtful : bool
        Whether only the strict decoder should be trusted with it.
    notes : tuple of str
        What was found odd.
    """

    fault: str = ""
    doubtful: bool = False
    notes: tuple[str, ...] = ()


def check(data: bytes, kind: FileKind) -> Soundness:
    """Check a PNG's or JPEG's structure; other kinds pass and are left to their decoder."""
    if kind is FileKind.PNG:
        return check_png(data)
    if kind is FileKind.JPEG:
        return check_jpeg(data)
    return Soundness()


def pixel_fault(width: int, height: int) -> str:
    """Why an image of this size is refused; empty where it is not.

    Examples
    --------
    >>> pixel_fault(2480, 3508)
    ''
    """
    if width < 1 or height < 1:
        return f"its header gives a size of {width} x {height} pixels"
    if width * height > MOST_PIXELS or max(width, height) > MOST_SIDE_PX:
        return (
            f"it has {width} x {height} pixels, more than the limit of "
            f"{MOST_PIXELS // 1_000_000} million or {MOST_SIDE_PX} on a side"
        )
    return ""


def check_png(data: bytes) -> Soundness:
    """Walk a PNG's chunk headers against the size of the file.

    Notes
    -----
    PNG specification (W3C, third edition), clause 5.3: each chunk is a 4-byte length, a
    type, the data and a CRC; clause 11.2.1: IHDR comes first and is 13 bytes long.
    """
    if len(data) < 33 or data[12:16] != b"IHDR" or data[8:12] != b"\0\0\0\x0d":
        return Soundness("it has no complete PNG header")
    width, height, depth, colour = struct.unpack(">IIBB", data[16:26])
    if fault := pixel_fault(width, height):
        return Soundness(fault)
    place, image_bytes, ended = 8, 0, False
    while place + 8 <= len(data):
        (length,) = struct.unpack(">I", data[place : place + 4])
        name = data[place + 4 : place + 8]
        if place + 12 + length > len(data):
            return Soundness("it ends early: a part of it is longer than the rest of the file")
        if name == b"IDAT":
            image_bytes += length
        place += 12 + length
        if name == b"IEND":
            ended = True
            break
    return _judge_png(width * height * _png_bits(depth, colour) // 8, image_bytes, ended)


def _png_bits(depth: int, colour: int) -> int:
    """Bits per pixel (PNG specification, table 11.1: colour types and channels)."""
    return max(1, depth) * {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}.get(colour, 1)


def _judge_png(raw_bytes: int, image_bytes: int, ended: bool) -> Soundness:
    if not image_bytes:
        return Soundness("it holds no image data")
    if raw_bytes > image_bytes * MOST_DEFLATE_RATIO + 4096:
        return Soundness("its header promises far more pixels than its data can hold")
    if not ended:
        return Soundness(doubtful=True, notes=("the PNG lacks its end mark",))
    return Soundness()


def check_jpeg(data: bytes) -> Soundness:
    """Look for a JPEG's end and compare its size with what the header promises.

    Notes
    -----
    ITU-T T.81, B.1.1.3: EOI (FF D9) ends an image; B.2.2: the frame header. Each 8 x 8 block
    takes at least one bit in the first scan, so a file with fewer bits than blocks lies.
    """
    size = jpeg_size(data)
    if size is None:
        return Soundness("it has no complete JPEG header")
    if fault := pixel_fault(*size):
        return Soundness(fault)
    if len(data) * 8 < size[0] * size[1] // 64:
        return Soundness("its header promises far more pixels than its data can hold")
    body = data.rstrip(b"\0")
    if body.endswith(b"\xff\xd9"):
        return Soundness()
    if len(data) - len(body) > 512:
        return Soundness("its end is empty: it was copied or downloaded in part only")
    if b"\xff\xd9" in body[-64:]:
        return Soundness()
    return Soundness(doubtful=True, notes=("the JPEG goes on after its end",))


def jpeg_size(data: bytes) -> tuple[int, int] | None:
    """Width and height from the first frame header, or None (ITU-T T.81, B.2.2)."""
    place = 2
    while place + 4 <= len(data):
        if data[place] != 0xFF:
            return None
        marker = data[place + 1]
        if marker == 0xFF:
            place += 1
            continue
        if 0xD0 <= marker <= 0xD8 or marker == 0x01:
            place += 2
            continue
        if marker in (0xD9, 0xDA):
            return None
        (length,) = struct.unpack(">H", data[place + 2 : place + 4])
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            if place + 9 > len(data):
                return None
            height, width = struct.unpack(">HH", data[place + 5 : place + 9])
            return int(width), int(height)
        place += 2 + length
    return None
