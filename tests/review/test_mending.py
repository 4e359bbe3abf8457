"""Every action of the page, by mouse and by keyboard, and what it leaves in the library."""

from __future__ import annotations

import pytest

from panelscan.corpus.labels import labels_now
from panelscan.model.outline import Outline
from tests.review.made_up import WIDTH, kinds, outlines, row_of, tiers

pytestmark = pytest.mark.browser


def middle(box):
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def at(page_boxes, *numbers):
    return [middle(page_boxes[n]) for n in numbers]


def near(found, wanted, within=1.0):
    return abs(found[0] - wanted[0]) <= within and abs(found[1] - wanted[1]) <= within


def test_outlines_by_mouse(shelf, served, hand, watched):
    page, boxes = shelf.pages[0], tiers(2, 1, 2)
    hand.open(served, page)
    x0, y0, x1, y1 = boxes[0]
    hand.click(*middle(boxes[0]))
    hand.page.keyboard.down("Alt")  # a corner, freely
    hand.drag((x0, y0), (x0 + 40, y0 + 90))
    hand.page.keyboard.up("Alt")
    hand.says("Outline saved")
    assert near(outlines(shelf.library, page)[0].points[0], (x0 + 40, y0 + 90), 3.0)
    hand.drag((x0 + 40, y0 + 90), (x0 + 3, y0 - 4))  # back, and it snaps to the drawn border
    hand.until("document.querySelectorAll('#history li').length === 2")
    assert near(outlines(shelf.library, page)[0].points[0], (x0, y0))
    hand.drag(((x0 + x1) / 2, y1), ((x0 + x1) / 2 + 5, y1 - 7))  # a side, snapping too
    hand.until("document.querySelectorAll('#history li').length === 3")
    found = outlines(shelf.library, page)[0]
    assert found.iou(Outline.box(*boxes[0])) > 0.995
    assert kinds(shelf.library, page) == ["SetOutline"] * 3
    # undo by the button, all the way; redo
    for _ in range(3):
        hand.tool("tool-undo")
    hand.until("document.querySelectorAll('#history s').length === 3")
    hand.tool("tool-redo")
    hand.until("document.querySelectorAll('#history s').length === 2")
    assert near(outlines(shelf.library, page)[0].points[0], (x0 + 40, y0 + 90), 3.0)
    assert watched.console == []


def test_outlines_by_keys(shelf, served, hand):
    page, boxes = shelf.pages[0], tiers(2, 1, 2)
    hand.open(served, page)
    hand.keys("Tab", ".", "ArrowLeft", "Shift+ArrowDown")  # first corner: 1 left, 10 down
    hand.says("Outline saved")
    x0, y0 = boxes[0][:2]
    x, y = outlines(shelf.library, page)[0].points[0]
    assert x < x0 and y > y0
    hand.keys(".", "ArrowUp")  # the side after it
    hand.until("document.querySelectorAll('#history li').length === 2")
    hand.keys("z")
    hand.says("Taken back")
    hand.keys("Control+z")
    hand.until("document.querySelectorAll('#history s').length === 2")
    assert near(outlines(shelf.library, page)[0].points[0], (x0, y0), 0.1)
    hand.page.reload()  # what can be brought back is known after a reload, too
    hand.page.wait_for_selector("#history")
    hand.keys("Z", "Z")
    hand.until("document.querySelectorAll('#history s').length === 0")
    assert outlines(shelf.library, page)[0].points[0][0] < x0
    hand.keys("z", "z", "z")
    hand.says("nothing left to take back")


