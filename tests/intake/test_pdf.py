from __future__ import annotations

import io

import numpy as np
import pikepdf
import pytest
from PIL import Image

from panelscan.errors import InputError
from panelscan.intake import limits
from panelscan.intake.pdf import count_pages, pages_and_direction, read_pdf_page
from panelscan.intake.sources import list_pages
from panelscan.model.page import ReadingDirection
from tests.intake import makers

LIMIT = 5200
# Black in the lower left quarter: PDF's y runs up (ISO 32000-2, 8.3.2.3).
DRAWING = b"0 g 0 0 36 72 re f"


def scan(height: int = 300, width: int = 200) -> np.ndarray:
    page = makers.picture(height, width)
    page[-30:, -20:] = 90
    return page


def jpeg(pixels: np.ndarray, **settings) -> bytes:
    return makers.encoded(pixels, "JPEG", quality=95, **settings)


def read(tmp_path, data: bytes, index: int = 0, dpi: float = 150.0):
    return read_pdf_page(makers.write(tmp_path / "b.pdf", data), index, dpi, LIMIT)


def assert_like(found: np.ndarray, expected: np.ndarray) -> None:
    assert found.shape == expected.shape
    assert np.abs(found.astype(int) - expected).mean() < 3


def test_a_scanned_page_is_the_image_itself(tmp_path):
    data = makers.pdf_of_image(jpeg(scan()), (200, 300), (48.0, 72.0))
    page = read(tmp_path, data)
    assert page.is_scan
    assert_like(page.decoded.pixels, scan())
    # 200 px over 48 pt = 300 dpi; one point is 1/72 in (ISO 32000-2, 8.3.2.3).
    assert page.decoded.ppi == (300.0, 300.0)


@pytest.mark.parametrize(("rotate", "turns"), [(90, -1), (180, 2), (270, 1)])
def test_rotation_is_clockwise(tmp_path, rotate, turns):
    # ISO 32000-2, 7.7.3.3, Rotate: degrees by which the page is turned clockwise when shown.
    data = makers.pdf_of_image(jpeg(scan()), (200, 300), (48.0, 72.0), Rotate=rotate)
    page = read(tmp_path, data)
    assert page.is_scan
    assert_like(page.decoded.pixels, np.rot90(scan(), turns))


def test_turned_scan_agrees_with_what_the_renderer_shows(tmp_path):
    import pypdfium2

    for rotate in (0, 90, 180, 270):
        data = makers.pdf_of_image(jpeg(scan()), (200, 300), (48.0, 72.0), Rotate=rotate)
        shown = pypdfium2.PdfDocument(data)[0].render(scale=300 / 72 - 1e-9).to_numpy()[..., 0]
        assert_like(read(tmp_path, data).decoded.pixels, shown)


def test_crop_box_cuts_the_image(tmp_path):
    # ISO 32000-2, 14.11.2: the crop box is the region shown; y runs up.
    data = makers.pdf_of_image(
        jpeg(scan()), (200, 300), (48.0, 72.0), CropBox=pikepdf.Array([12, 12, 48, 60])
    )
    page = read(tmp_path, data)
    assert page.is_scan
    assert_like(page.decoded.pixels, scan()[50:250, 50:200])
    assert page.decoded.ppi == (300.0, 300.0)


def test_crop_and_rotation_together(tmp_path):
    data = makers.pdf_of_image(
        jpeg(scan()),
        (200, 300),
        (48.0, 72.0),
        CropBox=pikepdf.Array([12, 12, 48, 60]),
        Rotate=90,
    )
    assert_like(read(tmp_path, data).decoded.pixels, np.rot90(scan()[50:250, 50:200], -1))


