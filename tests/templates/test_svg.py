from __future__ import annotations

import re

import numpy as np
import pytest
from lxml import etree as ET

from panelscan.errors import LibraryError, OutputExistsError, UsageError
from panelscan.model.formats import US_PRINT, format_named
from panelscan.templates.layers import LayerKey
from panelscan.templates.options import Rough, RoughPlace, TemplateOptions
from panelscan.templates.template import write_template
from tests.templates.samples import NAMED, tiers

SVG = "{http://www.w3.org/2000/svg}"


def groups(path):
    return ET.parse(path).getroot().findall(f"{SVG}g")


def test_layers_ids_and_physical_size(tmp_path):
    # SVG 2 (from memory): plain groups, unique ids without white space, physical units.
    out = tmp_path / "page.svg"
    report = write_template(NAMED["mixed"], US_PRINT, out)
    root = ET.parse(out).getroot()
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(6.875 * 25.4, abs=1e-3)
    assert float(root.get("height").removesuffix("mm")) == pytest.approx(10.5 * 25.4, abs=1e-3)
    assert root.get("viewBox").split()[2:] == [
        root.get("width").removesuffix("mm"),
        root.get("height").removesuffix("mm"),
    ]
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids)) == len(report.layers)
    assert all(re.fullmatch(r"[A-Za-z][\w.-]*", i) for i in ids)
    assert {e.tag for e in root.iter()} <= {f"{SVG}{t}" for t in ("svg", "g", "path", "title")}
    assert ids.index("paper") == 0
    assert ids[-2:] == ["borders", "order-numbers"]
    assert report.size_px is None
    assert any("printer" in note for note in report.notes)


def test_borders_are_alone_on_their_layer(tmp_path):
    write_template(NAMED["mixed"], US_PRINT, tmp_path / "page.svg")
    by_id = {g.get("id"): g for g in groups(tmp_path / "page.svg")}
    borders = by_id["borders"].findall(f"{SVG}path")
    assert len(borders) == 6
    assert {b.get("stroke-linejoin") for b in borders} == {"miter"}
    assert all(b.get("d").endswith("Z") for b in borders)
    for empty in ("roughs", "pencils", "inks"):
        assert by_id[empty].findall(f"{SVG}path") == []


def test_bleeding_sides_have_no_border(tmp_path):
    write_template(NAMED["bleeding"], US_PRINT, tmp_path / "page.svg")
    by_id = {g.get("id"): g for g in groups(tmp_path / "page.svg")}
    paths = [p.get("d") for p in by_id["borders"].findall(f"{SVG}path")]
    assert len(paths) == 3
    opened = [d for d in paths if not d.endswith("Z")]
    numbers = [float(v) for v in re.findall(r"-?[\d.]+", opened[0])]
    assert len(numbers) == 4, "one straight line: the panel's only side that does not bleed"
    assert min(numbers[::2]) < 0
    assert max(numbers[::2]) > 6.875 * 25.4


def test_chosen_layers_masks_and_no_numbers(tmp_path):
    out = tmp_path / "page.svg"
    only = frozenset({LayerKey.BORDERS, LayerKey.MASKS})
    write_template(NAMED["inset"], US_PRINT, out, TemplateOptions(masks=True, layers=only))
    found = groups(out)
    assert [g.get("id") for g in found] == ["panel-masks", "borders"]
    assert found[0].get("display") == "none"
    host = found[0].findall(f"{SVG}path")[0]
    assert host.get("d").count("M") == 2, "the inset is cut out of its host"
    bare = TemplateOptions(numbers=False, guides=False, lettering=False, overwrite=True)
    report = write_template(NAMED["six"], US_PRINT, out, bare)
    assert report.layers == ("Paper", "Roughs", "Pencils", "Inks", "Panel borders")


def lettering_area(path):
    import shapely

    (layer,) = [g for g in groups(path) if g.get("id") == "lettering-room"]
    areas = []
    for p in layer.findall(f"{SVG}path"):
        if not p.get("d").endswith("Z"):
            continue
        n = [float(v) for v in re.findall(r"-?[\d.]+", p.get("d"))]
        areas.append(shapely.Polygon(list(zip(n[::2], n[1::2], strict=True))).area)
    return areas


def test_lettering_room_follows_the_words(tmp_path):
    out = tmp_path / "page.svg"
    write_template(tiers(2, 2, 2), US_PRINT, out, TemplateOptions(words=(0, 10, 20, 40)))
    ten, twenty, forty, usual, usual_too = lettering_area(out)
    assert twenty == pytest.approx(2 * ten, rel=1e-3)
    assert forty == pytest.approx(4 * ten, rel=1e-3)
    assert usual == pytest.approx(usual_too, rel=1e-6)


def test_a_board_is_a_larger_sheet(tmp_path):
    report = write_template(NAMED["six"], format_named("us-board"), tmp_path / "board.svg")
    assert report.size_mm == pytest.approx((279.4, 431.8))


def test_spread_across_both_pages(tmp_path):
    report = write_template(NAMED["mixed"], US_PRINT.as_spread(), tmp_path / "spread.svg")
    assert report.size_mm == pytest.approx((13.5 * 25.4, 10.5 * 25.4))


def test_rough_is_laid_and_lightened(tmp_path):
    rough = np.full((300, 200), 255, np.uint8)
    rough[100:120, 50:150] = 0
    options = TemplateOptions(rough=Rough(rough, RoughPlace.TRIM, lightness=0.5))
    write_template(NAMED["six"], US_PRINT, tmp_path / "page.svg", options)
    ids = [g.get("id") for g in groups(tmp_path / "page.svg")]
    assert ids[:3] == ["paper", "rough-underneath", "lettering-room"]


def test_refusals_leave_nothing_behind(tmp_path):
    out = tmp_path / "page.svg"
    write_template(NAMED["six"], US_PRINT, out)
    before = out.read_bytes()
    with pytest.raises(OutputExistsError, match=r"page\.svg"):
        write_template(NAMED["nine"], US_PRINT, out)
    assert out.read_bytes() == before
    write_template(NAMED["nine"], US_PRINT, out, TemplateOptions(overwrite=True))
    assert out.read_bytes() != before
    with pytest.raises(LibraryError, match="cannot be written"):
        write_template(NAMED["six"], US_PRINT, tmp_path / "nowhere" / "page.svg")
    with pytest.raises(UsageError, match=r"not written as '\.doc'"):
        write_template(NAMED["six"], US_PRINT, tmp_path / "page.doc")
    with pytest.raises(UsageError, match="too dense"):
        write_template(
            tiers(4, 4, 4, 4), US_PRINT, tmp_path / "b.svg", TemplateOptions(tier_gutter_mm=75)
        )
    assert sorted(p.name for p in tmp_path.iterdir()) == ["page.svg"]


@pytest.mark.parametrize(
    "options",
    [{"ppi": 555}, {"border_mm": -1}, {"tier_gutter_mm": float("nan")}, {"words": (-3,)}],
)
def test_options_are_checked(options):
    with pytest.raises(UsageError):
        TemplateOptions(**options)


def test_same_bytes_every_time(tmp_path):
    a, b = tmp_path / "a.svg", tmp_path / "b.svg"
    write_template(NAMED["slanted"], US_PRINT, a)
    write_template(NAMED["slanted"], US_PRINT, b)
    assert a.read_bytes() == b.read_bytes()
