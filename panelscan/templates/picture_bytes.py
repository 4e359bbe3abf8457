"""Pixels to PNG bytes, row bands at a time, with the resolution written in.

PNG (ISO/IEC 15948): every row is stored as its difference to the row above (filter 2), so
rows that are alike become zeros; those stretches are compressed once and used again, which
deflate allows after a full flush. The pHYs chunk states pixels per metre, before IDAT.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable

import numpy as np

from panelscan.templates.deflate import PieceCache, RowStream

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_COLOUR_TYPES = {1: 0, 3: 2, 4: 6}


def png_of(pixels: np.ndarray, ppi: float | None = None) -> bytes:
    """PNG of gray (M, N), RGB (M, N, 3) or RGBA (M, N, 4) uint8 pixels.

    Parameters
    ----------
    pixels : ndarray of uint8
        Rows down; colours in RGB order.
    ppi : float, optional
        Written as pHYs.
    """
    rows = pixels if pixels.ndim == 3 else pixels[..., None]
    cuts = [rows[top : top + 64] for top in range(0, len(rows), 64)]
    return png_of_bands([(len(c), c) for c in cuts], rows.shape[1], rows.shape[0], ppi)


def png_of_bands(
    bands: Iterable[tuple[int, np.ndarray]],
    width: int,
    height: int,
    ppi: float | None = None,
    bilevel: bool = False,
) -> bytes:
    """PNG from bands of rows.

    Parameters
    ----------
    bands : iterable of (int, ndarray of uint8)
        Rows in the band, and its pixels: shape (rows, N, C), or (1, N, C) where all rows
        are alike; C is 1 (gray), 3 (RGB) or 4 (RGBA).
    width, height : int
        Size in pixels.
    ppi : float, optional
        Written as pHYs.
    bilevel : bool
        One bit per pixel (C is 1): values from 128 up are white.
    """
    stream = _Filtered()
    channels = 1
    for deep, rows in bands:
        channels = rows.shape[2]
        stream.add(_packed(rows) if bilevel else rows.reshape(rows.shape[0], -1), deep)
    depth = 1 if bilevel else 8
    header = struct.pack(">IIBBBBB", width, height, depth, _COLOUR_TYPES[channels], 0, 0, 0)
    parts = [_SIGNATURE, chunk(b"IHDR", header)]
    if ppi is not None:
        parts.append(physical_chunk(ppi))
    parts += [chunk(b"IDAT", stream.finished()), chunk(b"IEND", b"")]
    return b"".join(parts)


def _packed(rows: np.ndarray) -> np.ndarray:
    """Eight pixels to a byte, white as 1."""
    return np.packbits(rows[..., 0] >= 128, axis=1)


class _Filtered:
    """Rows filtered against the row above, as one zlib stream."""

    def __init__(self) -> None:
        self._stream = RowStream(PieceCache())
        self._above: np.ndarray | None = None

    def add(self, rows: np.ndarray, deep: int) -> None:
        """Add `deep` rows of bytes; one row given stands for all."""
        above = np.zeros_like(rows[0]) if self._above is None else self._above
        filtered = np.empty((rows.shape[0], rows.shape[1] + 1), dtype=np.uint8)
        filtered[:, 0] = 2
        filtered[0, 1:] = rows[0] - above
        np.subtract(rows[1:], rows[:-1], out=filtered[1:, 1:])
        self._above = rows[-1].copy()
        if rows.shape[0] < deep:
            self._stream.raw(filtered.tobytes())
            self._stream.run(b"\x02" + bytes(rows.shape[1]), deep - 1)
            return
        changed = np.asarray(filtered[:, 1:].any(axis=1))
        if changed.mean() > 0.5:
            self._stream.raw(filtered.tobytes())
        else:
            self._runs(filtered, changed)

    def _runs(self, filtered: np.ndarray, changed: np.ndarray) -> None:
        """Stretches that change and stretches that repeat the row above, in turn."""
        turns = 1 + np.flatnonzero(changed[1:] != changed[:-1])
        for stretch in np.split(np.arange(len(changed)), turns):
            if changed[stretch[0]]:
                self._stream.raw(filtered[stretch].tobytes())
            else:
                self._stream.run(filtered[stretch[0]].tobytes(), len(stretch))

    def finished(self) -> bytes:
        """The stream's bytes."""
        return self._stream.finished()


def chunk(kind: bytes, data: bytes) -> bytes:
    """A PNG chunk: length, kind, data, checksum."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def physical_chunk(ppi: float) -> bytes:
    """The pHYs chunk for a resolution; 21 bytes in all.

    Examples
    --------
    >>> len(physical_chunk(600)), struct.unpack(">II", physical_chunk(600)[8:16])
    (21, (23622, 23622))
    """
    per_metre = round(ppi / 0.0254)
    return chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1))
