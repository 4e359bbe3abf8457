"""The commands that give grids back and look pages over: template, check, compare."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from lxml import etree

from panelscan.cli.check import command as check
from panelscan.cli.compare import command as compare
from panelscan.cli.template import command as template
from panelscan.errors import NothingFound, OutputExistsError, UsageError
from panelscan.model.formats import US_PRINT
from panelscan.model.outline import Outline
from panelscan.templates.build import build_page
from panelscan.templates.layers import LayerKey
from panelscan.templates.options import TemplateOptions
from panelscan.templates.picture_bytes import png_of
from panelscan.templates.placement import PlacedPanel, Placement
from panelscan.templates.raster import merged_bands, stack_bands

BOXES = [(7.9, 12.7, 82.6, 125.5), (85.6, 12.7, 160.3, 125.5), (7.9, 128.5, 160.3, 241.3)]


def run(command, *words, code=0):
    result = CliRunner().invoke(command, [str(w) for w in words], standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    assert (result.return_value or 0) == code
    return result.output


def drawn(path, boxes):
    """A page with bordered panels where they are said to be, 300 dpi, no guides."""
    panels = tuple(PlacedPanel(Outline.box(*b)) for b in boxes)
    only = frozenset({LayerKey.PAPER, LayerKey.BORDERS})
    page = build_page(Placement(panels, US_PRINT, 3, 3, ()), TemplateOptions(layers=only))
    path.write_bytes(png_of(stack_bands(merged_bands(page, US_PRINT.pixel_size(300), 300)), 300))
    return path


def test_template_of_a_written_grid(tmp_path):
    out = tmp_path / "page.svg"
    told = json.loads(run(template, "two then one", "-o", out, "--json", "--format", "jis-b5"))
    assert told["layers"][0] == "Paper"
    root = etree.fromstring(out.read_bytes())
    assert root.get("width") == "188mm"
    with pytest.raises(OutputExistsError):
        run(template, "two then one", "-o", out)
    run(template, "two then one", "-o", out, "--overwrite", "--spread")
    assert etree.fromstring(out.read_bytes()).get("width") == "342.9mm"


def test_thumbnail_sheet_of_written_grids(tmp_path):
    out, shelf = tmp_path / "sheet.svg", tmp_path / "shelf"
    grids = ["one", "two then one", "two then two", "three then one"]
    told = json.loads(
        run(template, *grids, "--sheet", "-o", out, "--library", shelf, "--json", "--as-found")
    )
    assert told["cells"] == 4
    assert (shelf / "sheets" / f"{told['sheet']}.json").is_file()
    with pytest.raises(UsageError, match="4 to 16"):
        run(template, *grids[:2], "--sheet", "-o", tmp_path / "other.svg")


def test_template_says_what_is_missing(tmp_path):
    out = tmp_path / "page.svg"
    for words, error, match in (
        (("-o", out), UsageError, "No page, family or grid"),
        (("one", "two then one", "-o", out), UsageError, "one grid"),
        (("one",), UsageError, "no file to write"),
        (("family:1", "-o", out), UsageError, "one of a library"),
        (("one", "-o", out, "--format", "b5"), NothingFound, "JIS"),
    ):
        with pytest.raises(error, match=match):
            run(template, *words)
    assert not out.exists()


def test_check_and_compare_from_pictures(tmp_path):
    moved = [BOXES[0], BOXES[1], (7.9, 132.5, 160.3, 241.3)]
    uneven = [*BOXES[:2], (7.9, 128.5, 159.0, 241.3)]
    first, second = drawn(tmp_path / "rough.png", BOXES), drawn(tmp_path / "inks.png", moved)
    wrong = drawn(tmp_path / "wrong.png", uneven)
    look, over = tmp_path / "look.png", tmp_path / "moved.svg"

    told = json.loads(run(check, wrong, "--json", "-o", look, code=10).split("\nPicture")[0])
    assert [f["rule"] for f in told["findings"] if f["weight"] != "note"] == ["near-miss"]
    assert look.read_bytes().startswith(b"\x89PNG")
    key = told["findings"][0]["key"]
    quiet = run(check, wrong, "--silence", key)
    assert f"Silenced: {key}" in quiet

    told = json.loads(run(compare, first, second, "--json", "-o", over).split("\nPicture")[0])
    assert [c["kind"] for c in told["changes"]] == ["resized"]
    assert told["changes"][0]["amount_mm"] == pytest.approx(4.0, abs=0.1)
    assert etree.fromstring(over.read_bytes()).tag.endswith("svg")
