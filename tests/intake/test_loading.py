from __future__ import annotations

import hashlib
import io
from pathlib import Path

import numpy as np
import pikepdf
import pytest

from panelscan.errors import InputError, ResolutionError, UsageError
from panelscan.intake.loading import content_sha256, load_page, load_whole
from panelscan.intake.options import IntakeOptions
from panelscan.intake.sources import SourcePage, list_pages, probe_file
from panelscan.model.page import PagePart
from panelscan.model.units import ResolutionSource
from tests.intake import makers
from tests.intake.test_tiff import pages as tiff_pages

OPTIONS = IntakeOptions()


def only(path) -> SourcePage:
    (page,) = list_pages([path]).pages
    return page


def test_a_plain_image_has_the_hash_of_its_bytes_loose_or_packed(tmp_path):
    data = makers.png(dpi=(300, 300))
    loose = only(makers.write(tmp_path / "p.png", data))
    packed = only(makers.write(tmp_path / "b.cbz", makers.archive({"x/p.png": data})))
    expected = hashlib.sha256(data).hexdigest()
    for page in (loose, packed):
        (loaded,) = load_page(page, OPTIONS)
        assert loaded.ref.content_sha256 == content_sha256(page, OPTIONS) == expected
        assert loaded.ref.part is PagePart.WHOLE
        np.testing.assert_array_equal(loaded.image.pixels, makers.picture())
    assert load_page(loose)[0].ref.page_id == load_page(packed)[0].ref.page_id


def test_pages_of_a_pdf_or_tiff_are_told_apart(tmp_path):
    drawn = makers.pdf_of_drawing(b"0 g 9 9 40 50 re f", (288, 432), pages=2)
    with pikepdf.open(io.BytesIO(drawn)) as document:
        document.pages[1].obj["/Rotate"] = 90
        document.save(tmp_path / "b.pdf")
    pdf = (tmp_path / "b.pdf").as_posix()
    tiff = makers.write(tmp_path / "b.tif", tiff_pages(60, 50))
    for path in (pdf, tiff):
        hashes = [load_whole(page, OPTIONS).ref.content_sha256 for page in probe_file(path).pages]
        assert len(set(hashes)) == 2
        assert hashes == [content_sha256(page, OPTIONS) for page in probe_file(path).pages]
    other = IntakeOptions(pdf_dpi=150)
    first = probe_file(pdf).pages[0]
    assert content_sha256(first, OPTIONS) != content_sha256(first, other)


def _hashes(path: str) -> list[str]:
    return [content_sha256(page, OPTIONS) for page in probe_file(path).pages]


def test_pages_stay_the_same_when_others_come_before_them_in_a_pdf(tmp_path):
    drawings = [b"0 g 10 10 30 40 re f", b"0 g 20 20 30 40 re f", b"0 g 5 5 9 9 re f"]
    first, more = pikepdf.new(), pikepdf.new()
    for document, order in ((first, (0, 1)), (more, (2, 0, 1))):
        for k in order:
            document.add_blank_page(page_size=(90, 120))
            document.pages[-1].Contents = pikepdf.Stream(document, drawings[k])
    first.save(tmp_path / "a.pdf")
    more.save(tmp_path / "b.pdf", object_stream_mode=pikepdf.ObjectStreamMode.disable)
    before, after = (_hashes((tmp_path / name).as_posix()) for name in ("a.pdf", "b.pdf"))
    assert after[1:] == before
    assert len(set(after)) == 3


def test_a_turned_or_cropped_pdf_page_is_another_page(tmp_path):
    plain = makers.pdf_of_image(makers.encoded(makers.picture(), "JPEG"), (40, 60), (40, 60))
    seen = set()
    for change in ({}, {"Rotate": 90}, {"CropBox": pikepdf.Array([0, 0, 20, 20])}):
        with pikepdf.open(io.BytesIO(plain)) as document:
            for key, value in change.items():
                document.pages[0].obj[f"/{key}"] = value
            document.save(tmp_path / "c.pdf")
        seen.update(_hashes((tmp_path / "c.pdf").as_posix()))
    assert len(seen) == 3


def test_images_stay_the_same_when_others_come_before_them_in_a_tiff(tmp_path):
    for settings in ({}, {"bigtiff": True}, {"byteorder": ">"}):
        before = _hashes(makers.write(tmp_path / "a.tif", tiff_pages(60, 50, **settings)))
        after = _hashes(makers.write(tmp_path / "b.tif", tiff_pages(40, 60, 50, **settings)))
        assert after[1:] == before
        assert len(set(after)) == 3


def test_resolution_and_notes_come_with_the_page(tmp_path):
    page = np.full((3508, 2480), 255, np.uint8)
    path = makers.write(tmp_path / "p.png", makers.encoded(page, "PNG", dpi=(300, 300)))
    image = load_page(only(path))[0].image
    assert image.resolution is not None
    assert image.resolution.source is ResolutionSource.FILE
    assert (image.resolution.x_ppi, image.reduction) == (300, 1)
    bare = makers.write(tmp_path / "q.png", makers.png())
    image = load_page(only(bare))[0].image
    assert image.resolution is None
    assert any("unknown" in note for note in image.notes)


def test_pdf_pages_know_their_size(tmp_path):
    path = makers.write(tmp_path / "b.pdf", makers.pdf_of_drawing(b"", (477, 738)))
    image = load_page(only(path), IntakeOptions(pdf_dpi=150))[0].image
    # US print trim: 477 x 738 pt is 6.625 x 10.25 in.
    assert image.resolution is not None
    assert image.resolution.source is ResolutionSource.PDF
    assert image.resolution.x_mm(image.width_px) == pytest.approx(168.275, abs=0.2)


def test_errors_name_the_page_once(tmp_path):
    data = makers.archive({"p1.png": makers.png_bomb()})
    page = only(makers.write(tmp_path / "b.cbz", data))
    with pytest.raises(InputError) as caught:
        load_page(page)
    assert str(caught.value).startswith(f"{page.source_path}: p1.png: it ends early")
    assert str(caught.value).count("b.cbz") == 1
    assert caught.value.exit_code == 3


def test_a_file_that_went_away_is_told(tmp_path):
    path = makers.write(tmp_path / "p.png", makers.png())
    page = only(path)
    Path(path).unlink()
    with pytest.raises(InputError, match="no such file"):
        load_page(page)


def test_a_dot_is_no_page(tmp_path):
    path = makers.write(tmp_path / "p.png", makers.encoded(makers.picture(1, 50), "PNG"))
    with pytest.raises(InputError, match=r"p\.png: it has only 50 x 1 pixels"):
        load_page(only(path))


def test_options_are_checked_when_made():
    with pytest.raises(ResolutionError, match="No page has 5 dpi"):
        IntakeOptions(dpi=5)
    with pytest.raises(ResolutionError):
        IntakeOptions(pdf_dpi=99999)
    with pytest.raises(UsageError):
        IntakeOptions(full_size_limit_px=10)


def test_pages_at_an_address_are_read():
    import fsspec

    memory = fsspec.filesystem("memory")
    memory.pipe("/inks/p1.png", makers.png())
    memory.pipe("/inks/b.pdf", makers.pdf_of_drawing(b"0 g 0 0 10 10 re f", (72, 72)))
    try:
        found = {p.label: load_page(p)[0] for p in list_pages(["memory://inks"]).pages}
        assert found["memory://inks/p1.png"].image.pixels.shape == (60, 40)
        assert found["memory://inks/b.pdf: page 1"].image.pixels.shape == (300, 300)
    finally:
        memory.rm("/inks", recursive=True)
