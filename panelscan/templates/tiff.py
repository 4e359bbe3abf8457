"""A layered page as a TIFF (6.0): the merged page first, then one page per layer, named.

Strips are compressed with deflate (compression 8, in TIFF Technical Note 3); stretches
that are alike are compressed once. Layer pages in colour carry straight alpha
(ExtraSamples 2), in gray or black and white they lie on white.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np

from panelscan.templates.deflate import PieceCache, RowStream
from panelscan.templates.layers import LayeredPage
from panelscan.templates.options import InkMode, TemplateOptions
from panelscan.templates.raster import (
    BAND_ROWS,
    LayerPainter,
    bands,
    gray_of,
    merged_rgb,
    painters,
)

_SHORT, _LONG, _RATIONAL, _ASCII = 3, 4, 5, 2
_SIZES = {_SHORT: "H", _LONG: "I"}
Rows = Callable[[int, int], np.ndarray]


def tiff_bytes(page: LayeredPage, options: TemplateOptions, size_px: tuple[int, int]) -> bytes:
    """The page as a TIFF file's bytes."""
    drawn = painters(page, size_px, options.ppi)
    shown = [p for p, layer in zip(drawn, page.layers, strict=True) if layer.visible]
    width = size_px[0]

    def merged(top: int, deep: int) -> np.ndarray:
        return merged_rgb([s for p in shown for s in p.steps(top, deep)], deep, width)

    file = _TiffFile(size_px, options.ppi)
    file.add(page.title, _in_mode(merged, options.ink))
    for layer, painter in zip(page.layers, drawn, strict=True):
        if options.ink is InkMode.COLOUR:
            file.add(layer.title, painter.rgba)
        else:
            flat = _on_white(painter, width)
            file.add(layer.title, _in_mode(flat, options.ink))
    return file.finished()


def _on_white(painter: LayerPainter, width: int) -> Rows:
    """The layer's rows laid on white."""
    return lambda top, deep: merged_rgb(painter.steps(top, deep), deep, width)


def _in_mode(rgb: Rows, ink: InkMode) -> Rows:
    """Rows as the mode stores them: RGB; gray; or packed bits, white as 1."""
    if ink is InkMode.COLOUR:
        return rgb
    if ink is InkMode.GRAY:
        return lambda top, deep: gray_of(rgb(top, deep))[..., None]
    return lambda top, deep: np.packbits(gray_of(rgb(top, deep)) >= 128, axis=1)


class _TiffFile:
    """Little-endian TIFF with one directory after another."""

    def __init__(self, size_px: tuple[int, int], ppi: int) -> None:
        self._size, self._ppi = size_px, ppi
        self._parts: list[bytes] = [b"II*\x00", b""]
        self._at = 8
        self._link = 1  # the part that will hold the place of the next directory
        self._cache = PieceCache()

    def add(self, name: str, rows: Rows) -> None:
        """Add a page; `rows(top, deep)` gives (deep or 1, N, C) pixels or packed bits."""
        offsets, counts, samples = [], [], 1
        packed = False
        for top, deep in bands(self._size[1]):
            band = rows(top, deep)
            packed = band.ndim == 2
            samples = 1 if packed else band.shape[2]
            data = self._squeezed(band, deep)
            offsets.append(self._at)
            counts.append(len(data))
            self._append(data)
        self._directory(name, offsets, counts, samples, packed)

    def finished(self) -> bytes:
        """All bytes; the last directory links to none."""
        self._parts[self._link] = struct.pack("<I", 0)
        return b"".join(self._parts)

    def _squeezed(self, band: np.ndarray, deep: int) -> bytes:
        """A strip: one zlib stream."""
        rows = band.reshape(band.shape[0], -1)
        stream = RowStream(self._cache)
        if len(rows) < deep:
            stream.run(rows[0].tobytes(), deep)
        elif (rows[1:] != rows[:-1]).any(axis=1).mean() > 0.5:
            stream.raw(rows.tobytes())
        else:
            stream.rows(rows)
        return stream.finished()

    def _append(self, data: bytes) -> None:
        padded = data + b"\x00" * (len(data) % 2)
        self._parts.append(padded)
        self._at += len(padded)

    def _directory(
        self, name: str, offsets: list[int], counts: list[int], samples: int, packed: bool
    ) -> None:
        """Image file directory; what does not fit in an entry is written before it."""
        width, height = self._size
        text = name.encode("ascii", "replace") + b"\x00"
        entries: list[tuple[int, int, int, bytes]] = [
            (254, _LONG, 1, struct.pack("<I", 2)),
            (256, _LONG, 1, struct.pack("<I", width)),
            (257, _LONG, 1, struct.pack("<I", height)),
            self._values(258, _SHORT, [1 if packed else 8] * samples),
            (259, _SHORT, 1, struct.pack("<H", 8)),
            (262, _SHORT, 1, struct.pack("<H", 2 if samples >= 3 else 1)),
            self._values(273, _LONG, offsets),
            (277, _SHORT, 1, struct.pack("<H", samples)),
            (278, _LONG, 1, struct.pack("<I", BAND_ROWS)),
            self._values(279, _LONG, counts),
            (282, _RATIONAL, 1, self._outside(struct.pack("<II", self._ppi, 1))),
            (283, _RATIONAL, 1, self._outside(struct.pack("<II", self._ppi, 1))),
            (285, _ASCII, len(text), self._outside(text) if len(text) > 4 else text),
            (296, _SHORT, 1, struct.pack("<H", 2)),
        ]
        if samples == 4:
            entries.append((338, _SHORT, 1, struct.pack("<H", 2)))
        self._parts[self._link] = struct.pack("<I", self._at)
        body = struct.pack("<H", len(entries))
        for tag, kind, count, value in entries:
            body += struct.pack("<HHI", tag, kind, count) + value.ljust(4, b"\x00")
        self._parts += [body, b""]
        self._link = len(self._parts) - 1
        self._at += len(body) + 4

    def _values(self, tag: int, kind: int, values: list[int]) -> tuple[int, int, int, bytes]:
        data = struct.pack(f"<{len(values)}{_SIZES[kind]}", *values)
        return tag, kind, len(values), data if len(data) <= 4 else self._outside(data)

    def _outside(self, data: bytes) -> bytes:
        """Write the data here; returns its place, for a directory entry."""
        place = struct.pack("<I", self._at)
        self._append(data)
        return place
