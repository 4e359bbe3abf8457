from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from PIL import ImageFont

from panelscan.checks.check import check_page
from panelscan.checks.findings import CheckLimits, Weight
from panelscan.checks.overlay import overlay_svg
from panelscan.checks.page import page_of_grid
from panelscan.checks.report import report_data, report_text
from panelscan.layout.pages import lay_out_grid
from panelscan.model.formats import US_PRINT, format_named
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge
from panelscan.templates.place import place
from tests.templates.samples import NAMED, tiers

W, H = US_PRINT.trim_mm


def page_mm(*boxes, bleed=(), format_=US_PRINT, **more):
    """A page of boxes in mm of the trim's frame; `bleed` as (panel, edge) pairs."""
    panels = tuple(
        GridPanel(
            b if isinstance(b, Outline) else Outline.box(*b),
            frozenset(e for i, e in bleed if i == n),
        )
        for n, b in enumerate(boxes)
    )
    w, h = format_.trim_mm
    scaled = tuple(replace(p, outline=p.outline.scaled(1 / w, 1 / h)) for p in panels)
    return page_of_grid(Grid(scaled, w / h), format_, **more)


def rules(page, **limits):
    return [f.rule for f in check_page(page, CheckLimits(**limits)).findings]


def clean_boxes():
    """Two tiers of two in the live area of a US page, gutters of 3 mm."""
    return [p.outline.bounds for p in place(tiers(2, 2), US_PRINT).panels]


@pytest.mark.parametrize("name", ["six", "nine", "mixed", "slanted", "inset"])
@pytest.mark.parametrize("page", ["us-print", "us-board", "jis-b4", "a4"])
def test_a_template_has_nothing_wrong(name, page):
    target = format_named(page)
    placed = place(NAMED[name], target)
    report = check_page(page_of_grid(placed.grid(NAMED[name]), target))
    assert [f.text for f in report.findings] == []


def test_uneven_gutter_has_figure_place_and_remedy():
    a, b, c, d = clean_boxes()
    b = (b[0] + 0.9, *b[1:])
    report = check_page(page_mm(a, b, c, d))
    (finding,) = [f for f in report.findings if f.rule == "uneven-gutter"]
    assert finding.panels == (0, 1)
    assert finding.value == pytest.approx(3.9, abs=1e-6)
    assert finding.limit == pytest.approx(3.0)
    assert a[2] < finding.place[0] < b[0]
    assert "3.9 mm" in finding.text
    assert finding.remedy
    assert finding.number >= 1


def test_clearly_wider_gutter_is_meant():
    a, b, c, d = clean_boxes()
    boxes = [a, b, *((x0, y0 + 6, x1, y1) for x0, y0, x1, y1 in (c, d))]
    assert "uneven-gutter" not in rules(page_mm(*boxes))


def test_thin_and_tapering_gutters():
    a, b, c, d = clean_boxes()
    thin = rules(page_mm(a, (a[2] + 0.8, *b[1:]), c, d))
    assert "thin-gutter" in thin
    x0, y0, x1, y1 = b
    left = Outline.of([a[:2], (a[2], a[1]), (a[2] - 20, a[3]), (a[0], a[3])])
    right = Outline.of([(x0, y0), (x1, y0), (x1, y1), (x0 - 19, y1)])
    found = rules(page_mm(left, right, c, d))
    assert "tapering-gutter" in found
    shared = rules(page_mm(a, (a[2], *b[1:]), c, d))
    assert not {"thin-gutter", "uneven-gutter"} & set(shared)


def test_not_square_by_a_little():
    a, b, c, d = clean_boxes()
    x0, y0, x1, y1 = a
    crooked = Outline.of([(x0, y0), (x1, y0 + 1.0), (x1, y1), (x0, y1)])
    (finding,) = [
        f for f in check_page(page_mm(crooked, b, c, d)).findings if f.rule == "not-square"
    ]
    assert finding.value == pytest.approx(1.0, abs=0.01)
    assert "top side of panel 1" in finding.text
    steep = Outline.of([(x0, y0), (x1, y0 + 12), (x1, y1), (x0, y1)])
    assert "not-square" not in rules(page_mm(steep, b, c, d))


