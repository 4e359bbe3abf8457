from __future__ import annotations

import io
import struct

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image

from panelscan.errors import InputError
from panelscan.intake.images import decode_image, flat_pixels, reduction_for, shrink
from tests.intake import makers

LIMIT = 5200


def decoded(data: bytes, **settings):
    return decode_image(data, "page", LIMIT, **settings)


def stored_for(orientation: int, upright: np.ndarray) -> np.ndarray:
    """What a camera stores so that this orientation shows the upright picture (EXIF 2.3)."""
    undo = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.swapaxes(0, 1),
        6: lambda a: np.rot90(a, 1),  # shown turned a quarter clockwise
        7: lambda a: a[::-1, ::-1].swapaxes(0, 1),
        8: lambda a: np.rot90(a, -1),
    }
    return np.ascontiguousarray(undo[orientation](upright))


@pytest.mark.parametrize("form", ["PNG", "BMP", "TIFF", "WEBP", "GIF"])
def test_lossless_gray_stays_gray_and_exact(form):
    settings = {"lossless": True} if form == "WEBP" else {}
    found = decoded(makers.encoded(makers.picture(), form, **settings)).pixels
    if found.ndim == 3:  # WebP and GIF know no gray
        assert form in ("WEBP", "GIF")
        found = found[..., 0]
    np.testing.assert_array_equal(found, makers.picture())


@pytest.mark.parametrize("form", ["PNG", "BMP", "TIFF", "WEBP"])
def test_lossless_colour_is_rgb_and_exact(form):
    settings = {"lossless": True} if form == "WEBP" else {}
    picture = makers.picture(colour=True)
    found = decoded(makers.encoded(picture, form, **settings))
    np.testing.assert_array_equal(found.pixels, picture)
    assert (found.width_px, found.height_px) == (40, 60)


def test_jpeg_is_close_in_gray_and_colour():
    gray = decoded(makers.encoded(makers.picture(), "JPEG", quality=95)).pixels
    assert gray.ndim == 2
    assert np.abs(gray.astype(int) - makers.picture()).mean() < 3
    colour = makers.picture(colour=True)
    found = decoded(makers.encoded(colour, "JPEG", quality=95, subsampling=0)).pixels
    assert np.abs(found.astype(int) - colour).mean() < 3


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_exif_orientation_is_obeyed_once(form, orientation):
    # EXIF 2.3, 4.6.4 A, tag 274.
    upright = makers.picture()
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored = Image.fromarray(stored_for(orientation, upright))
    found = decoded(makers.encoded(stored, form, exif=exif))
    pixels = found.pixels if found.pixels.ndim == 2 else found.pixels[..., 0]
    assert (found.width_px, found.height_px) == (40, 60)
    assert np.abs(pixels.astype(int) - upright).mean() < 6


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("compression", [None, "zlib"])
@pytest.mark.parametrize("kind", ["gray", "rgb", "gray16"])
def test_tiff_orientation_is_obeyed_once(kind, compression, orientation):
    # TIFF 6.0, section 8, Orientation (274). Some readers turn these wrongly or not at all.
    upright = makers.picture(colour=kind == "rgb")
    stored = stored_for(orientation, upright)
    if kind == "gray16":
        stored = stored.astype(np.uint16) * 257
    out = io.BytesIO()
    tifffile.imwrite(
        out,
        stored,
        compression=compression,
        photometric="rgb" if kind == "rgb" else "minisblack",
        extratags=[(274, "H", 1, orientation, True)],
    )
    found = decoded(out.getvalue())
    assert (found.width_px, found.height_px) == (40, 60)
    np.testing.assert_array_equal(found.pixels, upright)


def test_unequal_resolution_turns_with_the_page():
    exif = Image.Exif()
    exif[0x0112] = 6
    found = decoded(makers.encoded(makers.picture(), "JPEG", exif=exif, dpi=(300, 600)))
    assert found.ppi == (600.0, 300.0)


def test_black_art_on_a_transparent_page_is_not_black_on_black():
    art = np.zeros((60, 40, 4), np.uint8)
    art[:30, :20, 3] = 255
    for form in ("PNG", "WEBP", "TIFF"):
        found = decoded(makers.encoded(art, form, **({"lossless": True} if form == "WEBP" else {})))
        pixels = found.pixels
        assert pixels[10, 10].max() == 0
        assert pixels[50, 30].min() == 255
    gray = decoded(makers.encoded(Image.fromarray(art).convert("LA"), "PNG")).pixels
    assert gray.ndim == 2
    assert gray[10, 10] == 0
    assert gray[50, 30] == 255


