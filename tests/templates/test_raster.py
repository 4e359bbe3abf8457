from __future__ import annotations

import zlib

import cv2
import numpy as np
import pytest

from panelscan.templates.deflate import PieceCache, RowStream
from panelscan.templates.layers import BLACK, Fill, Layer, LayeredPage, LayerKey, Picture, Stroke
from panelscan.templates.picture_bytes import png_of
from panelscan.templates.raster import gray_of, merged_bands, stack_bands, stroke_shape
from tests.templates.readers import picture, rgb


def page(*marks, size=(20.0, 10.0)):
    layer = Layer(LayerKey.BORDERS, marks)
    return LayeredPage(size, (0, 0, *size), (0, 0, *size), (layer,))


def drawn(*marks, px=(200, 100)):
    return stack_bands(merged_bands(page(*marks), px))


def test_mitred_corner_is_sharp():
    square = Stroke(((5, 2), (15, 2), (15, 8), (5, 8)), 1.0, closed=True)
    found = drawn(square)
    assert found[15, 45].tolist() == [0, 0, 0], "the outer corner itself is inked"
    assert found[14, 60].tolist() == [255] * 3
    assert found[30, 100].tolist() == [255] * 3
    assert stroke_shape(square).area == pytest.approx(11 * 7 - 9 * 5)


def test_open_line_ends_square_and_dashes():
    line = Stroke(((2, 5), (18, 5)), 1.0)
    assert drawn(line)[50, 19:21, 0].tolist() == [255, 0]
    dashed = Stroke(((0, 5), (20, 5)), 1.0, dash_mm=(2.0, 3.0))
    row = drawn(dashed)[50, :, 0]
    assert row[:20].max() == 0
    assert row[20:50].min() == 255
    assert row[50:70].max() == 0


def test_colours_lie_over_each_other():
    red = Fill((((0, 0), (10, 0), (10, 10), (0, 10)),), (255, 0, 0))
    half = Fill((((5, 0), (10.05, 0), (10.05, 10), (5, 10)),), (0, 0, 255))
    found = drawn(red, half)
    assert found[50, 20].tolist() == [255, 0, 0]
    assert found[50, 80].tolist() == [0, 0, 255]
    assert found[50, 100].tolist() == pytest.approx([127, 127, 255], abs=1)


def test_picture_lies_where_its_box_says():
    pixels = np.zeros((4, 8, 3), np.uint8)
    pixels[:, 4:] = (10, 200, 30)
    found = drawn(Picture(pixels, (2.0, 1.0, 18.0, 9.0)))
    assert found[50, 10].tolist() == [255] * 3
    assert found[50, 25].tolist() == [0, 0, 0]
    assert found[50, 175].tolist() == [10, 200, 30]
    assert found[5, 100].tolist() == [255] * 3
    assert abs(int(found[50, 99, 1]) - int(found[50, 100, 1])) < 20, "no seam at the middle"


def test_gray_weights_are_bt601():
    # OpenCV's own conversion, which uses the weights of ITU-R BT.601.
    colours = np.random.default_rng(3).integers(0, 256, (40, 40, 3), dtype=np.uint8)
    theirs = cv2.cvtColor(colours, cv2.COLOR_RGB2GRAY)
    assert np.abs(gray_of(colours).astype(int) - theirs).max() <= 1


@pytest.mark.parametrize("shape", [(130, 50), (7, 9, 3), (200, 33, 4)])
def test_png_reads_back_by_pillow_and_opencv(shape):
    pixels = np.random.default_rng(5).integers(0, 256, shape, dtype=np.uint8)
    pixels[10:90] = pixels[5]
    data = png_of(pixels, 600)
    image = picture(data)
    assert np.array_equal(np.asarray(image), pixels)
    assert [round(v) for v in image.info["dpi"]] == [600, 600]
    theirs = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if len(shape) == 3:
        theirs = cv2.cvtColor(theirs, cv2.COLOR_BGR2RGB if shape[2] == 3 else cv2.COLOR_BGRA2RGBA)
    assert np.array_equal(theirs, pixels)


def test_joined_streams_are_valid_zlib():
    # zlib itself checks the blocks and the Adler-32 sum.
    cache = PieceCache()
    for seed in range(3):
        rng = np.random.default_rng(seed)
        rows = np.repeat(rng.integers(0, 256, (9, 17), dtype=np.uint8), rng.integers(1, 300, 9), 0)
        stream = RowStream(cache)
        stream.rows(rows)
        stream.raw(b"end")
        assert zlib.decompress(stream.finished()) == rows.tobytes() + b"end"


def test_black_is_black():
    assert rgb(png_of(drawn(Fill((((0, 0), (20, 0), (20, 10), (0, 10)),), BLACK)))).max() == 0
