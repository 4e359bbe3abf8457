"""What the server refuses: the requests of other sites, of other names, and of no sense."""

from __future__ import annotations

import json

import pytest

from panelscan.errors import UsageError
from panelscan.review.security import MOST_BODY_BYTES
from panelscan.review.serve import _bound
from tests.review.conftest import PORT, TOKEN
from tests.review.made_up import kinds, row_of

FINE = {"revision": 0, "changes": [{"kind": "page-is-fine"}]}


def change(client, page, told=FINE, **more):
    return client.post(f"/api/page/{page}/change", json=told, **more)


def test_the_pages_own_requests_are_answered(client, shelf):
    assert change(client, shelf.pages[0]).status_code == 200
    assert kinds(shelf.library, shelf.pages[0]) == ["PageIsFine"]


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"origin": ""},
        {"origin": f"http://127.0.0.1:{PORT + 1}"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_posts_of_other_sites_change_nothing(client, shelf, headers):
    """Fetch Standard: Origin and Sec-Fetch-Site are set by the browser, not by the site."""
    answer = change(client, shelf.pages[0], headers=headers)
    assert answer.status_code == 403
    assert kinds(shelf.library, shelf.pages[0]) == []


@pytest.mark.parametrize(
    "host",
    [
        "elsewhere.example",
        f"elsewhere.example:{PORT}",
        "127.0.0.1",
        "localhost:1",
        "",
        f"127.0.0.1.elsewhere.example:{PORT}",
        f"127.0.0.1:{PORT}@elsewhere.example",
    ],
)
def test_names_that_were_pointed_here_are_refused(client, shelf, host):
    """DNS rebinding: the foreign name still stands in the Host header."""
    for answer in (
        client.get("/api/shelf", headers={"host": host}),
        client.get(f"/?start={TOKEN}", headers={"host": host}),
        change(client, shelf.pages[0], headers={"host": host}),
    ):
        assert answer.status_code == 400
        assert "set-cookie" not in answer.headers
    assert kinds(shelf.library, shelf.pages[0]) == []


@pytest.mark.parametrize("path", ["/", "/api/shelf", "/static/main.js", "/small/x", "/nothing"])
def test_nothing_is_answered_without_the_start_token(client, path):
    client.cookies.clear()
    assert client.get(path).status_code == 403
    assert client.get(path, headers={"cookie": "panelscan-start=wrong"}).status_code == 403
    assert client.get(path, headers={"cookie": "panelscan-start="}).status_code == 403


def test_the_start_token_lets_in_once_and_leaves_the_address(client):
    client.cookies.clear()
    assert client.get("/?start=guess").status_code == 403
    answer = client.get(f"/?start={TOKEN}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie


def test_no_path_comes_from_the_client(client, shelf):
    secret = shelf.library.place.root / "panelscan-library.json"
    assert secret.exists()
    for path in (
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/%2e%2e/errors.py",
        "/small/..%2f..%2fpanelscan-library.json",
        "/picture/%2fetc%2fpasswd",
        "/picture/....//....//etc/passwd",
        "/api/page/..%2f..%2fpages",
        "/static//etc/passwd",
    ):
        answer = client.get(path)
        assert answer.status_code == 404, path
        assert "error" in answer.json()


def test_a_template_goes_where_the_server_was_told(client, shelf):
    page = shelf.pages[0]
    for told in (
        {"format": "../../us-print", "kind": "svg"},
        {"format": "us-print", "kind": "svg/../x"},
        {"format": "us-print", "kind": "sh"},
    ):
        assert client.post(f"/api/page/{page}/template", json=told).status_code == 400
    told = {"format": "us-print", "kind": "svg", "folder": "/tmp", "file": "/tmp/x.svg"}
    names = [client.post(f"/api/page/{page}/template", json=told).json()["file"] for _ in range(2)]
    assert names == ["Kelp-b-001.svg", "Kelp-b-001-2.svg"]
    assert sorted(p.name for p in shelf.desk.templates.iterdir()) == sorted(names)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'"x"',
        b'{"revision": "x", "changes": []}',
        b'{"revision": 0}',
        b'{"revision": 0, "changes": {}}',
        b'{"revision": 0, "changes": [1]}',
        b'{"revision": 0, "changes": [{"kind": "nonsense"}]}',
        b'{"revision": 1e999, "changes": [{"kind": "page-is-fine"}]}',
        b'{"revision": 0, "changes": [{"kind": "add-panel", "outline": [[0, 0], [NaN, 1], [1, 1]]}]}',  # noqa: E501
        b'{"revision": 0, "changes": [{"kind": "add-panel", "outline": [[0, 0]]}]}',
        b"[" * 100_000,
        b"\xff\xfe{}",
        json.dumps({"revision": 0, "changes": [{}] * 500}).encode(),
    ],
)
def test_bodies_without_sense_are_refused_and_change_nothing(client, shelf, body):
    answer = client.post(
        f"/api/page/{shelf.pages[0]}/change",
        content=body,
        headers={"content-type": "application/json"},
    )
    assert answer.status_code in (400, 422)
    assert answer.json()["error"]
    assert kinds(shelf.library, shelf.pages[0]) == []


