"""Changes through the server: saved as corrections, in turn, never over somebody else's."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from panelscan.corpus.labels import labels_now
from panelscan.corpus.store import Library
from panelscan.model.correction import PageIsFine
from panelscan.model.outline import Outline
from panelscan.review.desk import Desk
from tests.review.made_up import MARGIN, WIDTH, kinds, outlines, row_of, tiers


def change(client, page, revision, *changes):
    return client.post(
        f"/api/page/{page}/change", json={"revision": revision, "changes": list(changes)}
    )


def test_a_page_tells_all_that_the_desk_shows(client, shelf):
    told = client.get(f"/api/page/{shelf.pages[2]}").json()
    assert [p["key"] for p in told["panels"]] == ["d0", "d1", "d2", "d3"]
    assert (told["revision"], told["reviewed"], told["doubt"]) == (0, False, 30)
    assert told["picture"] == [0, 0, 800, 1200]
    assert told["pattern"] == "2-2"
    assert len(told["gutters"]) >= 2
    assert [len(r["panels"]) for r in told["readings"]] == [5]
    assert told["doubts"][0]["text"]
    assert client.get(f"/api/page/{shelf.pages[3]}").json()["fold"] == 400


def test_changes_on_an_old_state_are_refused_and_nothing_is_overwritten(client, shelf):
    page = shelf.pages[0]
    mine = {"kind": "set-outline", "panel": "d0", "outline": [[50, 60], [380, 60], [380, 400]]}
    assert change(client, page, 0, {"kind": "delete-panel", "panel": "d4"}).status_code == 200
    late = change(client, page, 0, mine)
    assert late.status_code == 409
    assert "meanwhile" in late.json()["error"]
    cut = client.post(f"/api/page/{page}/cut", json={
        "revision": 0, "panel": "d0", "start": [0, 200], "end": [800, 200]})
    assert cut.status_code == 409
    assert kinds(shelf.library, page) == ["DeletePanel"]
    assert change(client, page, 1, mine).status_code == 200


def test_of_several_changes_all_count_or_none(client, shelf):
    page = shelf.pages[0]
    answer = change(
        client, page, 0, {"kind": "delete-panel", "panel": "d0"},
        {"kind": "delete-panel", "panel": "d99"},
    )
    assert answer.status_code == 400
    assert "no panel d99" in answer.json()["error"]
    assert kinds(shelf.library, page) == []
    assert client.get(f"/api/page/{page}").json()["revision"] == 0


def test_undo_and_redo_have_no_end_and_actions_go_as_a_whole(client, shelf):
    page = shelf.pages[0]
    change(client, page, 0, {"kind": "delete-panel", "panel": "d0"},
           {"kind": "delete-panel", "panel": "d1"})
    told = change(client, page, 2, {"kind": "direction", "direction": "rtl"}).json()
    assert [h["group"] for h in told["history"]] == [1, 1, 3]
    told = change(client, page, 3, {"kind": "undo", "revision": 3}).json()
    assert (told["direction"], len(told["panels"])) == ("ltr", 3)
    told = change(client, page, 4, {"kind": "undo", "revision": 2},
                  {"kind": "undo", "revision": 1}).json()
    assert len(told["panels"]) == 5
    told = change(client, page, 6, {"kind": "undo", "revision": 4}).json()
    assert told["direction"] == "rtl"
    counts = {h["revision"]: h["counts"] for h in told["history"]}
    assert counts == {1: False, 2: False, 3: True, 4: False, 5: True, 6: True, 7: True}
    assert row_of(shelf.library, page)["direction"] == "rtl"


def test_a_cut_lands_on_the_borders_beneath(client, shelf):
    """The drawn borders are known to the pixel, since the test drew them."""
    page, truth = shelf.pages[1], [Outline.box(*b) for b in tiers(2, 2, 1)]
    middle = WIDTH / 2 + 3
    told = client.post(f"/api/page/{page}/cut", json={
        "revision": 0, "panel": "d0", "start": [middle, 40], "end": [middle - 2, 380]}).json()
    assert len({h["group"] for h in told["history"]}) == 1
    found = outlines(shelf.library, page)
    assert len(found) == 5
    for mine, drawn in zip(found[:2], truth[:2], strict=True):
        assert mine.iou(drawn) > 0.995


def test_snapping_is_finer_than_a_pixel(client, shelf):
    x0, y0, x1, y1 = tiers(2, 1, 2)[2]
    rough = [[x0 - 5, y0 + 4], [x1 + 3, y0 - 4], [x1 + 6, y1 + 5], [x0 + 4, y1 - 6]]
    told = client.post(f"/api/page/{shelf.pages[0]}/snap", json={"ring": rough, "reach": 10})
    exact = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)
    assert np.abs(np.array(told.json()["ring"]) - exact).max() < 0.5


def test_a_frame_is_proposed_around_a_point(client, shelf):
    missed = tiers(2, 1, 2)[2]
    ask = f"/api/page/{shelf.pages[2]}/propose"
    told = client.post(ask, json={"x": missed[0] + 60, "y": missed[1] + 30}).json()
    assert Outline.of(told["ring"]).iou(Outline.box(*missed)) > 0.98
    assert client.post(ask, json={"x": 5, "y": 5}).json() == {"ring": None}
    assert client.post(ask, json={"x": -500, "y": 9e9}).json() == {"ring": None}


def test_labels_are_said_and_taken_away(client, shelf):
    page, ask = shelf.pages[0], f"/api/page/{shelf.pages[0]}/labels"
    told = client.post(ask, json={"labels": {"scene": "<i>ferry</i>", "rating": "4"}}).json()
    assert told["labels"] == {"scene": "<i>ferry</i>", "rating": "4"}
    assert client.post(ask, json={"labels": {"rating": "9"}}).status_code == 400
    assert client.post(ask, json={"labels": {"a[b]": "x"}}).status_code == 400
    cards = client.get("/api/shelf?label=scene&value=<i>ferry</i>").json()
    assert [card[0] for card in cards["pages"]] == [page]
    assert cards["labels"]["rating"] == ["4"]
    assert client.post(ask, json={"labels": {"scene": ""}}).json()["labels"] == {"rating": "4"}
    assert labels_now(shelf.library.place).by_page == {"rating": {page: "4"}}
    assert client.post("/api/page/none/labels", json={"labels": {"a": "b"}}).status_code == 404


def test_the_shelf_is_sifted_by_grid_and_by_filter(client, shelf):
    def ids(query):
        return {card[0] for card in client.get(f"/api/shelf?{query}").json()["pages"]}

    first, last = shelf.pages[0], shelf.pages[4]
    assert ids("grid=two then one then two") == {first, last}
    assert ids("grid=two then any") == {shelf.pages[2], shelf.pages[3]}
    assert ids("where=page_number < 3") == set(shelf.pages[:2])
    doubts = [card[3] for card in client.get("/api/shelf").json()["pages"]]
    assert doubts == sorted(doubts, reverse=True)


def test_the_top_line_tells_how_it_goes(client, shelf):
    assert client.get("/api/progress").json() == {
        "pages": 5, "reviewed": 0, "right_at_first_sight": None,
        "seconds_a_page": None, "seconds_left": None,
    }
    change(client, shelf.pages[0], 0, {"kind": "page-is-fine"})
    told = client.get("/api/progress").json()
    assert (told["reviewed"], told["right_at_first_sight"]) == (1, 1.0)
    assert told["seconds_left"] >= 0
    assert row_of(shelf.library, shelf.pages[0])["reviewed"] is True


def test_actions_are_known_after_the_server_was_started_anew(client, shelf):
    page = shelf.pages[1]
    middle = WIDTH / 2 + 3
    told = client.post(f"/api/page/{page}/cut", json={
        "revision": 0, "panel": "d0", "start": [middle, 40], "end": [middle - 2, 380]}).json()
    told = change(client, page, told["revision"], {"kind": "delete-panel", "panel": "d1"},
                  {"kind": "delete-panel", "panel": "d2"}).json()
    before = [(h["revision"], h["group"]) for h in told["history"]]
    assert before == [(1, 1), (2, 1), (3, 1), (4, 4), (5, 4)]
    library = Library.open(shelf.library.place.root)
    again = Desk(library, shelf.desk.templates, "Ben").page(page)
    assert [(h["revision"], h["group"]) for h in again["history"]] == before


def test_nothing_that_is_asked_by_get_writes_to_the_library(client, shelf):
    """Also not what follows from the library; and what was said before shows all the same."""
    def held():
        root = shelf.library.place.root
        return {p.relative_to(root): p.read_bytes() for p in root.rglob("*") if p.is_file()}

    def look():
        page = shelf.pages[0]
        for path in ("/", "/api/shelf", "/api/shelf?grid=two then any&where=page_number < 4",
                     "/api/progress", "/api/formats", f"/api/page/{page}", f"/small/{page}",
                     f"/api/page/{page}/alike", f"/api/page/{page}/check?format=a5"):
            assert client.get(path).status_code == 200, path

    # Left by a server that was killed before it had brought the tables up to the corrections.
    shelf.library.correct(shelf.pages[0], PageIsFine(), 0, who="Ada", settled=False)
    before = held()
    look()
    assert held() == before
    assert any("unsettled" in str(path) for path in before)
    # A change sets the writing to work, and looking waits for it.
    change(client, shelf.pages[1], 0, {"kind": "delete-panel", "panel": "d0"})
    cards = {card[0]: card for card in client.get("/api/shelf").json()["pages"]}
    assert (cards[shelf.pages[0]][4], len(cards[shelf.pages[1]][7])) == (True, 3)
    before = held()
    look()
    assert held() == before
    assert not any("unsettled" in str(path) for path in before)
    assert (shelf.desk.index_folder).is_dir()


def test_pages_alike_come_with_their_reasons(client, shelf):
    told = client.get(f"/api/page/{shelf.pages[0]}/alike").json()
    assert told["hits"][0]["page_id"] == shelf.pages[4]
    assert told["hits"][0]["likeness"] == "same grid"
    assert shelf.pages[0] not in {hit["page_id"] for hit in told["hits"]}


def test_a_check_leaves_out_what_was_silenced(client, shelf):
    from panelscan.checks.silence import set_silenced

    ask = f"/api/page/{shelf.pages[0]}/check?format=a5"
    found = client.get(ask).json()["findings"]
    assert found and all(f["remedy"] for f in found)
    set_silenced(shelf.library.place.root, shelf.pages[0], found[0]["key"])
    assert found[0]["key"] not in {f["key"] for f in client.get(ask).json()["findings"]}
    assert client.get(f"/api/page/{shelf.pages[0]}/check?format=none").status_code == 400


def test_pictures_are_decoded_and_encoded_again(client, shelf):
    page = shelf.pages[0]
    file = shelf.desk.sources.of(page).path
    original = Path(file).read_bytes()
    for kind, height in (("picture", 1200), ("small", 260)):
        answer = client.get(f"/{kind}/{page}")
        assert answer.headers["content-type"] == "image/jpeg"
        pixels = cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_GRAYSCALE)
        assert pixels.shape[0] == height
        assert original[:64] not in answer.content
        assert pixels[:, MARGIN * height // 1200].min() < 90
    kept = list(shelf.desk.small_folder.glob("*.jpg"))
    assert len(kept) == 1
    assert client.get(f"/small/{page}").content == kept[0].read_bytes()


def test_the_small_picture_follows_the_pages_edge(client, shelf):
    page = shelf.pages[0]

    def shape():
        answer = client.get(f"/small/{page}")
        return cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_GRAYSCALE).shape

    assert shape() == (260, 173)  # 800 by 1200 pixels
    edge = [[0, 0], [WIDTH, 0], [WIDTH, 800], [0, 800]]
    change(client, page, 0, {"kind": "page-frame", "outline": edge})
    assert shape() == (260, 260)
    change(client, page, 1, {"kind": "undo", "revision": 1})
    assert shape() == (260, 173)


def test_a_picture_that_went_away_is_told(client, shelf, tmp_path):
    page = shelf.pages[0]
    shelf.desk.sources.read()
    shelf.desk.sources._known[page]["source_path"] = str(tmp_path / "gone.png")
    for path in (f"/api/page/{page}", f"/picture/{page}", f"/small/{page}"):
        answer = client.get(path)
        assert answer.status_code == 422
        assert "no longer there" in answer.json()["error"]


@pytest.mark.parametrize("changes", [
    [{"kind": "fold", "x_px": 380.0}], [{"kind": "fold", "x_px": None}],
])
def test_the_fold_of_a_spread_is_set(client, shelf, changes):
    told = change(client, shelf.pages[3], 0, *changes).json()
    assert told["fold"] == changes[0]["x_px"]
    assert row_of(shelf.library, shelf.pages[3])["fold_x_px"] == changes[0]["x_px"]


def test_the_shelf_shows_every_change_at_once(client, shelf):
    def card(page):
        return next(c for c in client.get("/api/shelf").json()["pages"] if c[0] == page)

    page = shelf.pages[0]
    assert len(card(page)[7]) == 5
    assert len(card(page)[7]) == 5
    change(client, page, 0, {"kind": "delete-panel", "panel": "d0"})
    assert len(card(page)[7]) == 4
    client.post(f"/api/page/{page}/labels", json={"labels": {"book": "Other"}})
    assert client.get("/api/shelf").json()["books"] == ["Kelp <b>&", "Other"]
    change(client, page, 1, {"kind": "page-is-fine"})
    assert card(page)[3:5] == [0, True]
