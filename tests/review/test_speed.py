"""How fast the page is: frames while dragging and scrolling, a shelf of 5,000 pages.

The aims are 60 frames a second on a page of 40 panels, and for 5,000 pages a first sight
within 1 s and no frame over 50 ms. Machines that run tests are often busy, which the clock
shows but the processor's own time does not: the processor time of the browser's main thread
is held to the aims, what the clock says of whole frames only loosely. Both are logged, with
the machine's load (``pytest --log-cli-level=INFO``).
"""

from __future__ import annotations

import dataclasses
import json
import logging
import os

import numpy as np
import pyarrow as pa
import pytest

from panelscan.corpus.books import FilePlan
from panelscan.corpus.commit import Change, commit
from panelscan.corpus.store import Library, now_utc
from panelscan.review.desk import Desk
from tests.review.conftest import start
from tests.review.made_up import draw, record, tiers

pytestmark = pytest.mark.browser
LOG = logging.getLogger(__name__)

BUSY = 6.0  # how much slower a busy machine may be than the aim before a test fails

TRACED = ["devtools.timeline", "toplevel"]
TASK, MAIN = "ThreadControllerImpl::RunTask", "CrRendererMain"

WORK = """async ([moves, deed, pixels]) => {
    const root = document.querySelector('.table svg'), times = [], gaps = [];
    let before = 0;
    for (let i = 0; i < moves; i++) {
        await new Promise(requestAnimationFrame);
        const began = performance.now();
        if (before) gaps.push(began - before);
        before = began;
        if (deed === 'drag') {
            const box = root.getBoundingClientRect();
            root.dispatchEvent(new PointerEvent('pointermove', { pointerId: 1, bubbles: true,
                clientX: box.left + box.width / 2 + (i % 40), clientY: box.top + 200 + i % 60 }));
            await null;
            root.getBoundingClientRect();
        } else if (deed === 'scroll') {
            const list = document.querySelector('.rows');
            list.scrollTop += pixels;
            list.dispatchEvent(new Event('scroll'));
            list.offsetHeight;
        }
        times.push(performance.now() - began);
    }
    return [times, gaps];
}"""


def told(name, values):
    middle, high = np.percentile(values, [50, 95])
    LOG.info("%s: median %.1f ms, 95 %% %.1f ms, most %.1f ms", name, middle, high, max(values))
    return middle, high


def measured(hand, moves, deed, pixels=0):
    """Times of the page's own work, of whole frames, and of the main thread's tasks (ms).

    The last are processor time, as the browser's own trace tells it.
    """
    browser = hand.page.context.browser
    browser.start_tracing(page=hand.page, categories=TRACED)
    work, gaps = hand.page.evaluate(WORK, [moves, deed, pixels])
    events = json.loads(browser.stop_tracing())["traceEvents"]
    named = {(e["pid"], e["tid"]): e["args"]["name"] for e in events if e["name"] == "thread_name"}
    tasks: dict[tuple[int, int], list[float]] = {}
    for event in events:
        thread = event["pid"], event["tid"]
        if event["name"] == TASK and "tdur" in event and named.get(thread) == MAIN:
            tasks.setdefault(thread, []).append(event["tdur"] / 1000)
    return work, gaps, max(tasks.values(), key=sum)