def test_adding_joining_cutting_deleting_by_mouse(shelf, served, hand):
    page, boxes = shelf.pages[2], tiers(2, 1, 2)
    missed = boxes[2]
    hand.open(served, page)
    hand.tool("tool-within")
    hand.click(missed[0] + 40, missed[1] + 30)
    hand.says("Panel added")
    assert outlines(shelf.library, page)[2].iou(Outline.box(*missed)) > 0.98
    hand.keys("Delete")
    hand.says("Deleted")
    assert len(outlines(shelf.library, page)) == 4
    hand.tool("tool-box")
    hand.drag((missed[0] + 4, missed[1] - 5), (missed[2] - 3, missed[3] + 4))
    hand.says("Panel added")
    assert outlines(shelf.library, page)[2].iou(Outline.box(*missed)) > 0.98
    hand.tool("tool-cut")
    hand.drag((WIDTH / 2, missed[1] - 20), (WIDTH / 2, missed[3] + 20))
    hand.says("Cut in two")
    assert len(outlines(shelf.library, page)) == 6
    hand.click(missed[0] + 40, middle(missed)[1])
    hand.tool("tool-join")
    hand.click(missed[2] - 40, middle(missed)[1])
    hand.says("Panels joined")
    found = outlines(shelf.library, page)
    assert len(found) == 5 and found[2].iou(Outline.box(*missed)) > 0.97
    told = [k for k in kinds(shelf.library, page) if k != "SetOutline"]  # halves that snapped
    assert told == ["AddPanel", "DeletePanel", "AddPanel", "SplitPanel", "MergePanels"]


def test_adding_joining_cutting_deleting_by_keys(shelf, served, hand):
    page, boxes = shelf.pages[2], tiers(2, 1, 2)
    hand.open(served, page)
    hand.keys("w", "Enter")  # the cross starts in the middle: inside the drawn ball
    hand.until("document.getElementById('word').textContent")
    hand.keys("w", *["Shift+ArrowUp"] * 3, "Enter")
    hand.says("Panel added")
    hand.keys("Delete")
    hand.says("Deleted")
    hand.keys("a", "ArrowDown", "Shift+ArrowRight", "Enter")
    hand.says("Panel added")
    assert len(outlines(shelf.library, page)) >= 5
    hand.keys("Escape", "Tab", "c", "r", "Enter")  # the first panel, along an upright line
    hand.says("Cut in two")
    found = outlines(shelf.library, page)
    assert found[0].width < 0.6 * (boxes[0][2] - boxes[0][0])
    hand.keys("Tab", "j", "Tab", "Enter")
    hand.says("Panels joined")
    assert outlines(shelf.library, page)[0].iou(Outline.box(*boxes[0])) > 0.95
    told = [k for k in kinds(shelf.library, page) if k != "SetOutline"]
    assert told[-4:] == ["DeletePanel", "AddPanel", "SplitPanel", "MergePanels"]


def test_sides_order_direction_edge_fold_by_mouse(shelf, served, hand):
    page, boxes = shelf.pages[3], tiers(2, 2)
    hand.open(served, page)
    hand.click(*middle(boxes[0]))
    x0, y0, x1, _ = boxes[0]
    hand.click((x0 + x1) / 2, y0)
    hand.tool("tool-bleed")
    hand.says("Side: bleed")
    hand.tool("tool-inferred")
    hand.says("Side: inferred")
    hand.tool("tool-stroke")
    hand.drag(*at(boxes, 0, 1, 2, 3))  # across the fold, which no rule would do
    hand.says("Order saved")
    order = [o.bounds[:2] for o in outlines(shelf.library, page)]
    assert order == [boxes[n][:2] for n in (0, 1, 2, 3)]
    assert row_of(shelf.library, page, "panels")["side_states"][0] == "inferred"
    hand.tool("tool-direction")
    hand.says("right to left")
    hand.tool("tool-frame")
    hand.drag((0, 0), (12, 16))
    hand.says("edge was set")
    hand.tool("tool-fold")
    hand.drag((WIDTH / 2, 300), (WIDTH / 2 + 30, 320))
    hand.says("fold was set")
    row = row_of(shelf.library, page)
    assert row["direction"] == "rtl"
    assert abs(row["fold_x_px"] - WIDTH / 2 - 30) < 3
    assert row["width_px"] == WIDTH and row["bbox"]["ymin"] > -1
    assert kinds(shelf.library, page) == [
        "SetSideState", "SetSideState", "Reorder", "SetDirection", "SetPageFrame", "SetFold"
    ]


