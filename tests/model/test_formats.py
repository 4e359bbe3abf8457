from __future__ import annotations

import pytest

from panelscan.errors import InputError, NothingFound, UsageError
from panelscan.model.format_file import read_formats
from panelscan.model.formats import (
    BUILT_IN,
    US_PRINT,
    PageSide,
    board_fit,
    format_named,
    side_of_page,
)
from panelscan.model.page import ReadingDirection
from panelscan.model.units import inch_to_mm


def test_us_print_boxes_in_pixels():
    # Trade practice, two printers' sheets: trim 6.625 x 10.25 in, bleed 1/8 in, live 6 x 9 in.
    assert US_PRINT.pixel_size(600) == (4125, 6300)
    assert US_PRINT.pixel_size(300) == (2063, 3150)
    left, top = US_PRINT.trim_origin_mm
    assert left / 25.4 * 600 == pytest.approx(75)
    x0, y0, x1, y1 = (v / 25.4 * 600 for v in US_PRINT.live_box_mm)
    assert (x1 - x0, y1 - y0) == pytest.approx((3600, 5400))
    assert (x0 + 75, y0 + 75) == pytest.approx((262.5, 375))
    assert left == pytest.approx(top)


def test_b5_is_two_sizes():
    # JIS P 0138: B5 182 x 257 mm; ISO 216: B5 176 x 250 mm; frames: fanzine printers' sheet.
    jis = format_named("jis-b5")
    assert jis.trim_mm == (182, 257)
    assert jis.sheet_mm == (188, 263)
    assert jis.live_size_mm == (150, 220)
    safe = jis.safe_box_mm
    assert (safe[2] - safe[0], safe[3] - safe[1]) == (162, 237)
    assert format_named("iso-b5").trim_mm == (176, 250)
    with pytest.raises(NothingFound, match=r"JIS.*ISO.*jis-b5 \(182 x 257 mm\).*iso-b5"):
        format_named("B5")


def test_b4_sheet():
    # JIS P 0138: B4 257 x 364 mm; inner frame and trim frame: sheet makers' practice.
    b4 = format_named("jis-b4")
    assert b4.sheet_mm == (257, 364)
    assert b4.trim_mm == (220, 310)
    assert b4.live_size_mm == (180, 270)


def test_board_reduces_to_print():
    # Arithmetic: 10 x 15 in at 60 % is 6 x 9 in; the trim would then need 11.04 x 17.08 in.
    board = format_named("us-board")
    assert board.live_size_mm == pytest.approx((254, 381))
    assert board.sheet_mm == pytest.approx((279.4, 431.8))
    fit = board_fit(board, US_PRINT)
    assert fit.scale == pytest.approx(0.6)
    assert [round(v / 25.4, 2) for v in fit.trim_on_board_mm] == [11.04, 17.08]
    assert not fit.bleed_fits
    at_65 = board_fit(board, US_PRINT, 0.65)
    assert [round(v / 25.4, 2) for v in at_65.bleed_on_board_mm] == [10.58, 16.15]
    assert at_65.bleed_fits


def test_spread_doubles_the_trim():
    # Arithmetic on the single page: trim 13.25 x 10.25 in, bleed file 13.5 x 10.5 in.
    spread = format_named("us-print-spread")
    assert spread.trim_mm == pytest.approx((336.55, 260.35))
    assert spread.sheet_mm == pytest.approx((inch_to_mm(13.5), inch_to_mm(10.5)))
    assert spread.fold_x_mm == pytest.approx(inch_to_mm(6.625))
    assert spread.as_spread() is spread
    board = format_named("us-board").as_spread()
    assert board.live_size_mm[0] == pytest.approx(board.trim_mm[0] - 2 * board.live_mm[0])


def test_sides_mirror_margins(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(
        '[pocket]\ntitle = "Pocket"\ntrim_mm = [110, 170]\n'
        "live_mm = [14, 10, 8, 12]\nspine_mm = 3\n"
    )
    pocket = read_formats(path)["pocket"]
    right, left = pocket.on_side(PageSide.RIGHT), pocket.on_side(PageSide.LEFT)
    assert right.live_box_mm == (17, 10, 102, 158)
    assert left.live_box_mm == (8, 10, 93, 158)
    assert side_of_page(2) is PageSide.LEFT
    assert side_of_page(2, ReadingDirection.RTL) is PageSide.RIGHT


def test_toml_inches_and_base(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text('[small]\nbased_on = "us-print"\ntrim_in = [6, 9]\nlive_in = [1, 1, 1, 1]\n')
    small = format_named("small", read_formats(path))
    assert small.trim_mm == pytest.approx((152.4, 228.6))
    assert small.bleed_mm == US_PRINT.bleed_mm
    assert small.standing == "own: own.toml"


@pytest.mark.parametrize(
    ("text", "error", "match"),
    [
        ("[a]\ntrim_mm = [10]\n", UsageError, "trim_mm needs 2 numbers"),
        ("[a]\nbleed_mm = 2\n", UsageError, "has no trim"),
        ("[a]\ntrim_mm = [100, 100]\nfoo = 1\n", UsageError, "unknown entry 'foo'"),
        ("[a]\ntrim_mm = [20, 20]\n", UsageError, "no live area"),
        ("[a]\ntrim_mm = [0, 20]\n", UsageError, "width and a height"),
        ("[a]\ntrim_mm = [100, 100]\ntitle = 3\n", UsageError, "title"),
        ("[a]\ntrim_mm = [100, 100]\nbleed_mm = -1\n", UsageError, "negative"),
        ("[a]\nbased_on = 'nowhere'\n", NothingFound, "nowhere"),
        ("a = 3\n", UsageError, "a table of its own"),
        ("[a\n", InputError, "not a TOML file"),
    ],
)
def test_toml_faults_are_named(tmp_path, text, error, match):
    path = tmp_path / "own.toml"
    path.write_text(text)
    with pytest.raises(error, match=match):
        read_formats(path)


def test_missing_file_and_unknown_name(tmp_path):
    with pytest.raises(InputError, match=r"none\.toml"):
        read_formats(tmp_path / "none.toml")
    with pytest.raises(NothingFound, match=r"us-print \(168\.275 x 260\.35 mm\)"):
        format_named("folio")


@pytest.mark.parametrize("page", BUILT_IN.values(), ids=list(BUILT_IN))
def test_every_format_holds_together(page):
    bleed, live, safe = page.bleed_box_mm, page.live_box_mm, page.safe_box_mm
    assert bleed[0] <= 0 <= safe[0] <= live[0] < live[2] <= safe[2] <= page.trim_mm[0] <= bleed[2]
    assert page.sheet_mm[0] >= bleed[2] - bleed[0] - 1e-6
    assert page.sheet_mm[1] >= bleed[3] - bleed[1] - 1e-6
    assert page.standing.startswith(("standard", "practice", "board: standard"))