def test_palette_with_a_transparent_entry_lies_over_white():
    image = Image.fromarray(makers.picture()).convert("P")
    data = makers.encoded(image, "PNG", transparency=0)  # the black entry
    assert decoded(data).pixels.min() == 255


def test_sixteen_bits_are_scaled_not_clipped():
    # 65535 / 257 = 255 exactly.
    values = np.linspace(0, 65535, 2400).reshape(60, 40).astype(np.uint16)
    expected = np.round(values / 257)
    for data in (makers.encoded(Image.fromarray(values), "PNG"), _tiff(values)):
        found = decoded(data).pixels
        assert found.ndim == 2
        assert np.abs(found.astype(int) - expected).max() <= 1


def _tiff(values: np.ndarray, **settings) -> bytes:
    out = io.BytesIO()
    tifffile.imwrite(out, values, **settings)
    return out.getvalue()


@pytest.mark.parametrize("polarity", ["minisblack", "miniswhite"])
def test_one_bit_tiff_is_right_in_both_polarities(polarity):
    # TIFF 6.0, section 3, PhotometricInterpretation 0 and 1.
    bits = makers.picture() > 0
    stored = bits if polarity == "minisblack" else ~bits
    found = decoded(_tiff(stored, photometric=polarity)).pixels
    np.testing.assert_array_equal(found, makers.picture())


@pytest.mark.parametrize("compression", ["group4", "tiff_lzw", "tiff_adobe_deflate", "packbits"])
def test_compressed_one_bit_tiff(compression):
    image = Image.fromarray(makers.picture()).convert("1")
    found = decoded(makers.encoded(image, "TIFF", compression=compression)).pixels
    np.testing.assert_array_equal(found, makers.picture())


def test_one_bit_png():
    image = Image.fromarray(makers.picture()).convert("1")
    np.testing.assert_array_equal(decoded(makers.encoded(image, "PNG")).pixels, makers.picture())


@pytest.mark.parametrize("form", ["JPEG", "TIFF"])
def test_cmyk_keeps_white_white_and_black_black(form):
    image = Image.fromarray(makers.picture(colour=True)).convert("CMYK")
    found = decoded(makers.encoded(image, form))
    assert found.pixels.shape == (60, 40, 3)
    assert found.pixels[5, 35].min() > 240
    assert found.pixels[5, 5].max() < 15
    assert any("CMYK" in note for note in found.notes)


def test_fractional_tiff_is_scaled_and_said_so():
    found = decoded(_tiff((makers.picture() / 255).astype(np.float32)))
    np.testing.assert_array_equal(found.pixels, makers.picture())
    assert any("white" in note for note in found.notes)


def test_multi_page_tiff_gives_the_page_asked_for():
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        for height in (60, 50, 40):
            writer.write(makers.picture(height=height), photometric="minisblack")
    heights = [decoded(out.getvalue(), frame=k).height_px for k in range(3)]
    assert heights == [60, 50, 40]
    with pytest.raises(InputError, match="no such page"):
        decoded(out.getvalue(), frame=3)


def test_gif_and_animated_webp_give_their_first_picture():
    first, second = Image.fromarray(makers.picture()), Image.new("L", (40, 60), 255)
    for form in ("GIF", "WEBP"):
        data = makers.encoded(first, form, save_all=True, append_images=[second])
        pixels = decoded(data).pixels
        assert pixels[5, 5].max() < 40