@pytest.fixture
def forty(tmp_path, monkeypatch):
    """A library of one page of 40 panels, served."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    boxes = tiers(*[5] * 8)
    draw(tmp_path / "page.png", boxes)
    library = Library.create(tmp_path / "shelf")
    page = record(tmp_path / "page.png", "Tiles", 1, boxes)
    library.commit_book("Tiles", [page])
    served, server, thread = start(Desk(library, tmp_path / "templates", "Ada"))
    yield served, page.ref.page_id, boxes
    server.should_exit = True
    thread.join(10)


def test_a_page_of_forty_panels_drags_smoothly(forty, hand):
    served, page, boxes = forty
    hand.open(served, page)
    box = boxes[22]
    hand.click((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    idle = hand.page.evaluate(WORK, [60, "nothing", 0])[1]
    hand.page.mouse.move(*hand.spot(box[0], box[1]))
    hand.page.mouse.down()
    work, gaps, tasks = measured(hand, 120, "drag")
    hand.page.mouse.up()
    LOG.info("load %.1f; main thread %.1f ms a frame", os.getloadavg()[0], sum(tasks) / 120)
    told("idle frames", idle)
    told("frames while dragging", gaps)
    middle, _ = told("own work in a frame", work)
    assert middle < 1000 / 60 / 2  # half of a frame at 60 a second
    assert sum(tasks) / 120 < 1000 / 60 and max(tasks) < 50
    assert np.median(gaps) < BUSY * 1000 / 60


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """A library of 5,000 made-up pages in 100 books."""
    folder = tmp_path_factory.mktemp("many")
    picture = folder / "page.png"
    shapes = [tiers(2, 1, 2), tiers(3, 3, 3), tiers(1, 2), tiers(2, 2, 2), tiers(1, 3, 2, 2)]
    draw(picture, shapes[0])
    library = Library.create(folder / "shelf")
    laid = [record(picture, "b", 1, boxes, confidence=0.5 + k / 10)
            for k, boxes in enumerate(shapes)]
    book = [
        dataclasses.replace(
            laid[n % len(laid)], page_number=n + 1,
            ref=dataclasses.replace(laid[0].ref, content_sha256=f"{n:064x}"[::-1]),
        )
        for n in range(50)
    ]
    library.commit_book("b", book)
    plan = FilePlan(library.place, now_utc())
    rows = plan.read("b")
    for k in range(99):
        plan.put(f"b{k}", {name: _renamed(table, k) for name, table in rows.items()})
    commit(library.place, Change(plan.writes, tuple(plan.deletes)))
    assert len(set(library.pages(["page_id"])["page_id"].to_pylist())) == 5000
    return library


def _renamed(table, k):
    ids = [f"{v[:6]}{k + 1:02d}{v[8:]}" for v in table["page_id"].to_pylist()]
    for name, values in (("page_id", ids), ("book", [f"b{k}"] * len(ids))):
        place = table.column_names.index(name)
        table = table.set_column(place, name, pa.array(values, pa.string()))
    return table


def test_a_shelf_of_5000_pages_is_seen_at_once_and_scrolls_smoothly(
    many, tmp_path, monkeypatch, hand
):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    desk = Desk(many, tmp_path / "templates", "Ada")
    desk.shelf()  # as the command does while the browser is opening
    served, server, thread = start(desk)
    try:
        seen = []
        for _ in range(2):
            hand.page.goto(served.address)
            hand.page.wait_for_selector(".card")
            hand.until("performance.getEntriesByName('pages shown').length > 0")
            seen.append(hand.page.evaluate(
                "() => performance.getEntriesByName('pages shown')[0].startTime"))
        LOG.info("first seen after %s", [f"{s:.0f} ms" for s in seen])
        assert "5000 of 5000" in hand.page.locator(".sieve").inner_text()
        cards = hand.page.locator(".card").count()
        assert 10 < cards < 120  # only what is seen, and a little beyond
        found = {}
        for pixels in (30, 260):  # as one reads, and as one flies over it
            work, gaps, tasks = measured(hand, 100, "scroll", pixels)
            LOG.info("%d pixels a frame at load %.1f", pixels, os.getloadavg()[0])
            told("frames while scrolling", gaps)
            told("own work in a frame", work)
            told("processor time of the main thread's tasks", tasks)
            LOG.info("main thread: %.1f ms a frame", sum(tasks) / 100)
            found[pixels] = gaps, tasks
        assert hand.page.locator(".card").count() < 120
        hand.until("[...document.querySelectorAll('.card:not([hidden]) img')]"
                   ".filter(i => !i.hidden && i.naturalWidth).length > 10")
    finally:
        server.should_exit = True
        thread.join(10)
    assert min(seen) < BUSY * 1000
    for gaps, tasks in found.values():
        assert max(tasks) < 50
        assert sum(tasks) / 100 < 1000 / 60
        assert np.median(gaps) < 50 * BUSY / 2
