"""The report in a real browser; accessibility by axe-core (Deque Systems, npm registry)."""

from __future__ import annotations

import pytest

from panelscan.study.habits import study
from panelscan.study.output import write_study
from tests.study.test_report import shelf_with_geometry

pytestmark = pytest.mark.browser


@pytest.fixture
def report(tmp_path):
    shelf = shelf_with_geometry(40)
    return write_study(shelf, study(shelf), tmp_path)[0]


def test_report_opens_without_errors_or_outside_requests(report, watched):
    watched.page.goto(report.as_uri())
    assert watched.page.title() == "Layout habits"
    assert watched.console == []
    assert [r for r in watched.requests if not r.startswith("file:")] == []


def test_report_holds_contrast_names_and_structure(report, watched):
    watched.page.goto(report.as_uri())
    assert watched.faults() == []


def test_keyboard_reaches_contents_first_and_a_grid_opens_its_page(report, watched):
    page = watched.page
    page.goto(report.as_uri())
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Most used grids"
    page.click(".minis a >> nth=0")
    target = page.evaluate("location.hash")
    assert target.startswith("#page-")
    assert page.locator(f"[id='{target[1:]}']").count() == 1


def test_report_fits_a_phone(report, watched):
    page = watched.page
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(report.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