def test_truncated_jpeg_is_an_error_not_a_gray_half():
    noise = np.random.default_rng(2).integers(0, 255, (300, 200), np.uint8)
    for settings in ({}, {"progressive": True}):
        data = makers.encoded(noise, "JPEG", quality=90, **settings)
        with pytest.raises(InputError, match=r"page: .*(ends early|in part)"):
            decoded(data[: len(data) * 2 // 3])
        whole = decoded(data + b"\0" * 2000)
        assert whole.pixels.shape == (300, 200)


def test_jpeg_with_other_data_after_its_end_is_read_and_said_so():
    # As phones append a second picture or a short film.
    data = makers.encoded(makers.picture(), "JPEG", quality=90) + b"MotionPhoto" * 40
    found = decoded(data)
    assert found.pixels.shape == (60, 40)
    assert any("goes on" in note for note in found.notes)


@pytest.mark.parametrize("form", ["PNG", "TIFF", "WEBP", "GIF", "BMP"])
def test_truncated_files_of_other_kinds_are_errors(form):
    noise = np.random.default_rng(3).integers(0, 255, (200, 150), np.uint8)
    data = makers.encoded(noise, form)
    with pytest.raises(InputError, match="page: "):
        decoded(data[: len(data) // 2])


def test_png_bomb_is_refused_before_any_decoder_sees_it(monkeypatch):
    monkeypatch.setattr(cv2, "imdecode", lambda *_: pytest.fail("decoded"))
    with pytest.raises(InputError, match="ends early"):
        decoded(makers.png_bomb())


def test_jpeg_that_lies_about_its_size_is_refused():
    data = bytearray(makers.encoded(makers.picture(), "JPEG"))
    at = data.index(b"\xff\xc0")
    data[at + 5 : at + 9] = struct.pack(">HH", 60000, 9000)
    with pytest.raises(InputError, match="promises"):
        decoded(bytes(data))


def test_tiff_of_too_many_pixels_is_refused():
    data = bytearray(makers.encoded(makers.picture(), "TIFF"))
    for tag in (256, 257):  # ImageWidth, ImageLength as LONG
        at = data.index(struct.pack("<HH", tag, 4)) if struct.pack("<HH", tag, 4) in data else -1
        if at < 0:
            at = data.index(struct.pack("<HH", tag, 3))
            data[at + 2 : at + 4] = struct.pack("<H", 4)
        data[at + 8 : at + 12] = struct.pack("<I", 40000)
    with pytest.raises(InputError, match="page: "):
        decoded(bytes(data))


def test_a_program_disguised_as_a_picture_starts_nothing():
    with pytest.raises(InputError, match="no picture"):
        decoded(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n(x) run\n")


def test_corrupt_exif_costs_nothing_but_the_exif():
    data = makers.encoded(makers.picture(), "JPEG", exif=b"Exif\0\0" + b"II*\0\xff\xff\xff\x7f")
    assert decoded(data).pixels.shape == (60, 40)


def test_reduction_keeps_a_300_dpi_page_and_halves_a_600_dpi_board():
    assert reduction_for(2480, 3508, LIMIT) == 1
    assert reduction_for(3300, 5100, LIMIT) == 1
    assert reduction_for(6600, 10200, LIMIT) == 2
    assert reduction_for(13200, 20400, LIMIT) == 4
    assert reduction_for(1000, 20000, LIMIT) == 1


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF"])
def test_reduced_reading_keeps_thin_lines(form):
    # Sampled reduction of PNG and TIFF would drop or keep them whole: mean over blocks here,
    # libjpeg's own scaling for JPEG.
    page = np.full((6402, 3203), 255, np.uint8)
    for k, x in enumerate(range(100, 3100, 101)):
        page[:, x + k % 2 : x + k % 2 + 3] = 0
    found = decode_image(makers.encoded(page, form), "page", 4000)
    assert found.reduction == 2
    assert found.pixels.shape == (3201, 1601)
    assert (found.width_px, found.height_px) == (3203, 6402)
    columns = found.pixels.astype(float).mean(axis=0)
    dark = [
        255 * 2 - columns[x // 2 - 1 : x // 2 + 4].sum() + 255 * 3 for x in range(100, 3000, 101)
    ]
    # Each 3 px line of ink 255 must leave 1.5 px worth of ink in the halved page.
    assert min(dark) > 0.9 * 1.5 * 255
    assert max(dark) < 1.1 * 1.5 * 255


@pytest.mark.parametrize("form", ["PNG", "BMP"])
@pytest.mark.parametrize("width", [3202, 3203], ids=["even", "odd"])
def test_half_size_is_the_mean_of_whole_blocks_whoever_halves(form, width):
    # Even sizes are halved while decoding, odd ones afterwards: the same block by block.
    rng = np.random.default_rng(0)
    page = rng.integers(0, 256, (4002, width, 3), dtype=np.uint8)
    found = decode_image(makers.encoded(page, form), "page", 4000)
    blocks = page[:, :3202].reshape(2001, 2, 1601, 2, 3).mean(axis=(1, 3))
    assert found.reduction == 2
    assert np.abs(found.pixels - blocks).max() <= 0.5


def test_shrink_leaves_out_what_fills_no_block():
    pixels = np.arange(35, dtype=np.uint8).reshape(5, 7)
    small = shrink(pixels, 2)
    assert small.shape == (2, 3)
    assert small[0, 0] == round(np.mean([0, 1, 7, 8]))


def test_turned_image_is_reduced_after_turning():
    page = np.full((4001, 6401), 255, np.uint8)
    page[:, :2000] = 0
    exif = Image.Exif()
    exif[0x0112] = 3
    found = decode_image(makers.encoded(page, "JPEG", exif=exif), "page", 4000)
    assert found.reduction == 2
    assert found.pixels[1000, 100] > 250
    assert found.pixels[1000, 3100] < 5


def test_lab_and_odd_modes_become_rgb_or_an_error():
    pixels, _ = flat_pixels(Image.new("YCbCr", (4, 4), (255, 128, 128)))
    assert pixels.shape == (4, 4, 3)
    assert pixels.min() > 250