def test_near_miss_in_alignment():
    a, b, c, d = clean_boxes()
    moved = (d[0] + 1.2, *d[1:])
    found = [f for f in check_page(page_mm(a, b, c, moved)).findings if f.rule == "near-miss"]
    assert {f.panels for f in found} == {(3, 1)} or {f.panels for f in found} == {(1, 3)}
    assert found[0].value == pytest.approx(1.2, abs=0.01)
    far = (d[0] + 8, *d[1:])
    assert "near-miss" not in rules(page_mm(a, b, c, far))


def test_live_area_and_trim():
    a, b, c, d = clean_boxes()
    outside = (a[0] - 3, *a[1:])
    assert "outside-live-area-left" in rules(page_mm(outside, b, c, d))
    # A printer's cut tolerance of 1/16 in = 1.59 mm.
    at_trim = (1.2, *a[1:])
    report = check_page(page_mm(at_trim, b, c, d))
    assert report.findings[0].rule == "touches-trim-left"
    assert report.findings[0].weight is Weight.PRINT
    assert not report.is_clear
    low = [(q[0], q[1], q[2], q[3] + 3) for q in (c, d)]
    (found,) = [f for f in check_page(page_mm(a, b, *low)).findings if "live-area" in f.rule]
    assert "The bottom sides of panels 3 and 4 are up to" in found.text
    assert found.key == "outside-live-area-bottom:3-4"


def test_bleed_depth():
    left, top, right = PageEdge.LEFT, PageEdge.TOP, PageEdge.RIGHT
    b = US_PRINT.bleed_mm
    _, _, c, d = clean_boxes()
    edges = [(0, left), (0, top), (0, right)]

    def with_bleed(x0):
        boxes = [(x0, -b, W + b, c[1] - 3), c, d]
        panels = tuple(
            GridPanel(
                Outline.box(*q).moved(b, b).scaled(1 / (W + 2 * b), 1 / (H + 2 * b)),
                frozenset(e for i, e in edges if i == n),
            )
            for n, q in enumerate(boxes)
        )
        return page_of_grid(Grid(panels, (W + 2 * b) / (H + 2 * b)), US_PRINT)

    assert not {"bleed-too-shallow", "bleed-not-shown"} & set(rules(with_bleed(-b)))
    (finding,) = [f for f in check_page(with_bleed(-1.0)).findings if f.rule == "bleed-too-shallow"]
    assert finding.value == pytest.approx(1.0, abs=0.01)
    assert "off the left" in finding.text
    cropped = page_mm((0, 0, W, c[1] - 3), c, d, bleed=edges)
    assert "bleed-not-shown" in rules(cropped)


def test_unclear_order_is_the_layout_s_own():
    # Cohn 2013 and Cohn & Campbell 2015: where panels overlap, readers part about evenly;
    # on a full blockage nine in ten go down the stack first, which is clear enough.
    lapped = page_mm((8, 13, 100, 120), (80, 40, 160, 200))
    partings = [p for p in lay_out_grid(lapped.grid).partings if p.probability >= 0.2]
    found = [f for f in check_page(lapped).findings if f.rule == "unclear-order"]
    assert len(found) == len(partings) == 1
    assert "the panels overlap" in found[0].text
    assert found[0].panels == (0, 1)
    clear = place(NAMED["blockage"], US_PRINT).grid(NAMED["blockage"])
    assert "unclear-order" not in rules(page_of_grid(clear, US_PRINT))


def test_words():
    # An old ceiling of 210 words on a page, 35 in each of six panels (trade practice).
    six = place(tiers(2, 2, 2), US_PRINT).grid(tiers(2, 2, 2))
    assert rules(page_of_grid(six, US_PRINT, words=[35] * 6)) == []
    assert rules(page_of_grid(six, US_PRINT, words=[42] * 6)) == ["many-words"]
    crowded = check_page(page_of_grid(six, US_PRINT, words=[70, 5, 5, 5, 5, 5]))
    assert [f.rule for f in crowded.findings] == ["little-lettering-room"]
    assert crowded.findings[0].panels == (0,)


