"""How much one file may ask for before it is refused: pixels, members, inflation."""

from __future__ import annotations

MOST_PIXELS = 600_000_000
"""Greatest number of pixels, read from the header; a 1200 dpi spread has 538 million."""

MOST_SIDE_PX = 65_535
"""Greatest side; JPEG's own limit (ITU-T T.81, B.2.2: 16-bit X and Y)."""

MOST_MEMBERS = 20_000
"""Greatest number of members of an archive, or images in a PDF or TIFF."""

MOST_DIRECTORY_BYTES = 16 << 20
"""Greatest size of an archive's directory."""

MOST_MEMBER_BYTES = 1 << 30
"""Greatest size of one member after inflation."""

MOST_RATIO = 200
"""Greatest inflation of a member above `RATIO_FREE_BYTES` (Deflate itself reaches 1032)."""

RATIO_FREE_BYTES = 64 << 20
"""Below this size any inflation is let through: an empty BMP page shrinks a thousandfold."""

MOST_RASTER_PIXELS = 100_000_000
"""Greatest raster made of a PDF page; larger pages are drawn at a lower resolution."""

MOST_DEFLATE_RATIO = 1032
"""Greatest expansion Deflate can reach (RFC 1951: 258 bytes from two bits)."""
