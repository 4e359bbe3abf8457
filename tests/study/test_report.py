from __future__ import annotations

import re
from html import escape
from xml.etree import ElementTree as ET

import pandas as pd
import pytest
import shapely

from panelscan.errors import OutputExistsError
from panelscan.study.drift import book_means
from panelscan.study.habits import study
from panelscan.study.norms import NORMS
from panelscan.study.output import write_study
from panelscan.study.plots import all_plots
from panelscan.study.report import report_html
from panelscan.study.shelf import Shelf
from panelscan.study.tables import all_tables
from tests.study.support import made_up


def shelf_with_geometry(pages: int = 60) -> Shelf:
    page_rows, panels, gutters = made_up(pages=pages)
    box = panels[["x_min_share", "y_min_share", "x_max_share", "y_max_share"]].to_numpy(float)
    panels["geometry_page"] = [shapely.box(*row).wkb for row in box]
    page_rows["source_path"] = "<b>pages & more</b>.png"
    return Shelf.of(page_rows, panels, gutters)


def test_report_asks_nothing_of_a_network_and_escapes_names():
    shelf = shelf_with_geometry()
    html = report_html(shelf, study(shelf), title="Ferry <night>")
    assert "Ferry &lt;night&gt;" in html
    assert "<b>pages" not in html
    addresses = set(re.findall(r"(?:src|href)=\"([^\"#][^\"]*)\"", html))
    assert addresses == set()
    assert "@import" not in html
    assert "url(" not in html


def test_every_picture_has_a_text_alternative():
    shelf = shelf_with_geometry()
    html = report_html(shelf, study(shelf))
    pictures = re.findall(r"<svg .*?</svg>", html, flags=re.DOTALL)
    assert len(pictures) > 10
    for source in pictures:
        root = ET.fromstring(source)  # noqa: S314  our own text
        assert root.get("role") == "img"
        assert len(root.get("aria-label", "")) > 8


def test_a_thousand_pages_stay_under_three_megabytes():
    shelf = shelf_with_geometry(pages=1000)
    assert len(report_html(shelf, study(shelf)).encode()) < 3_000_000


def test_figures_are_written_and_not_overwritten_unasked(tmp_path):
    shelf = shelf_with_geometry()
    habits = study(shelf)
    written = write_study(shelf, habits, tmp_path)
    table = pd.read_csv(tmp_path / "habits.csv").set_index("key")
    assert table.loc["panels_per_page_mean", "value"] == pytest.approx(
        shelf.pages["panel_count"].mean()
    )
    assert {p.suffix for p in written} == {".html", ".csv", ".parquet", ".svg"}
    before = written[0].read_bytes()
    with pytest.raises(OutputExistsError, match="already"):
        write_study(shelf, habits, tmp_path)
    assert written[0].read_bytes() == before


def test_every_section_shows_pages_that_can_be_opened():
    shelf = shelf_with_geometry()
    html = report_html(shelf, study(shelf))
    linked = set(re.findall(r'href="#(page-[^"]+)"', html))
    assert len(linked) > 6
    assert linked <= set(re.findall(r'id="(page-[^"]+)"', html))
    for name in ("pages", "page-turns", "gutters", "margins", "bleeds", "lettering-room"):
        section = re.search(rf'<section id="{name}">.*?</section>', html, flags=re.DOTALL)
        assert section is not None
        assert 'class="minis"' in section[0], name
        assert "<figure" in section[0], name


def test_every_book_is_drawn_page_by_page():
    shelf = shelf_with_geometry()
    habits = study(shelf)
    plot = next(p for p in all_plots(shelf, habits) if p.name == "panels-along-books")
    text = plot.picture.source()
    for book in habits.books:
        assert f">{book}</text>" in text
    table = all_tables(shelf, habits)["panels-along-books"]
    assert table["panels"].tolist() == shelf.pages["panel_count"].tolist()


def test_books_stand_in_the_order_of_their_dates():
    pages, panels, gutters = made_up(pages=90)
    named = Shelf.of(pages.replace({"book": {"book 0": "book 10"}}), panels, gutters)
    assert named.books == ("book 1", "book 2", "book 10")
    dates = {"book 0": "2024", "book 1": "2021-05", "book 2": "2022"}
    pages["date"] = pages["book"].map(dates)
    dated = Shelf.of(pages, panels, gutters)
    assert dated.books == ("book 1", "book 2", "book 0")
    means = book_means(dated, "panel_count")
    assert means.books == list(dated.books)
    first = pages.loc[pages["book"] == "book 1", "panel_count"].mean()
    assert means.means[0] == pytest.approx(first)


def test_published_figures_stand_beside_with_source_and_standing():
    shelf = shelf_with_geometry()
    habits = study(shelf)
    html = report_html(shelf, habits)
    for norm in NORMS:
        if habits.figure(norm.key).is_known:
            assert escape(norm.source) in html
            assert escape(norm.standing) in html
