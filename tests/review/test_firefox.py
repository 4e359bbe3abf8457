"""The page in Firefox: both views, a drag, a stroke, a cut, keys, and nothing complained of."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from panelscan.model.outline import Outline
from tests.review.bidi import Firefox
from tests.review.made_up import WIDTH, kinds, outlines, row_of, tiers

pytestmark = pytest.mark.browser
PROGRAMS = ("firefox-esr", "firefox")
SPOT = """(([x, y]) => {
    const root = document.querySelector('.table svg');
    const at = new DOMPoint(x, y).matrixTransform(root.getScreenCTM());
    return [at.x, at.y];
})"""


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    program = next((shutil.which(name) for name in PROGRAMS if shutil.which(name)), None)
    if program is None:
        pytest.skip("no Firefox on the path; scripts/test.py says how to install it")
    firefox = Firefox(program, tmp_path_factory.mktemp("firefox"))
    yield firefox
    firefox.close()


@pytest.fixture
def fox(browser: Firefox) -> Iterator[Firefox]:
    """Firefox at the desk's size; in the end it must not have complained of anything."""
    browser.size(1440, 900)
    browser.console.clear()
    browser.requests.clear()
    yield browser
    assert browser.console == []


def spot(fox, x, y):
    return fox.evaluate(f"{SPOT}([{x}, {y}])")


def middle(fox, box):
    return spot(fox, (box[0] + box[2]) / 2, (box[1] + box[3]) / 2)


def open_page(fox, served, page_id):
    fox.goto(served.address)
    fox.until("document.querySelectorAll('.card:not([hidden])').length === 5")
    fox.evaluate(f"location.hash = 'page/{page_id}'")
    fox.until(f"document.querySelector('.table image')?.getAttribute('href') "
              f"=== '/picture/{page_id}' && document.querySelectorAll('g[data-key]').length")


def test_the_shelf_shows_all_pages_and_walks_by_keys(shelf, served, fox):
    for size in ((1440, 900), (390, 844)):
        fox.size(*size)
        fox.goto(served.address)
        fox.until("[...document.querySelectorAll('.card:not([hidden]) img')]"
                  ".filter(i => !i.hidden && i.naturalWidth).length >= 4")
        assert fox.evaluate("document.documentElement.scrollWidth") <= size[0]
    fox.size(1440, 900)
    fox.evaluate("document.querySelector('.card[tabindex=\"0\"]').focus()")
    fox.keys("ArrowRight", "ArrowRight", "ArrowLeft")
    ids = fox.evaluate("[document.activeElement.dataset.page, "
                       "[...document.querySelectorAll('.card:not([hidden])')].length]")
    assert ids == [shelf.pages[3], 5]  # the second most doubtful
    fox.keys("Enter")
    fox.until(f"document.querySelector('.table image')?.getAttribute('href') "
              f"=== '/picture/{shelf.pages[3]}'")
    own = (f"{served.origin}/", "data:")  # Firefox brings a font of its own as data
    assert [url for url in fox.requests if not url.startswith(own)] == []


def test_a_corner_is_dragged_and_saved(shelf, served, fox):
    page, box = shelf.pages[0], tiers(2, 1, 2)[0]
    open_page(fox, served, page)
    fox.drag(middle(fox, box))
    fox.until("document.querySelectorAll('circle.corner').length === 4")
    fox.drag(spot(fox, box[0], box[1]), spot(fox, box[0] + 30, box[1] + 40),
             spot(fox, box[0] + 60, box[1] + 90))
    fox.says("Outline saved")
    assert kinds(shelf.library, page) == ["SetOutline"]
    x, y = outlines(shelf.library, page)[0].points[0]
    assert abs(x - box[0] - 60) < 25 and abs(y - box[1] - 90) < 25
    fox.keys("z")
    fox.says("Taken back")
    assert outlines(shelf.library, page)[0].iou(Outline.box(*box)) > 0.999
    fox.keys("Shift+Z")
    fox.says("Brought back")


def test_a_wrong_page_is_mended(shelf, served, fox):
    page, truth = shelf.pages[1], tiers(2, 2, 1)
    open_page(fox, served, page)
    fox.keys("c")
    fox.drag(spot(fox, WIDTH / 2, 30), spot(fox, WIDTH / 2 + 2, 410))
    fox.says("Cut in two")
    fox.keys("o")
    fox.drag(*(middle(fox, truth[n]) for n in (0, 2, 1, 3, 4)))
    fox.says("Order saved")
    fox.keys("g")
    fox.says("Called fine")
    wanted = [Outline.box(*truth[n]) for n in (0, 2, 1, 3, 4)]
    found = outlines(shelf.library, page)
    assert [f.iou(w) > 0.98 for f, w in zip(found, wanted, strict=True)] == [True] * 5
    assert row_of(shelf.library, page)["reviewed"] is True


def test_fingers_drag_a_side(shelf, served, fox):
    page, (x0, y0, x1, y1) = shelf.pages[0], tiers(2, 1, 2)[0]
    open_page(fox, served, page)
    fox.drag(middle(fox, (x0, y0, x1, y1)), kind="touch")
    fox.until("document.querySelectorAll('circle.corner').length === 4")
    side = (x0 + x1) / 2, y1
    fox.drag(spot(fox, *side), spot(fox, side[0], y1 - 40), spot(fox, side[0], y1 - 90),
             kind="touch")
    fox.says("Outline saved")
    found = outlines(shelf.library, page)[0].bounds
    assert abs(found[3] - (y1 - 90)) < 25 and abs(found[1] - y0) < 1
    assert kinds(shelf.library, page) == ["SetOutline"]


def test_panels_by_keys(shelf, served, fox):
    page = shelf.pages[2]
    open_page(fox, served, page)
    fox.keys("m")
    fox.says("other reading was taken")
    fox.keys("Tab", "Tab", ".", "ArrowLeft")
    fox.says("Outline saved")
    fox.keys("Delete")
    fox.says("Deleted")
    fox.keys("Control+z")
    fox.says("Taken back")
    fox.keys("d")
    fox.says("right to left")
    assert len(outlines(shelf.library, page)) == 5
    assert kinds(shelf.library, page) == [
        "AddPanel", "SetOutline", "DeletePanel", "Undo", "SetDirection"]
    fox.keys("?")
    assert fox.evaluate("document.getElementById('keys').open") is True
    fox.keys("Escape")


def test_small_screens_and_pictures(shelf, served, fox, tmp_path: Path):
    open_page(fox, served, shelf.pages[2])
    fox.size(390, 844)
    assert fox.evaluate("document.documentElement.scrollWidth") <= 390
    picture = fox.picture()
    assert picture.startswith(b"\x89PNG\r\n\x1a\n")  # W3C PNG specification, section 5.2
    assert len(picture) > 10_000
