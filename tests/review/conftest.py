"""A desk, a client that may speak to it, and a server with a browser page before it."""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from starlette.testclient import TestClient

from panelscan.corpus.store import Library
from panelscan.review.app import make_app
from panelscan.review.desk import Desk
from panelscan.review.security import COOKIE
from panelscan.review.serve import _bound
from tests.review.made_up import small_library

TOKEN = "a-start-token-of-the-tests"  # noqa: S105
PORT = 40123
PATIENCE_MS = int(os.environ.get("PATIENCE_MS", "30000"))
ORIGIN = f"http://127.0.0.1:{PORT}"


@dataclass
class Shelf:
    """A library under review, and the ids of its pages."""

    library: Library
    pages: list[str]
    desk: Desk


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """The small library, made once; tests work on copies."""
    folder = tmp_path_factory.mktemp("made")
    return folder / "shelf", small_library(folder)[1]


@pytest.fixture
def shelf(
    made: tuple[Path, list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Shelf:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    pages = made[1]
    library = Library.open(shutil.copytree(made[0], tmp_path / "shelf"))
    return Shelf(library, pages, Desk(library, tmp_path / "templates", "Ada"))


@pytest.fixture
def client(shelf: Shelf) -> TestClient:
    """A client with the start token, from the page's own origin."""
    app = make_app(shelf.desk, TOKEN, PORT)
    headers = {"origin": ORIGIN, "sec-fetch-site": "same-origin"}
    return TestClient(
        app,
        base_url=ORIGIN,
        headers=headers,
        cookies={COOKIE: TOKEN},
        follow_redirects=False,
        raise_server_exceptions=False,
    )


@dataclass
class Served:
    """A server at work."""

    address: str
    origin: str


def start(desk: Desk) -> tuple[Served, uvicorn.Server, threading.Thread]:
    """A server in a thread."""
    sock = _bound(0)
    port = sock.getsockname()[1]
    config = uvicorn.Config(
        make_app(desk, TOKEN, port), log_level="error", access_log=False, lifespan="off"
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [sock]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    origin = f"http://127.0.0.1:{port}"
    return Served(f"{origin}/?start={TOKEN}", origin), server, thread


@pytest.fixture
def served(shelf: Shelf) -> Iterator[Served]:
    told, server, thread = start(shelf.desk)
    yield told
    server.should_exit = True
    thread.join(10)


class Hand:
    """A person before the page: works in source pixels of the page shown, and is counted."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.actions = 0

    def spot(self, x: float, y: float) -> tuple[float, float]:
        """Place on the screen of a place on the page."""
        found = self.page.evaluate(
            """([x, y]) => {
                const root = document.querySelector('.table svg');
                const at = new DOMPoint(x, y).matrixTransform(root.getScreenCTM());
                return [at.x, at.y];
            }""",
            [x, y],
        )
        return found[0], found[1]

    def click(self, x: float, y: float, **more: Any) -> None:
        self.actions += 1
        self.page.mouse.click(*self.spot(x, y), **more)

    def drag(self, *places: tuple[float, float], steps: int = 6) -> None:
        self.actions += 1
        self.page.mouse.move(*self.spot(*places[0]))
        self.page.mouse.down()
        for place in places[1:]:
            self.page.mouse.move(*self.spot(*place), steps=steps)
        self.page.mouse.up()

    def keys(self, *names: str) -> None:
        for name in names:
            self.actions += 1
            self.page.keyboard.press(name)

    def tool(self, name: str) -> None:
        self.actions += 1
        self.page.click(f"#{name}")

    def until(self, condition: str) -> None:
        """Wait until a condition holds; a function, since the page forbids evaluating texts."""
        self.page.wait_for_function(f"() => {condition}", timeout=PATIENCE_MS)

    def says(self, text: str) -> None:
        """Wait until the page says this."""
        self.until(f"document.getElementById('word').textContent.includes({text!r})")

    def open(self, served: Served, page_id: str) -> None:
        """Show a page of the library."""
        if not self.page.url.startswith(served.origin):
            self.page.goto(served.address)
        self.page.evaluate("id => { location.hash = `page/${id}`; }", page_id)
        self.page.wait_for_function(
            """id => document.querySelector('.table image')?.getAttribute('href')
                === `/picture/${id}`""",
            arg=page_id,
            timeout=PATIENCE_MS,
        )


@pytest.fixture
def hand(watched: Any) -> Hand:
    return Hand(watched.page)