def test_sides_order_direction_edge_fold_by_keys(shelf, served, hand):
    page, boxes = shelf.pages[3], tiers(2, 2)
    hand.open(served, page)
    hand.keys("Tab", ".", ".", "b")
    hand.says("Side: bleed")
    hand.keys("i")
    hand.says("Side: inferred")
    hand.keys("Escape", "o", "Tab", " ", "Tab", "Tab", " ", "Enter")
    hand.says("Order saved")
    order = [o.bounds[:2] for o in outlines(shelf.library, page)]
    assert order == [boxes[n][:2] for n in (0, 1, 2, 3)]
    hand.keys("d")
    hand.says("right to left")
    hand.keys("e", ".", "ArrowLeft", "Enter")
    hand.says("edge was set")
    hand.keys("f", "ArrowRight", "Enter")
    hand.says("fold was set")
    assert WIDTH / 2 < row_of(shelf.library, page)["fold_x_px"] < WIDTH / 2 + 30
    hand.keys("f", "Delete")
    hand.says("has no fold")
    row = row_of(shelf.library, page)
    assert (row["fold_x_px"], row["direction"]) == (None, "rtl")
    corner = shelf.library.page(page).record.finding.frame.points[1]
    assert WIDTH - 30 < corner[0] < WIDTH and corner[1] == 0


def test_another_reading_is_shown_and_taken(shelf, served, hand):
    page = shelf.pages[2]
    hand.open(served, page)
    hand.page.hover("#reading-0")
    assert hand.page.locator(".draft").count() == 5
    hand.tool("reading-0")
    hand.says("other reading was taken")
    assert len(outlines(shelf.library, page)) == 5
    assert kinds(shelf.library, page) == ["AddPanel"]  # what both readings share stays
    hand.keys("z")
    hand.says("Taken back")
    hand.keys("m")
    hand.says("other reading was taken")
    assert len(outlines(shelf.library, page)) == 5


def test_a_typical_wrong_page_is_mended_in_six_actions(shelf, served, hand):
    """One merged panel, and an order that the artist wants otherwise; counted."""
    page, truth = shelf.pages[1], tiers(2, 2, 1)
    hand.open(served, page)
    hand.actions = 0
    hand.keys("c")
    hand.drag((WIDTH / 2, 30), (WIDTH / 2 + 2, 410))
    hand.keys("o")
    hand.drag(*at(truth, 0, 2, 1, 3, 4))
    hand.keys("g")
    hand.says("Called fine")
    assert hand.actions <= 6
    found = outlines(shelf.library, page)
    wanted = [Outline.box(*truth[n]) for n in (0, 2, 1, 3, 4)]
    assert [f.iou(w) > 0.98 for f, w in zip(found, wanted, strict=True)] == [True] * 5
    assert row_of(shelf.library, page)["reviewed"] is True
    # the next page is on the desk, and the top line tells
    hand.until("document.getElementById('how-it-goes').textContent.includes('1 of 5 pages')")
    shown = hand.page.locator(".table image").get_attribute("href")
    assert shown != f"/picture/{page}"