def test_exif_inside_a_pdf_turns_nothing(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6
    data = makers.pdf_of_image(jpeg(scan(), exif=exif), (200, 300), (48.0, 72.0))
    assert_like(read(tmp_path, data).decoded.pixels, scan())


def test_searchable_scan_with_invisible_text_is_still_the_image(tmp_path):
    # ISO 32000-2, 9.3.6: text rendering mode 3 paints nothing.
    content = b"q 48 0 0 72 0 0 cm /Im Do Q BT 3 Tr /F1 8 Tf 10 10 Td (hello) Tj ET"
    data = makers.pdf_of_image(jpeg(scan()), (200, 300), (48.0, 72.0), content)
    assert read(tmp_path, data).is_scan


@pytest.mark.parametrize(
    "content",
    [
        b"q 48 0 0 72 0 0 cm /Im Do Q 0 g 10 10 5 5 re f",
        b"q 48 0 0 72 0 0 cm /Im Do Q q 10 0 0 10 5 5 cm /Im Do Q",
        b"q -48 0 0 72 48 0 cm /Im Do Q",
        b"q 30 0 0 50 5 5 cm /Im Do Q",
    ],
)
def test_a_page_with_more_than_its_upright_image_is_drawn(tmp_path, content):
    page = read(tmp_path, makers.pdf_of_image(jpeg(scan()), (200, 300), (48.0, 72.0), content))
    assert not page.is_scan


def test_inverted_image_is_drawn_as_it_is_shown(tmp_path):
    # ISO 32000-2, 8.9.5.2, Decode [1 0] turns black to white.
    data = makers.pdf_of_image(jpeg(scan()), (200, 300), (48.0, 72.0))
    with pikepdf.open(io.BytesIO(data)) as pdf:
        pdf.pages[0].Resources.XObject.Im.Decode = pikepdf.Array([1, 0])
        out = io.BytesIO()
        pdf.save(out)
    page = read(tmp_path, out.getvalue())
    assert not page.is_scan
    assert_like(page.decoded.pixels, 255 - scan())


def test_soft_mask_is_obeyed(tmp_path):
    # ISO 32000-2, 11.6.5.2: a soft mask of zeros leaves nothing of the image.
    data = makers.pdf_of_image(jpeg(scan()), (200, 300), (48.0, 72.0))
    with pikepdf.open(io.BytesIO(data)) as pdf:
        mask = pikepdf.Stream(pdf, bytes(200 * 300))
        mask.Type, mask.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
        mask.Width, mask.Height, mask.BitsPerComponent = 200, 300, 8
        mask.ColorSpace = pikepdf.Name.DeviceGray
        pdf.pages[0].Resources.XObject.Im.SMask = mask
        out = io.BytesIO()
        pdf.save(out)
    page = read(tmp_path, out.getvalue())
    assert not page.is_scan
    assert page.decoded.pixels.min() == 255


@pytest.mark.parametrize("mode", ["1", "L", "RGB"])
def test_scans_packed_without_loss(tmp_path, mode):
    # Pillow packs "1" as CCITT group 4, the others as JPEG; so "L" and "RGB" go by Flate here.
    image = Image.fromarray(makers.picture(300, 200, colour=mode == "RGB")).convert(mode)
    if mode == "1":
        data = makers.encoded(image, "PDF", resolution=300.0)
    else:
        data = _flate_pdf(np.asarray(image))
    page = read(tmp_path, data)
    expected = np.asarray(image.convert("L" if mode != "RGB" else "RGB"))
    assert page.is_scan
    assert_like(page.decoded.pixels, expected)
    assert page.decoded.ppi == (300.0, 300.0)


def _flate_pdf(pixels: np.ndarray) -> bytes:
    height, width = pixels.shape[:2]
    data = makers.pdf_of_image(b"", (width, height), (48.0, 72.0), colour=pixels.ndim == 3)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        image = pdf.pages[0].Resources.XObject.Im
        del image.Filter
        image.write(pixels.tobytes())
        out = io.BytesIO()
        pdf.save(out, compress_streams=True)
    return out.getvalue()


def test_colour_scan_is_rgb(tmp_path):
    picture = makers.picture(300, 200, colour=True)
    data = makers.pdf_of_image(jpeg(picture, subsampling=0), (200, 300), (48.0, 72.0), colour=True)
    assert_like(read(tmp_path, data).decoded.pixels, picture)


def test_drawn_page_is_rasterized_at_the_resolution_asked_for(tmp_path):
    page = read(tmp_path, makers.pdf_of_drawing(DRAWING, (72.0, 144.0)), dpi=150)
    pixels = page.decoded.pixels
    assert not page.is_scan
    assert pixels.shape == (300, 150)  # gray, since nothing on it has colour
    assert page.decoded.ppi == (150.0, 150.0)
    assert pixels[250, 30] == 0
    assert pixels[50, 30] == 255


@pytest.mark.parametrize(("dpi", "rows"), [(150, 1650), (600, 6600)])
def test_raster_size_is_exact(tmp_path, dpi, rows):
    # 792 pt = 11 in; a raster made with dpi / 72 as its scale comes out one pixel too large.
    page = read(tmp_path, makers.pdf_of_drawing(DRAWING, (72.0, 792.0)), dpi=dpi)
    assert page.decoded.height_px == rows


def test_very_large_page_is_drawn_smaller_and_said_so(tmp_path, monkeypatch):
    monkeypatch.setattr(limits, "MOST_RASTER_PIXELS", 10_000)
    page = read(tmp_path, makers.pdf_of_drawing(DRAWING, (144.0, 144.0)), dpi=300)
    assert page.decoded.width_px <= 100
    assert any("very large" in note for note in page.decoded.notes)


def test_pages_are_counted_and_missing_ones_told(tmp_path):
    path = makers.write(tmp_path / "b.pdf", makers.pdf_of_drawing(DRAWING, (72, 72), pages=3))
    assert count_pages(path) == 3
    with pytest.raises(InputError, match=r"b\.pdf: the PDF has no page 4"):
        read_pdf_page(path, 3, 72, LIMIT)


def test_password_is_asked_for_in_words(tmp_path):
    with pikepdf.open(io.BytesIO(makers.pdf_of_drawing(DRAWING, (72, 72)))) as pdf:
        out = io.BytesIO()
        pdf.save(out, encryption=pikepdf.Encryption(owner="a", user="b"))
    path = makers.write(tmp_path / "b.pdf", out.getvalue())
    with pytest.raises(InputError, match=r"b\.pdf: the PDF needs a password"):
        count_pages(path)


def test_damaged_pdf_is_mended_or_told(tmp_path):
    data = makers.pdf_of_drawing(DRAWING, (72, 72))
    path = makers.write(tmp_path / "b.pdf", data[:-60])  # the cross-reference table is lost
    assert count_pages(path) == 1
    path = makers.write(tmp_path / "c.pdf", b"%PDF-1.7\n" + b"\0" * 200)
    with pytest.raises(InputError, match=r"c\.pdf: the PDF is damaged"):
        count_pages(path)


def test_missing_pdf_is_told(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        count_pages((tmp_path / "none.pdf").as_posix())


@pytest.mark.parametrize(
    ("preferences", "said"),
    [
        ({"/Direction": pikepdf.Name.R2L}, ReadingDirection.RTL),
        ({"/Direction": pikepdf.Name.L2R}, ReadingDirection.LTR),
        ({"/HideMenubar": True}, None),
        ({"/Direction": pikepdf.Name("/Upwards" + "!" * 300)}, None),
        ({"/Direction": pikepdf.Array([1, 2])}, None),
        (None, None),
    ],
)
def test_a_pdf_may_say_which_way_it_is_read(tmp_path, preferences, said):
    # ISO 32000-1:2008, 12.2, Table 150: Direction, L2R or R2L (clause and table from memory).
    pdf = pikepdf.open(io.BytesIO(makers.pdf_of_drawing(DRAWING, (72, 144), 3)))
    if preferences is not None:
        pdf.Root.ViewerPreferences = pikepdf.Dictionary(preferences)
    out = io.BytesIO()
    pdf.save(out)
    path = makers.write(tmp_path / "b.pdf", out.getvalue())
    assert pages_and_direction(path) == (3, said)
    assert {page.said_direction for page in list_pages([path]).pages} == {said}
