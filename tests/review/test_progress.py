"""How the review goes: what counts as right at first sight, and the pace."""

from __future__ import annotations

import pytest

from panelscan.review.progress import Pace
from tests.review.made_up import HEIGHT, WIDTH

FINE = {"kind": "page-is-fine"}


def change(client, page, *changes):
    revision = client.get(f"/api/page/{page}").json()["revision"]
    answer = client.post(
        f"/api/page/{page}/change", json={"revision": revision, "changes": list(changes)}
    )
    assert answer.status_code == 200, answer.json()
    return answer.json()


def right(client):
    return client.get("/api/progress").json()["right_at_first_sight"]


def box(x0, y0, x1, y1):
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


WRONG = {
    "order": {"kind": "reorder", "order": ["d1", "d0", "d2", "d3", "d4"]},
    "direction": {"kind": "direction", "direction": "rtl"},
    "missed panel": {"kind": "delete-panel", "panel": "d4"},
    "joined": {"kind": "merge-panels", "panels": ["d0", "d1"]},
    "outline": {"kind": "set-outline", "panel": "d2", "outline": box(60, 430, 500, 770)},
    "side": {"kind": "side-state", "panel": "d0", "side": 0, "state": "bleed"},
    "page's edge": {"kind": "page-frame", "outline": box(20, 0, WIDTH, HEIGHT)},
    "fold": {"kind": "fold", "x_px": 390.0},
}
RIGHT = {
    "nothing": {"kind": "page-format", "name": "a4", "width_mm": 210, "height_mm": 297},
    "a nudge": {"kind": "move-corner", "panel": "d0", "corner": 0, "to": [62.0, 59.0]},
    "the order that was found": {"kind": "reorder", "order": ["d0", "d1", "d2", "d3", "d4"]},
    "the direction that was found": {"kind": "direction", "direction": "ltr"},
    "the side as found": {"kind": "side-state", "panel": "d0", "side": 0, "state": "drawn"},
}


@pytest.mark.parametrize("name", WRONG)
def test_a_page_that_had_to_be_changed_was_not_right(client, shelf, name):
    page = shelf.pages[0]
    told = change(client, page, WRONG[name], FINE)
    assert right(client) == 0.0
    # Taken back, the page is as it was first seen.
    change(client, page, {"kind": "undo", "revision": told["revision"] - 1})
    assert right(client) == 1.0


@pytest.mark.parametrize("name", RIGHT)
def test_a_page_that_stands_as_it_was_found_was_right(client, shelf, name):
    change(client, shelf.pages[0], RIGHT[name], FINE)
    assert right(client) == 1.0


def test_the_share_is_of_the_pages_called_fine(client, shelf):
    change(client, shelf.pages[0], FINE)
    change(client, shelf.pages[4], WRONG["order"])
    assert right(client) == 1.0  # the other one is not called fine yet
    change(client, shelf.pages[4], FINE)
    assert right(client) == 0.5
    change(client, shelf.pages[1], FINE)
    assert right(client) == 0.667
    client.get("/api/shelf")
    shelf.desk.progress.read()
    assert right(client) == 0.667
    told = client.get("/api/progress").json()
    assert (told["pages"], told["reviewed"]) == (5, 3)
    assert told["seconds_left"] == pytest.approx(2 * told["seconds_a_page"], abs=0.2)


def at(*seconds):
    ticks = iter(seconds)
    return Pace(lambda: next(ticks))


def test_the_pace_is_the_mean_of_the_pages_done():
    pace = at(500.0, 520.0, 530.0, 560.0)
    assert pace.seconds_a_page() is None
    pace.at_work()  # the first page is opened: what came before does not count
    pace.page_done()
    assert pace.seconds_a_page() == 20.0
    pace.at_work()
    pace.page_done()
    assert pace.seconds_a_page() == (20.0 + 40.0) / 2


def test_of_a_long_pause_little_counts():
    pace = at(0.0, 10.0, 5000.0, 5005.0)
    for _ in range(3):
        pace.at_work()
    pace.page_done()
    assert pace.seconds_a_page() == 10.0 + Pace.LONGEST_PAUSE_S + 5.0


def test_a_page_taken_back_goes_on():
    pace = at(0.0, 10.0, 30.0, 34.0, 44.0)
    pace.at_work()
    pace.page_done()  # 10 s
    pace.page_done()  # 20 s
    pace.page_undone()
    assert pace.seconds_a_page() == 10.0
    pace.page_done()  # 20 + 4 + 10 s
    assert pace.seconds_a_page() == (10.0 + 34.0) / 2


def test_only_the_last_pages_tell_the_pace():
    clock = [0.0]
    pace = Pace(lambda: clock[0])
    pace.at_work()
    for seconds in (50.0, *[5.0] * Pace.MOST_PAGES):
        clock[0] += seconds
        pace.page_done()
    assert pace.seconds_a_page() == 5.0