def test_labels_rating_pages_alike_template_check(shelf, served, hand):
    page = shelf.pages[0]
    hand.open(served, page)
    p = hand.page
    p.fill("#label-name", "scene")
    p.fill("#label-value", "<b>storm</b>")
    hand.tool("label-save")
    hand.says("Label saved")
    assert "<b>storm</b>" in p.locator("#labels").inner_text()
    p.select_option("#rating", "4")
    hand.until("document.getElementById('rating').value === '4'")
    hand.says("Label saved")
    p.focus(".table svg")
    hand.keys("l")
    assert p.locator("#answer-alike li").first.inner_text().startswith("Kelp <b>&, page 5")
    hand.tool("check")
    p.wait_for_selector("#answer-check", timeout=30000)
    p.select_option("#kind", "svg")
    p.focus(".table svg")
    hand.keys("t")
    p.wait_for_selector("#answer-template", timeout=60000)
    assert [f.name for f in shelf.desk.templates.iterdir()] == ["Kelp-b-001.svg"]
    hand.tool("alike")
    p.locator("#answer-alike a").first.click()
    p.wait_for_selector(f".table image[href='/picture/{shelf.pages[4]}']")
    told = labels_now(shelf.library.place).by_page
    assert (told["scene"], told["rating"]) == ({page: "<b>storm</b>"}, {page: "4"})
    # the shelf can be sifted by them
    hand.keys("Escape", "Escape")
    p.wait_for_selector(".card")
    p.reload()
    p.wait_for_selector(".card")
    p.select_option("#label", '["scene","<b>storm</b>"]')
    hand.until("document.querySelectorAll('.card:not([hidden])').length === 1")


def test_keys_are_listed_and_pages_turned(shelf, served, hand):
    hand.open(served, shelf.pages[0])
    hand.keys("?")
    assert hand.page.locator("#keys").is_visible()
    assert hand.page.locator("#key-table tr").count() >= 20
    hand.keys("Escape")
    assert not hand.page.locator("#keys").is_visible()
    href = "document.querySelector('.table image').getAttribute('href')"
    first = hand.page.evaluate(href)
    hand.keys("p")
    hand.until(f"{href} !== '{first}'")
    hand.keys("n")
    hand.until(f"{href} === '{first}'")
    before = hand.page.locator(".table svg").get_attribute("viewBox")
    hand.keys("+")
    assert hand.page.locator(".table svg").get_attribute("viewBox") != before
    hand.keys("0")
    assert hand.page.locator(".table svg").get_attribute("viewBox") == before
    hand.keys("Escape")
    hand.page.wait_for_selector(".card")


def test_a_refused_change_whose_page_cannot_be_read_again(shelf, served, hand):
    page, boxes = shelf.pages[0], tiers(2, 1, 2)
    hand.open(served, page)
    hand.page.route("**/api/page/*", lambda route: route.abort())
    hand.page.route("**/api/page/*/change", lambda route: route.fulfill(status=409, body="{}"))
    hand.click(*middle(boxes[0]))
    hand.keys("Delete")
    hand.says("load this window again")
    hand.until("document.querySelectorAll('g[data-key]').length === 5")


def test_two_windows_on_one_page(shelf, served, hand, chromium):
    page, boxes = shelf.pages[0], tiers(2, 1, 2)
    hand.open(served, page)
    other = chromium.new_page()
    try:
        from tests.review.conftest import Hand

        second = Hand(other)
        second.open(served, page)
        second.click(*middle(boxes[4]))
        second.keys("Delete")
        second.says("Deleted")
        answers = []  # held back: the words must wait for the page as it stands
        hand.page.route("**/api/page/*", lambda route: answers.append(route))
        with hand.page.expect_request(lambda asked: asked.method == "GET"):
            hand.click(*middle(boxes[0]))
            hand.keys("Delete")
        hand.page.wait_for_timeout(100)
        assert "Another window" not in hand.page.locator("#word").inner_text()
        answers[0].continue_()
        hand.page.unroute("**/api/page/*")
        hand.says("Another window changed this page")
        assert len(outlines(shelf.library, page)) == 4  # only the first change counts
        assert hand.page.locator("g[data-key]").count() == 4
        hand.keys("Delete")  # once more, on what stands now
        hand.says("Deleted")
        assert len(outlines(shelf.library, page)) == 3
    finally:
        other.close()