def test_resolution_at_printed_size():
    six = place(tiers(2, 2, 2), US_PRINT).grid(tiers(2, 2, 2))
    assert rules(page_of_grid(six, US_PRINT, width_px=1000)) == ["low-resolution"]
    assert rules(page_of_grid(six, US_PRINT, width_px=1988)) == ["line-art-resolution"]
    assert rules(page_of_grid(six, US_PRINT, width_px=3975)) == []
    board = format_named("us-board")
    on_board = place(tiers(2, 2, 2), board).grid(tiers(2, 2, 2))
    # A board reduced to 65 % scanned at 200 dpi has 308 dpi in print.
    wide = board.trim_mm[0] / 25.4 * 200
    assert rules(page_of_grid(on_board, board, width_px=wide)) == ["line-art-resolution"]


def test_sameness():
    six = place(tiers(2, 2, 2), US_PRINT).grid(tiers(2, 2, 2))
    nine = place(tiers(3, 3, 3), US_PRINT).grid(tiers(3, 3, 3))
    once = check_page(page_of_grid(six, US_PRINT, around=[six, nine, six]))
    assert [(f.rule, f.weight, f.value) for f in once.findings] == [("same-grid", Weight.NOTE, 1)]
    assert once.is_clear
    twice = check_page(page_of_grid(six, US_PRINT, around=[six, six]))
    assert [(f.weight, f.value) for f in twice.findings] == [(Weight.LOOK, 2)]


def faulty():
    a, b, c, d = clean_boxes()
    x0, y0, x1, y1 = c
    crooked = Outline.of([(x0, y0), (x1, y0 + 1.0), (x1, y1), (x0, y1)])
    return page_mm((1.0, *a[1:]), (b[0] + 0.9, *b[1:]), crooked, d, words=[120, 40, 40, 40])


def test_silenced_findings_are_kept_apart():
    first = check_page(faulty())
    keys = {f.key for f in first.findings}
    second = check_page(faulty(), silenced={"touches-trim-left:1", "uneven-gutter"})
    assert {f.rule for f in second.silenced} == {"touches-trim-left", "uneven-gutter"}
    assert {f.key for f in second.findings} | {f.key for f in second.silenced} == keys
    assert [f.number for f in second.findings] == list(range(1, len(second.findings) + 1))


def test_text_and_data():
    report = check_page(faulty())
    text, data = report_text(report), report_data(report)
    assert json.loads(json.dumps(data)) == data
    assert len(data["findings"]) == len(report.findings)
    for f in report.findings:
        assert f.text in text
        assert f.remedy in text
    assert "printer" in text
    assert "artist" in text


def test_overlay_draws_every_finding():
    page = faulty()
    report = check_page(page)
    root = etree.fromstring(overlay_svg(page, report).encode())
    ns = {"s": "http://www.w3.org/2000/svg"}
    numbers = [int(t.text) for t in root.findall(".//s:g/s:text", ns)]
    assert sorted(numbers) == [f.number for f in report.findings]
    discs = [(float(c.get("cx")), float(c.get("cy"))) for c in root.findall(".//s:circle", ns)]
    assert all(
        (x - a) ** 2 + (y - b) ** 2 > 36 for i, (x, y) in enumerate(discs) for a, b in discs[:i]
    )


def test_words_below_the_page_stay_on_the_picture():
    # Pillow's own letters measure the words: a wide sans serif must not run off at the right.
    page = faulty()
    report = check_page(page)
    long = replace(report.findings[0], place=None, text="A gutter is uneven here. " * 9)
    report = replace(report, findings=(long, replace(long, number=99)))
    root = etree.fromstring(overlay_svg(page, report).encode())
    x, y, width, height = map(float, root.get("viewBox").split())
    lines = [t for t in root.iter("{*}text") if t.get("font-size") == "3.4"]
    assert len(lines) > 4
    font = ImageFont.load_default(100)
    for line in lines:
        end = float(line.get("x")) + font.getlength(line.text) * 3.4 / 100
        assert end <= x + width and float(line.get("y")) < y + height
    assert " ".join(line.text for line in lines) == " ".join([long.text.strip()] * 2)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.6, 1.7), st.sampled_from([0, 1, 2, 3]))
def test_any_small_slip_of_a_panel_is_found(slip, which):
    boxes = clean_boxes()
    x0, y0, x1, y1 = boxes[which]
    boxes[which] = (x0, y0 + slip, x1, y1 + slip)
    found = check_page(page_mm(*boxes))
    assert any(
        which in f.panels and f.rule in ("near-miss", "uneven-gutter") for f in found.findings
    )
