from __future__ import annotations

import io
import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from panelscan.errors import OutputExistsError, UsageError
from panelscan.finder.beats import Beat, Scene
from panelscan.finder.cards import sheet_of_answer, sheet_of_plan
from panelscan.finder.colours import BEATS, INK, beat_colour
from panelscan.finder.contact import write_contact_sheet, write_plan_sheet
from panelscan.finder.index import GridIndex
from panelscan.finder.plan import plan_scene
from panelscan.finder.plan_types import PlanOptions
from panelscan.finder.query import Query
from panelscan.finder.search import search_index
from tests.finder.drawn import draw_grids
from tests.finder.test_beat_match import some_beats

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def index():
    return GridIndex.of_grids(draw_grids(60, 6), book="Salt & <Tide>", measured=False)


def thumb(_page_id):
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (20, 30), "#fbf7ea").save(out, "PNG")
    return out.getvalue()


def test_svg_sheet_shows_each_hit_with_its_picture(index, tmp_path):
    answer = search_index(index, Query(like=index.grid(3), count=5))
    out = write_contact_sheet(answer, tmp_path / "sheet.svg", thumb)
    root = ET.fromstring(out.read_text("utf-8"))  # noqa: S314 - our own file
    texts = ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]
    assert "Asked for" in texts and "1. Salt & <Tide>, page 4" in texts
    assert len(root.findall(f"{SVG}image")) == 5
    panels = sum(len(h.grid) for h in answer.hits) + len(index.grid(3))
    assert len(root.findall(f"{SVG}polygon")) == panels + 6  # and six pages behind them
    assert root.find(f"{SVG}title").text and "page of" in root.find(f"{SVG}desc").text


def test_matched_panels_have_the_colour_of_their_partner(index):
    answer = search_index(index, Query(like=index.grid(3), count=3))
    asked, first = sheet_of_answer(answer).cards[:2]
    assert [p.fill for p in asked.panels] == [p.fill for p in first.panels]
    assert asked.panels[0].fill == beat_colour(0)


def test_html_sheet_is_offline_and_escaped(index, tmp_path):
    scene = Scene((Beat("Ilse <b>waits</b>", words=4), Beat("Rain"), Beat("Dov & the door")))
    answer = search_index(index, Query(scene=scene, count=4))
    text = write_contact_sheet(answer, tmp_path / "s.html", thumb).read_text("utf-8")
    assert "Ilse &lt;b&gt;waits&lt;/b&gt;" in text and "<b>waits" not in text
    assert re.findall(r"(?:src|href)=(?!\"data:image/)", text) == []
    assert set(re.findall(r"https?://[^\s\"'<]+", text)) <= {"http://www.w3.org/2000/svg"}
    assert "<script" not in text and "default-src 'none'" in text
    assert text.count("<article>") == 4 and text.count('role="img"') == 4
    assert all(f"{n}</b>" in text for n in (1, 2, 3))


@pytest.mark.browser
def test_html_sheet_has_no_serious_fault_in_a_browser(index, tmp_path, watched):
    scene = Scene(tuple(some_beats(np.random.default_rng(2), 5)))
    answer = search_index(index, Query(scene=scene, count=4))
    out = write_contact_sheet(answer, tmp_path / "s.html", thumb)
    watched.page.goto(out.as_uri())
    assert watched.console == []
    assert [r for r in watched.requests if not r.startswith(("file:", "data:"))] == []
    # The sheet's own policy keeps any script out, so the check runs on a copy without it.
    open_copy = tmp_path / "copy.html"
    open_copy.write_text(re.sub(r"<meta http-equiv[^>]*>", "", out.read_text("utf-8")), "utf-8")
    watched.page.goto(open_copy.as_uri())
    assert watched.faults() == []


def test_png_sheet_opens_and_is_drawn(index, tmp_path):
    from PIL import Image

    answer = search_index(index, Query(like=index.grid(5), count=4))
    out = write_contact_sheet(answer, tmp_path / "sheet.png", thumb)
    with Image.open(out) as picture:
        colors = {c for _, c in picture.convert("RGB").getcolors(1 << 24)}
        assert picture.width > 2000
    wanted = tuple(int(beat_colour(0)[k : k + 2], 16) for k in (1, 3, 5))
    assert wanted in colors