def test_bodies_must_be_json_by_name_so_that_no_form_of_another_site_fits(client, shelf):
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        answer = client.post(
            f"/api/page/{shelf.pages[0]}/change",
            content=json.dumps(FINE),
            headers={"content-type": kind},
        )
        assert answer.status_code == 400
    assert kinds(shelf.library, shelf.pages[0]) == []


def test_bodies_that_are_too_long_are_refused(client, shelf):
    url = f"/api/page/{shelf.pages[0]}/change"
    headers = {"content-type": "application/json"}
    told = client.post(url, content=b" " * (MOST_BODY_BYTES + 1), headers=headers)
    assert told.status_code == 413

    def pieces():
        for _ in range(10):
            yield b" " * (MOST_BODY_BYTES // 4)

    assert client.post(url, content=pieces(), headers=headers).status_code == 400
    lying = client.post(url, content=b"{}", headers={**headers, "content-length": "x"})
    assert lying.status_code == 413


def test_looking_changes_nothing(client, shelf):
    page = shelf.pages[0]
    before = row_of(shelf.library, page)
    for verb in ("change", "labels", "template", "snap", "propose", "cut"):
        for ask in (client.get, client.put, client.delete, client.patch):
            assert ask(f"/api/page/{page}/{verb}").status_code in (404, 405)
    for path in ("", "/check"):
        assert client.get(f"/api/page/{page}{path}?kind=page-is-fine&revision=0").status_code == 200
    assert row_of(shelf.library, page) == before
    assert kinds(shelf.library, page) == []


def test_every_answer_carries_the_protecting_headers(client, shelf):
    answers = [
        client.get("/"),
        client.get("/static/main.js"),
        client.get("/api/shelf"),
        client.get(f"/small/{shelf.pages[0]}"),
        client.get("/nothing"),
        client.get("/", headers={"host": "elsewhere.example"}),
    ]
    for answer in answers:
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy and "http" not in policy and "*" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        assert "access-control-allow-origin" not in answer.headers


def test_names_with_markup_stay_text(client):
    told = client.get("/api/shelf")
    assert told.headers["content-type"] == "application/json"
    assert told.json()["books"] == ["Kelp <b>&"]


def test_odd_filters_are_answered_with_a_sentence(client):
    for query in (
        "where=panel_count >",
        "where=__import__('os')",
        "grid=two then then",
        "where=" + "(" * 500,
    ):
        answer = client.get(f"/api/shelf?{query}")
        assert answer.status_code == 400, query
        assert answer.json()["error"]


def test_only_the_loopback_address_is_bound():
    sock = _bound(0)
    try:
        assert sock.getsockname()[0] == "127.0.0.1"
        with pytest.raises(UsageError, match="is taken"):
            _bound(sock.getsockname()[1])
    finally:
        sock.close()
