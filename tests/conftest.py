"""Fixtures for all tests: a real headless Chromium, where there is one."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run",
    "--disable-component-update", "--disable-sync", "--disable-quic",
]


@dataclass
class Watched:
    """A browser page with all that it complained about or asked for."""

    page: Any
    console: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def faults(self) -> list[str]:
        """Serious faults that axe-core finds, as short lines."""
        from axe_playwright_python.sync_playwright import Axe

        found = Axe().run(self.page).response["violations"]
        return [
            f"{v['id']} ({v['impact']}): {v['nodes'][0]['html'][:120]}"
            for v in found
            if v["impact"] in ("serious", "critical")
        ]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A headless Chromium; the test is skipped with a word where there is none."""
    program = next((shutil.which(name) for name in BROWSERS if shutil.which(name)), None)
    if program is None:
        pytest.skip("no Chromium on the path; scripts/test.py says how to install it")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def watched(chromium: Any) -> Iterator[Watched]:
    """A fresh page that records console errors and requests."""
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    record = Watched(page)
    page.on(
        "console",
        lambda m: record.console.append(m.text) if m.type in ("error", "warning") else None,
    )
    page.on("pageerror", lambda e: record.console.append(str(e)))
    page.on("request", lambda r: record.requests.append(r.url))
    yield record
    page.close()


@pytest.fixture
def project_root() -> Path:
    """Top folder of the project."""
    return Path(__file__).resolve().parent.parent