def test_plan_sheet_holds_facing_pages_together(index, tmp_path):
    scene = Scene(tuple(some_beats(np.random.default_rng(4), 18)), "lock-house.txt")
    plan = plan_scene(scene, index.shelf(), PlanOptions(pages=4, first_page=1))[0]
    sheet = sheet_of_plan(plan, scene, index.grid)
    assert [c.title for c in sheet.cards] == ["Page 1", "Page 2", "Page 3", "Page 4"]
    assert [c.joins_next for c in sheet.cards] == [False, True, False, False]
    assert sheet.heading == "lock-house.txt: 18 beats on 4 pages"
    legend = [number for c in sheet.cards for number, _, _ in c.legend]
    assert legend == [str(n) for n in range(1, 19)]
    for ending in ("svg", "html", "png"):
        assert write_plan_sheet(plan, scene, index.grid, tmp_path / f"p.{ending}").stat().st_size


def test_facing_pages_of_a_right_to_left_book_swap_sides():
    shelf_grids = [g.mirrored() for g in draw_grids(40, 9)]
    index = GridIndex.of_grids(shelf_grids, measured=False)
    scene = Scene(tuple(some_beats(np.random.default_rng(4), 9)))
    plan = plan_scene(scene, index.shelf(), PlanOptions(pages=2, first_page=2))[0]
    sheet = sheet_of_plan(plan, scene, index.grid)
    assert [c.title for c in sheet.cards] == ["Page 3", "Page 2"]
    assert sheet.cards[0].joins_next and not sheet.cards[1].joins_next


def test_files_are_not_overwritten_unasked_and_endings_are_checked(index, tmp_path):
    answer = search_index(index, Query(like=index.grid(0), count=1))
    out = tmp_path / "sheet.svg"
    out.write_text("mine")
    with pytest.raises(OutputExistsError):
        write_contact_sheet(answer, out)
    assert out.read_text() == "mine"
    write_contact_sheet(answer, out, overwrite=True)
    assert out.read_text().startswith("<svg")
    with pytest.raises(UsageError, match="no contact sheet ends in"):
        write_contact_sheet(answer, tmp_path / "sheet.doc")
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.svg"]


def test_empty_answer_says_why_on_the_sheet(tmp_path):
    index = GridIndex.of_grids([])
    answer = search_index(index, Query())
    text = write_contact_sheet(answer, tmp_path / "none.html").read_text()
    assert "no page with panels yet" in text


# Simulation of colour-blind sight at full severity: Machado, Oliveira & Fernandes 2009, IEEE
# TVCG 15(6), doi 10.1109/TVCG.2009.113; matrices from memory.
SIGHTS = {
    "full": np.eye(3),
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
               [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
               [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
               [0.004733, 0.691367, 0.303900]],
}  # fmt: skip


def linear(color):
    c = np.array([int(color[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize("sight", SIGHTS)
def test_beat_colours_are_told_apart_by_colour_blind_eyes(sight):
    # CIEDE2000 by scikit-image; about 2 is just seen (common practice, no source).
    from skimage.color import deltaE_ciede2000, rgb2lab

    seen = [np.clip(np.array(SIGHTS[sight]) @ linear(c), 0, 1) for c in BEATS]
    seen = [np.where(c <= 0.0031308, 12.92 * c, 1.055 * c ** (1 / 2.4) - 0.055) for c in seen]
    labs = [rgb2lab(c.reshape(1, 1, 3)).ravel() for c in seen]
    apart = [deltaE_ciede2000(labs[i], labs[j]) for i in range(8) for j in range(i)]
    assert min(apart) > 10


def test_numbers_are_read_on_every_beat_colour():
    # WCAG 2.2, success criterion 1.4.3: contrast of text at least 4.5 to 1.
    weights = np.array([0.2126, 0.7152, 0.0722])
    ink = weights @ linear(INK)
    for number in range(len(BEATS)):
        ground = weights @ linear(beat_colour(number))
        assert (ground + 0.05) / (ink + 0.05) >= 4.5


def test_letters_that_a_font_lacks_are_put_plainly():
    from panelscan.finder.contact_fonts import letters

    assert letters("15\u00a0% – so", 24)[0] == "15 % - so"
    assert letters("Zwölf Möwen", 24)[0] == "Zwölf Möwen"
    text, font = letters("\U000e0001 lamp", 24)
    assert text in ("? lamp", "\U000e0001 lamp") and font.size == 24


def test_a_sheet_of_few_cards_is_no_wider_than_they_are():
    from panelscan.finder.cards import CardSheet
    from panelscan.finder.contact_marks import CARD_WIDTH, marks_of

    assert 2 * CARD_WIDTH < marks_of(CardSheet("None", ())).width < 3 * CARD_WIDTH
