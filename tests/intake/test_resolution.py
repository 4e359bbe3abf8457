from __future__ import annotations

import io

import numpy as np
import pytest
import tifffile
from PIL import Image

from panelscan.intake.images import decode_image
from panelscan.intake.resolution import from_format, judge, resolve
from panelscan.model.formats import US_PRINT
from panelscan.model.units import ResolutionSource
from tests.intake import makers

A4 = (2480, 3508)


def stated(data: bytes):
    return decode_image(data, "page", 5200).ppi


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "BMP"])
@pytest.mark.parametrize("dpi", [300, 600, 150])
def test_each_kind_of_header_is_read(form, dpi):
    # JFIF 1.02 density; PNG pHYs in pixels per metre (11809 for 300); TIFF tags 282, 283, 296.
    assert stated(makers.encoded(makers.picture(), form, dpi=(dpi, dpi))) == (dpi, dpi)


def test_webp_keeps_it_in_exif():
    exif = Image.Exif()
    exif[0x011A], exif[0x011B], exif[0x0128] = 300.0, 300.0, 2
    assert stated(makers.encoded(makers.picture(), "WEBP", exif=exif)) == (300.0, 300.0)


def test_exif_in_centimetres():
    # EXIF 2.3, ResolutionUnit 3; 118 per cm is 299.72 per inch, the rounding of 300.
    exif = Image.Exif()
    exif[0x011A], exif[0x011B], exif[0x0128] = 118.0, 118.0, 3
    assert stated(makers.encoded(makers.picture(), "PNG", exif=exif)) == (300.0, 300.0)


def test_tiff_without_a_unit_says_nothing():
    # TIFF 6.0, ResolutionUnit 1: no absolute unit.
    out = io.BytesIO()
    tifffile.imwrite(out, makers.picture(), resolution=(300, 300), resolutionunit="NONE")
    assert stated(out.getvalue()) is None


def test_files_that_say_nothing_give_none():
    for form in ("JPEG", "PNG", "WEBP", "GIF"):
        assert stated(makers.encoded(makers.picture(), form)) is None


@pytest.mark.parametrize("filler", [72.0, 96.0])
def test_a_filler_is_believed_only_where_it_makes_a_known_sheet(filler):
    # 1240 x 1754 at 72 would be 437 x 619 mm; A4 (ISO 216) at 72 is 595 x 842.
    assert judge((filler, filler), (1240, 1754))[0] is None
    sheet = round(210 / 25.4 * filler), round(297 / 25.4 * filler)
    assert judge((filler, filler), sheet)[0] == (filler, filler)


@pytest.mark.parametrize(
    ("ppi", "size"),
    [((5.0, 5.0), A4), ((300.0, 50.0), A4), ((300.0, 300.0), (300, 400)), ((30.0, 30.0), A4)],
)
def test_figures_that_no_page_has_are_not_believed_and_said_so(ppi, size):
    believed, note = judge(ppi, size)
    assert believed is None
    assert "believed" in note


def test_order_of_trust_is_file_then_dpi_then_format():
    found, _ = resolve((300.0, 300.0), A4, 600, US_PRINT)
    assert found.source is ResolutionSource.FILE
    found, notes = resolve((72.0, 72.0), A4, 600, US_PRINT)
    assert (found.x_ppi, found.source) == (600, ResolutionSource.GIVEN)
    assert any("filler" in note for note in notes)
    found, _ = resolve(None, (1988, 3075), None, US_PRINT)
    assert found.source is ResolutionSource.PAGE_FORMAT
    found, notes = resolve(None, A4)
    assert found is None
    assert any("unknown" in note for note in notes)


def test_a_given_figure_that_the_file_contradicts_is_noted():
    _, notes = resolve((300.0, 300.0), A4, 600)
    assert any("not 600" in note for note in notes)


@pytest.mark.parametrize(
    ("inches", "name"),
    [((6.625, 10.25), "trim"), ((6.875, 10.5), "trim and bleed"), ((13.25, 10.25), "facing pages")],
)
def test_format_is_recognized_by_its_proportions(inches, name):
    # US print size by two printers' sheets: trim 6.625 x 10.25 in, 1/8 in bleed each side.
    size = round(inches[0] * 400), round(inches[1] * 400)
    found, note = from_format(US_PRINT, size)
    assert found.mean_ppi == pytest.approx(400, rel=0.002)
    assert f"({name})" in note


def test_an_image_of_other_proportions_stays_unknown():
    found, note = from_format(US_PRINT, (3000, 3000))
    assert found is None
    assert "proportions" in note


def test_resolution_is_that_of_the_full_size_also_when_read_reduced():
    page = np.full((6400, 4000), 255, np.uint8)
    data = makers.encoded(page, "JPEG", dpi=(600, 600))
    found = decode_image(data, "page", 4000)
    assert found.reduction == 2
    assert found.ppi == (600.0, 600.0)
