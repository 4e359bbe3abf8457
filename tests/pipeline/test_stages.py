from __future__ import annotations

import numpy as np
import pytest

from panelscan.demo.maker import draw_page
from panelscan.demo.wear import Wear
from panelscan.errors import InputError, NothingFound
from panelscan.intake.sources import list_pages
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage, PagePart
from panelscan.model.record import LOOK_COLUMNS, LOOK_ROWS
from panelscan.pipeline import stages
from panelscan.pipeline.look import coarse_look
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.stages import answer_page, look_at, read_page
from tests.intake import makers
from tests.intake.drawn_spreads import facing_pages
from tests.pipeline import fakes


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(stages, "find", fakes.find)


def test_a_page_goes_through_all_stages_in_earnest(tmp_path):
    drawn = draw_page("grid", 1, height_px=1200, wear=Wear())
    path = makers.write(tmp_path / "tide/p1.png", makers.encoded(drawn.pixels, "PNG"))
    (record,) = read_page(list_pages([path]).pages[0], ScanOptions(dpi=150, direction="ltr"))
    height, width = drawn.pixels.shape[:2]
    assert (record.book, record.width_px, record.height_px) == ("tide", width, height)
    assert record.resolution is not None and record.resolution.x_ppi == 150
    found = [panel.outline for panel in record.finding.panels]
    true = [panel.outline for panel in drawn.truth.panels]
    met = sum(any(outline.iou(other) > 0.9 for other in found) for outline in true)
    assert met >= 0.8 * len(true)
    assert sorted(record.layout.order) == list(range(len(found)))
    assert len(record.grid) == len(found)
    assert all(panel.room is not None for panel in record.finding.panels)
    assert record.finding.detector
    assert record.settings["dpi"] == "150"
    assert len(record.look) == LOOK_ROWS * LOOK_COLUMNS


def test_look_at_gives_the_page_and_its_pixels(tmp_path, quick):
    data = makers.archive({f"p{k}.png": makers.png() for k in (10, 9)})
    path = makers.write(tmp_path / "b.cbz", data)
    record, image = look_at(path, 1)
    assert record.ref.member == "p10.png"
    assert image.pixels.shape == (60, 40)
    with pytest.raises(NothingFound, match="no page 3"):
        look_at(path, 2)


def test_look_at_names_what_is_wrong(tmp_path):
    with pytest.raises(InputError, match=r"none\.png: there is no such file"):
        look_at(tmp_path / "none.png")
    path = makers.write(tmp_path / "p.png", makers.png_bomb())
    with pytest.raises(InputError, match=r"p\.png: it ends early"):
        look_at(path)


def test_look_at_takes_the_half_asked_for(tmp_path, quick):
    drawn = facing_pages(np.random.default_rng(3), "none")
    data = makers.encoded(drawn.pixels.astype(np.uint8), "PNG")
    path = makers.write(tmp_path / "p.png", data)
    assert look_at(path)[0].ref.part is PagePart.LEFT
    assert look_at(path, options=ScanOptions(direction="rtl"))[0].ref.part is PagePart.RIGHT
    assert look_at(path, part="right")[0].ref.part is PagePart.RIGHT
    with pytest.raises(NothingFound, match="no left half"):
        look_at(makers.write(tmp_path / "q.png", makers.png()), part="left")


def test_whatever_goes_wrong_is_a_failure_that_names_the_page(tmp_path, monkeypatch):
    (page,) = list_pages([makers.write(tmp_path / "p.png", makers.png())]).pages
    for error in (MemoryError(), ZeroDivisionError("x"), InputError(f"{page.label}: odd.", "Do.")):

        def broken(*_, error=error):
            raise error

        monkeypatch.setattr(stages, "find", broken)
        failure = answer_page(page, ScanOptions()).failure
        assert failure is not None
        assert failure.label == page.label
        assert failure.reason and not failure.reason.startswith(page.label)


def test_coarse_look_sees_the_frame_alone():
    pixels = np.full((480, 320), 255, np.uint8)
    pixels[:240, :160] = 0
    image = PageImage(pixels, 320, 480)
    whole = np.frombuffer(coarse_look(image, Outline.box(0, 0, 320, 480)), np.uint8)
    cells = whole.reshape(LOOK_ROWS, LOOK_COLUMNS)
    assert cells[:11, :7].max() == 0
    assert cells[13:].min() == 255
    quarter = coarse_look(image, Outline.box(0, 0, 160, 240))
    assert max(quarter[: LOOK_COLUMNS * 20]) < 40
