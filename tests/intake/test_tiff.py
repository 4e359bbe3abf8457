from __future__ import annotations

import io
import struct

import pytest
import tifffile

from panelscan.intake.tiff import tiff_images
from tests.intake import makers


def pages(*heights: int, **settings) -> bytes:
    out = io.BytesIO()
    with tifffile.TiffWriter(out, **settings) as writer:
        for height in heights:
            writer.write(makers.picture(height=height), photometric="minisblack")
    return out.getvalue()


@pytest.mark.parametrize("settings", [{}, {"bigtiff": True}, {"byteorder": ">"}])
def test_images_are_listed_with_their_sizes(settings):
    found = tiff_images(io.BytesIO(pages(60, 50, 40, **settings)))
    assert [(i.index, i.width_px, i.height_px) for i in found] == [
        (0, 40, 60),
        (1, 40, 50),
        (2, 40, 40),
    ]


def test_reduced_copies_are_no_pages():
    # TIFF 6.0, section 8, NewSubfileType bit 0.
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        writer.write(makers.picture(), photometric="minisblack")
        writer.write(makers.picture(20, 20), photometric="minisblack", subfiletype=1)
    assert [image.is_page for image in tiff_images(io.BytesIO(out.getvalue()))] == [True, False]


def test_ring_of_directories_ends():
    data = bytearray(pages(60))
    (first,) = struct.unpack("<I", data[4:8])
    (count,) = struct.unpack("<H", data[first : first + 2])
    at = first + 2 + 12 * count
    data[at : at + 4] = struct.pack("<I", first)
    assert len(tiff_images(io.BytesIO(bytes(data)))) == 1


def test_cut_or_foreign_bytes_are_told():
    whole = pages(60)
    for data in (b"", b"II", b"II*\0", whole[:6], b"II*\0" + struct.pack("<I", 999_999)):
        with pytest.raises(ValueError, match=r"cut off|no TIFF"):
            tiff_images(io.BytesIO(data))


def test_a_tiff_without_any_image_lists_none():
    assert tiff_images(io.BytesIO(b"II*\0" + struct.pack("<I", 0))) == ()
