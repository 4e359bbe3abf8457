from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from panelscan.intake.integrity import FileKind, check, check_jpeg, check_png, jpeg_size, kind_of
from tests.intake import makers


@pytest.mark.parametrize(
    ("form", "kind"),
    [
        ("PNG", FileKind.PNG),
        ("JPEG", FileKind.JPEG),
        ("TIFF", FileKind.TIFF),
        ("WEBP", FileKind.WEBP),
        ("BMP", FileKind.BMP),
        ("GIF", FileKind.GIF),
        ("PDF", FileKind.PDF),
        ("JPEG2000", FileKind.JPEG2000),
    ],
)
def test_kind_is_told_from_the_bytes(form, kind):
    assert kind_of(makers.encoded(makers.picture(), form)[:1024]) is kind


@pytest.mark.parametrize("head", [b"", b"Rar!\x1a\x07\x00", b"hello", b"\0" * 64])
def test_other_bytes_are_no_page(head):
    assert kind_of(head) in (FileKind.UNKNOWN, FileKind.UNREAD)


def test_sixty_byte_png_that_promises_four_gigabytes_is_refused():
    # PNG specification 5.3: a chunk's length counts its data, so it cannot pass the file's end.
    data = makers.png_bomb()
    assert len(data) < 64
    assert "ends early" in check_png(data).fault


def test_png_cut_anywhere_is_never_sound():
    data = makers.png()
    for cut in range(1, len(data)):
        found = check_png(data[:cut])
        assert found.fault or found.doubtful


def test_png_whose_header_promises_more_than_deflate_can_hold_is_refused():
    # RFC 1951: at most 258 bytes from two bits, that is 1032 to 1.
    body = makers.chunk(b"IDAT", b"\x78\x9c" + b"\0" * 40) + makers.chunk(b"IEND", b"")
    assert "promises" in check_png(makers.png_header(20000, 20000) + body).fault


def test_more_than_600_million_pixels_are_refused_from_the_header():
    body = makers.chunk(b"IDAT", b"x") + makers.chunk(b"IEND", b"")
    assert "limit" in check_png(makers.png_header(30000, 30000) + body).fault


def test_whole_files_are_sound():
    assert check(makers.png(), FileKind.PNG).fault == ""
    jpeg = makers.encoded(makers.picture(), "JPEG")
    assert check_jpeg(jpeg) == check(jpeg, FileKind.JPEG)
    assert not check_jpeg(jpeg).doubtful


def test_jpeg_size_is_read_from_the_frame_header():
    # ITU-T T.81, B.2.2: number of lines comes before samples per line.
    for settings in ({}, {"progressive": True}, {"optimize": True}):
        assert jpeg_size(makers.encoded(makers.picture(50, 70), "JPEG", **settings)) == (70, 50)
    assert jpeg_size(b"\xff\xd8\xff\xe0\x00") is None


def test_jpeg_without_its_end_mark_is_doubtful_and_an_empty_end_is_a_fault():
    noise = np.random.default_rng(1).integers(0, 255, (400, 400), np.uint8)
    data = makers.encoded(Image.fromarray(noise), "JPEG", quality=90)
    assert check_jpeg(data[: len(data) // 2]).doubtful
    assert "in part" in check_jpeg(data[: len(data) // 2] + b"\0" * 4096).fault
    # Padding after the end mark is harmless.
    assert not check_jpeg(data + b"\0" * 4096).fault
