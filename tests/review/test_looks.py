"""Both views for everybody: axe-core's rules, small screens, fingers, nothing from outside."""

from __future__ import annotations

import time

import pytest

from tests.review.conftest import Hand
from tests.review.made_up import kinds, outlines, tiers

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", [(1440, 900), (390, 844)])
def test_both_views_have_no_serious_fault_and_ask_nothing_outside(shelf, served, watched, size):
    page, hand = watched.page, Hand(watched.page)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.goto(served.address)
    page.wait_for_selector(".card")
    page.wait_for_load_state("networkidle")
    assert watched.faults() == []
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    assert wide <= size[0]
    hand.open(served, shelf.pages[2])
    hand.keys("Tab", ".")
    page.click("#check")
    page.wait_for_selector("#answer-check")
    assert watched.faults() == []
    assert page.evaluate("() => document.documentElement.scrollWidth") <= size[0]
    page.keyboard.press("?")
    assert watched.faults() == []
    assert watched.console == []
    assert {url.split("/")[2] for url in watched.requests} == {served.origin.split("/")[2]}
    assert "<b>" in page.locator(".side h2.name").inner_text()  # a name, not markup


def test_fingers_pick_drag_and_pinch(shelf, served, chromium):
    page_id, boxes = shelf.pages[0], tiers(2, 1, 2)
    context = chromium.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    try:
        hand = Hand(page)
        hand.open(served, page_id)
        wire = context.new_cdp_session(page)

        def touch(kind, *places):
            points = [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(places)]
            wire.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        x0, y0, x1, y1 = boxes[0]
        page.touchscreen.tap(*hand.spot((x0 + x1) / 2, (y0 + y1) / 2))
        page.wait_for_selector("circle.corner")
        # one finger drags a corner
        (ax, ay), (bx, by) = hand.spot(x0, y0), hand.spot(x0 + 60, y0 + 70)
        touch("touchStart", (ax, ay))
        for k in range(1, 6):
            touch("touchMove", (ax + (bx - ax) * k / 5, ay + (by - ay) * k / 5))
        touch("touchEnd")
        hand.says("Outline saved")
        x, y = outlines(shelf.library, page_id)[0].points[0]
        assert abs(x - x0 - 60) < 25 and abs(y - y0 - 70) < 25
        assert kinds(shelf.library, page_id) == ["SetOutline"]
        # two fingers zoom, and change nothing
        before = [float(v) for v in page.locator(".table svg").get_attribute("viewBox").split()]
        mx, my = hand.spot(400, 600)
        touch("touchStart", (mx - 30, my), (mx + 30, my))
        for k in range(1, 6):
            touch("touchMove", (mx - 30 - 12 * k, my), (mx + 30 + 12 * k, my))
        touch("touchEnd")
        after = [float(v) for v in page.locator(".table svg").get_attribute("viewBox").split()]
        assert after[2] < 0.6 * before[2]
        nearby = hand.spot(400, 600)
        assert abs(nearby[0] - mx) < 12 and abs(nearby[1] - my) < 12  # zoomed about the fingers
        page.wait_for_timeout(300)
        assert kinds(shelf.library, page_id) == ["SetOutline"]
    finally:
        context.close()


def test_the_wheel_zooms_about_the_mouse_and_dragging_moves_the_page(shelf, served, hand):
    hand.open(served, shelf.pages[0])
    at = hand.spot(300, 300)
    hand.page.mouse.move(*at)
    hand.page.mouse.wheel(0, -600)
    hand.until("Number(document.querySelector('.table svg').getAttribute('viewBox')"
               ".split(' ')[2]) < 500")
    again = hand.spot(300, 300)
    assert abs(again[0] - at[0]) < 2 and abs(again[1] - at[1]) < 2
    hand.page.mouse.down()
    hand.page.mouse.move(at[0] + 50, at[1] + 40, steps=4)
    hand.page.mouse.up()
    moved = hand.spot(300, 300)
    assert abs(moved[0] - at[0] - 50) < 3 and abs(moved[1] - at[1] - 40) < 3
    assert kinds(shelf.library, shelf.pages[0]) == []


def test_a_closed_tab_loses_nothing(shelf, served, chromium):
    page = chromium.new_page()
    hand = Hand(page)
    hand.open(served, shelf.pages[0])
    hand.keys("Tab", ".", "ArrowRight")  # waits for more keys before it is saved …
    page.close(run_before_unload=False)  # … but the tab is closed at once
    for _ in range(100):
        if kinds(shelf.library, shelf.pages[0]):
            break
        time.sleep(0.1)
    assert kinds(shelf.library, shelf.pages[0]) == ["SetOutline"]


def test_a_server_that_went_away_is_told(shelf, served, hand):
    hand.open(served, shelf.pages[0])
    hand.page.context.set_offline(True)
    hand.keys("Tab", "Delete")
    hand.says("does not answer")
    hand.page.context.set_offline(False)
    hand.keys("Delete")
    hand.says("Deleted")
    assert kinds(shelf.library, shelf.pages[0]) == ["DeletePanel"]


def test_the_shelf_is_walked_by_keys_and_stays_where_it_was(shelf, served, watched):
    page, hand = watched.page, Hand(watched.page)
    page.set_viewport_size({"width": 390, "height": 500})
    page.goto(served.address)
    page.wait_for_selector(".card")
    page.focus(".card[tabindex='0']")
    stood = "document.activeElement.dataset.page"
    hand.keys("End")
    last = page.evaluate(stood)
    assert last == shelf.pages[0]  # the least doubtful
    assert page.evaluate("document.querySelectorAll('.card[tabindex=\"0\"]').length") == 1
    top = page.evaluate("document.querySelector('.rows').scrollTop")
    assert top > 100
    hand.keys("Enter")
    page.wait_for_selector(f".table image[href='/picture/{last}']")
    hand.keys("Escape")
    hand.until("document.querySelectorAll('.card:not([hidden])').length")
    assert page.evaluate("document.querySelector('.rows').scrollTop") == top
    # Asked for once more the shelf is there once more.
    page.goto(f"{served.origin}/#")
    hand.until("document.querySelectorAll('.card:not([hidden])').length")
    page.focus(".card[tabindex='0']")
    hand.keys("Home", "ArrowRight", "ArrowDown")
    assert page.evaluate(stood) == shelf.pages[1]
    order = [card[0] for card in shelf.desk.shelf()["pages"]]
    assert order.index(shelf.pages[1]) == 3  # one to the right, then two across
    assert watched.console == []


def test_an_empty_shelf_says_so(shelf, served, watched):
    page, hand = watched.page, Hand(watched.page)
    page.goto(served.address)
    page.wait_for_selector(".card")
    page.fill("#where", "panel_count > 90")
    page.click("#sift")
    page.wait_for_selector(".none:not([hidden])")
    assert "No page is like that" in page.locator(".none").inner_text()
    assert watched.faults() == []
    page.fill("#where", "panel_count >")
    page.click("#sift")
    hand.until("document.getElementById('word').textContent.length > 10")
    page.fill("#where", "")
    page.click("#sift")
    hand.until("document.querySelectorAll('.card:not([hidden])').length === 5")
    assert not page.locator(".none").is_visible()
