"""A zlib stream put together from pieces that are compressed once and used many times.

Deflate (RFC 1951) may be flushed so that what follows is independent of what came before,
and the checksum of a joined stream follows from those of its parts (RFC 1950, Adler-32).
Most rows of a template equal the row above; runs of them are powers of two of one piece.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np

_MODULUS = 65521
_Piece = tuple[bytes, int, int]


class PieceCache:
    """Compressed runs of equal rows, shared by any number of streams."""

    def __init__(self) -> None:
        self._pieces: dict[tuple[bytes, int], _Piece] = {}

    def run(self, row: bytes, power: int) -> _Piece:
        """The row repeated two to the `power` times: compressed, its checksum, its length."""
        key = (row, power)
        if key not in self._pieces:
            self._pieces[key] = _piece(row * (1 << power))
        return self._pieces[key]


class RowStream:
    """A zlib stream of rows of bytes.

    Examples
    --------
    >>> stream = RowStream(PieceCache())
    >>> stream.run(b"abc", 5); stream.raw(b"xyz")
    >>> zlib.decompress(stream.finished())
    b'abcabcabcabcabcxyz'
    """

    def __init__(self, cache: PieceCache) -> None:
        self._cache = cache
        self._parts: list[bytes] = [b"\x78\x9c"]
        self._low, self._high = 1, 0

    def raw(self, data: bytes) -> None:
        """Add bytes as they are."""
        self._add(_piece(data))

    def run(self, row: bytes, count: int) -> None:
        """Add the same row `count` times."""
        power = 0
        while count >> power:
            if count >> power & 1:
                self._add(self._cache.run(row, power))
            power += 1

    def rows(self, rows: np.ndarray) -> None:
        """Add rows of bytes, shape (N, K); equal neighbours go as runs."""
        starts = np.concatenate([[0], 1 + np.flatnonzero((rows[1:] != rows[:-1]).any(axis=1))])
        ends = np.concatenate([starts[1:], [len(rows)]])
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
            self.run(rows[start].tobytes(), end - start)

    def finished(self) -> bytes:
        """The whole stream: an empty last block and the checksum."""
        total = self._high << 16 | self._low
        return b"".join([*self._parts, b"\x03\x00", struct.pack(">I", total)])

    def _add(self, piece: _Piece) -> None:
        data, checksum, length = piece
        low, high = checksum & 0xFFFF, checksum >> 16
        self._high = (self._high + high + length * (self._low - 1)) % _MODULUS
        self._low = (self._low + low - 1) % _MODULUS
        self._parts.append(data)


def _piece(data: bytes) -> _Piece:
    """Raw deflate, flushed so that it may follow and be followed by anything."""
    machine = zlib.compressobj(6, zlib.DEFLATED, -15)
    packed = machine.compress(data) + machine.flush(zlib.Z_FULL_FLUSH)
    return packed, zlib.adler32(data), len(data)
