"""Commands as a person would type them, on three small pages drawn here."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest

from panelscan.cli.console import guarded
from panelscan.cli.main import cli
from tests.cli.test_main import run

GRIDS = {
    "p1": [(60, 60, 940, 480), (60, 510, 480, 1440), (520, 510, 940, 1440)],
    "p2": [(60, 60, 480, 700), (520, 60, 940, 700), (60, 730, 940, 1440)],
    "p10": [(60, 60, 940, 1440)],
}


def draw(path: Path, boxes: list[tuple[int, int, int, int]]) -> None:
    page = np.full((1500, 1000, 3), 255, np.uint8)
    for x0, y0, x1, y1 in boxes:
        cv2.rectangle(page, (x0, y0), (x1, y1), (0, 0, 0), 5)
        cv2.circle(page, ((x0 + x1) // 2, (y0 + y1) // 2), 90, (90, 140, 90), -1)
    cv2.imwrite(str(path), page)


@pytest.fixture(scope="module")
def desk(tmp_path_factory) -> Path:
    """A folder with pages and the library made of them."""
    folder = tmp_path_factory.mktemp("desk")
    (folder / "ferry").mkdir()
    for name, boxes in GRIDS.items():
        draw(folder / "ferry" / f"{name}.png", boxes)
    (folder / "ferry" / "p11.png").write_bytes(b"\x89PNG\r\n\x1a\nno more")
    code = guarded(
        cli, ["scan", str(folder / "ferry"), "--library", str(folder / "shelf"), "--jobs", "0",
              "--dpi", "150"],
    )
    assert code == 7
    return folder


def say(capsys, *arguments: object) -> tuple[int, str, str]:
    capsys.readouterr()
    code = guarded(cli, [str(a) for a in arguments])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_scan_saves_pages_in_natural_order_and_names_the_broken_one(desk, capsys):
    pages = pd.read_parquet(desk / "shelf" / "pages").sort_values("page_number")
    assert [Path(p).name for p in pages["source_path"]] == ["p1.png", "p2.png", "p10.png"]
    panels = pd.read_parquet(desk / "shelf" / "panels")
    assert panels.groupby("page_number").size().tolist() == [3, 3, 1]
    assert panels["width_mm"].max() == pytest.approx(880 / 150 * 25.4, rel=0.01)
    code, _, err = say(capsys, "scan", desk / "ferry", "--library", desk / "shelf", "--jobs", 0,
                       "--dpi", 150)
    assert code == 7
    assert "p11.png" in err
    assert "3 more were known and unchanged" in err


def test_show_draws_a_page_and_lists_its_panels(desk, capsys):
    out = desk / "found.png"
    code, told, _ = say(capsys, "show", desk / "ferry" / "p1.png", "-o", out, "--json")
    assert code == 0
    data = json.loads(told)
    assert [p["panel"] for p in data["panels"]] == [1, 2, 3]
    assert cv2.imread(str(out)) is not None
    code, _, err = say(capsys, "show", desk / "ferry" / "p1.png", "-o", out)
    assert code == 5
    assert "--overwrite" in err
    code, _, _ = say(capsys, "show", "ferry/2", "--library", desk / "shelf", "-o", out,
                     "--overwrite")
    assert code == 0


@pytest.mark.parametrize(
    "step", ["frame", "ground", "segments", "candidates", "selection", "sides", "final"]
)
def test_every_step_has_its_picture(desk, capsys, step):
    out = desk / f"step-{step}.png"
    code, _, _ = say(capsys, "show", desk / "ferry" / "p2.png", "--step", step, "-o", out)
    assert code == 0
    assert cv2.imread(str(out)).std() > 1


def test_tag_filters_habits_and_can_be_taken_back(desk, capsys):
    shelf = desk / "shelf"
    assert say(capsys, "tag", "ferry/1-2", "scene=quay", "--library", shelf)[0] == 0
    assert say(capsys, "tag", "ferry/2#1", "shot=long", "--library", shelf)[0] == 0
    _, told, err = say(
        capsys, "-vv", "habits", "--library", shelf, "--where", "scene = 'quay'", "--json"
    )
    assert err == ""
    counts = {row["key"]: row["value"] for row in json.loads(told)}
    assert counts["panels_per_page_mean"] == 3.0
    assert say(capsys, "tag", "ferry/1-2", "scene=-", "--library", shelf)[0] == 0
    code, _, err = say(capsys, "habits", "--library", shelf, "--where", "scene = 'quay'")
    assert code != 0
    assert err.startswith("panelscan: ")


def test_habits_writes_report_groups_and_comparison(desk, capsys):
    code, told, _ = say(capsys, "habits", "--library", desk / "shelf", "--out", desk / "habits")
    assert code == 0
    assert "Panels a page" in told
    assert (desk / "habits" / "habits.html").exists()
    code, told, _ = say(
        capsys, "habits", "--library", desk / "shelf", "--by", "book", "--out", desk / "by-book"
    )
    assert "ferry" in told
    assert "By book" in (desk / "by-book" / "habits.html").read_text(encoding="utf-8")
    groups = pd.read_parquet(desk / "by-book" / "tables" / "groups.parquet")
    assert groups.set_index("key").loc["panels_per_page_mean", "group"] == "ferry"
    code, told, _ = say(capsys, "habits", "--library", desk / "shelf", "--compare", "ferry",
                        "ferry", "--out", desk / "two")
    assert code == 0
    assert "differs" not in told
    assert "ferry and ferry" in (desk / "two" / "habits.html").read_text(encoding="utf-8")
    code, _, err = say(capsys, "habits", "--library", desk / "shelf", "--compare", "ferry", "moon")
    assert code == 9
    assert "moon" in err


def test_find_by_example_grid_and_requirement(desk, capsys):
    shelf = desk / "shelf"
    _, told, _ = say(capsys, "find", "--library", shelf, "--like", desk / "ferry" / "p2.png",
                     "--json")
    hits = json.loads(told)["hits"]
    assert [h["name"] for h in hits] == ["ferry, page 1", "ferry, page 3"]  # not itself
    _, told, _ = say(capsys, "find", "--library", shelf, "--grid", "one then two", "--json")
    assert json.loads(told)["hits"][0]["name"] == "ferry, page 1"
    code, _, err = say(capsys, "find", "--library", shelf, "--panels", "9")
    assert code == 9
    assert "9 panels" in err
    code, _, err = say(capsys, "find", "--library", shelf, "--grid", "one then then")
    assert code == 2
    assert "^" in err


def test_plan_lays_a_scene_over_pages_and_names_faults_by_line(desk, capsys):
    scene = desk / "scene.csv"
    scene.write_text(
        "what happens,words,reveal\nThe boat lands,5,\nNobody is there,0,\nA light,3,yes\n",
        encoding="utf-8",
    )
    code, told, _ = say(capsys, "plan", scene, "--library", desk / "shelf", "--json", "--apart", 0,
                        "-o", desk / "plan.html")
    assert code == 0
    plan = json.loads(told)[0]
    reveal = next(p for p in plan["pages"] if 3 in [b for q in p["panels"] for b in q["beats"]])
    assert reveal["page"] % 2 == 0
    assert (desk / "plan.html").stat().st_size > 1000
    scene.write_text("what happens,weight\nThe boat lands,heavy-ish\n", encoding="utf-8")
    code, _, err = say(capsys, "plan", scene, "--library", desk / "shelf")
    assert code == 3
    assert "line 2" in err


def test_template_of_a_page_and_of_a_written_grid(desk, capsys):
    code, _, err = say(capsys, "template", "ferry/1", "--library", desk / "shelf", "-o",
                       desk / "page.svg")
    assert code == 0
    assert "printer" in err
    assert say(capsys, "template", "two then one", "-o", desk / "two.pdf")[0] == 0
    assert (desk / "two.pdf").read_bytes().startswith(b"%PDF")
    code, _, err = say(capsys, "template", "two then one", "-o", desk / "x.svg", "--format", "b9")
    assert code == 9
    assert "b9" in err


def test_check_has_an_exit_code_and_can_be_silenced(desk, capsys):
    page = desk / "ferry" / "p1.png"
    code, told, _ = say(capsys, "check", page, "--json")
    findings = json.loads(told)["findings"]
    assert code == (10 if findings else 0)
    assert findings, "150 pixels per inch is too little for print"
    keys = [f"--silence={f['key']}" for f in findings]
    code, told, _ = say(capsys, "check", page, "--json", *keys)
    assert (code, json.loads(told)["findings"]) == (0, [])


def test_compare_tells_which_panel_moved(desk, capsys):
    moved = [(60, 60, 940, 420), *GRIDS["p1"][1:]]
    draw(desk / "inks.png", moved)
    code, told, _ = say(capsys, "compare", desk / "ferry" / "p1.png", desk / "inks.png", "--json",
                        "--dpi", 150)
    assert code == 0
    changes = json.loads(told)["changes"]
    assert len(changes) == 1
    code, told, _ = say(capsys, "compare", desk / "ferry" / "p1.png", desk / "ferry" / "p1.png",
                        "--json")
    assert json.loads(told)["changes"] == []


@pytest.mark.parametrize("form", ["geoparquet", "csv", "coco", "page-xml", "svg"])
def test_export_writes_every_form(desk, capsys, form):
    out = desk / f"out-{form}"
    assert say(capsys, "export", form, "--library", desk / "shelf", "-o", out)[0] == 0
    assert out.exists()
    assert say(capsys, "export", form, "--library", desk / "shelf", "-o", out)[0] == 5


def test_errors_name_the_page_or_book_and_say_what_to_do(desk, capsys):
    for arguments in (
        ["show", "nowhere.png"],
        ["show", "moon/3", "--library", desk / "shelf"],
        ["info", "--library", desk / "nothing-here"],
        ["template", "moon/3", "--library", desk / "shelf", "-o", "x.svg"],
    ):
        code, out, err = say(capsys, *arguments)
        assert code not in (0, 1), arguments
        assert out == ""
        assert "Traceback" not in err
        assert len(err.split()) > 6


def test_data_goes_to_standard_output_and_messages_to_standard_error(desk):
    done = run("info", "--library", str(desk / "shelf"), "--json")
    assert json.loads(done.stdout)["pages"] == 3
    assert done.stderr == ""


def test_a_taken_grid_is_noted_listed_and_forgotten(desk, capsys):
    shelf, out = desk / "shelf", desk / "next.svg"
    assert say(capsys, "info", "--forget-choices", "--library", shelf)[0] == 0
    code, _, err = say(capsys, "template", "ferry/2", "--library", shelf, "-o", out)
    assert code == 0 and "notes that this grid was taken, once by now" in err
    say(capsys, "template", "ferry/2", "--library", shelf, "-o", out, "--overwrite", "--no-note")
    _, told, _ = say(capsys, "info", "--liking", "--json", "--library", shelf)
    assert json.loads(told) == [
        {"page": "ferry/2", "rating": None, "taken": 1, "moved": -0.005}
    ]
    _, told, _ = say(capsys, "find", "--library", shelf, "--panels", "3")
    assert "you took it 1 time" in told
    _, told, _ = say(capsys, "find", "--library", shelf, "--panels", "3", "--no-liking")
    assert "you took it" not in told
    code, _, err = say(capsys, "info", "--forget-choices", "--liking", "--library", shelf)
    assert code == 0 and "nothing moves the ranking" in err


def test_pages_of_the_same_hand_and_by_a_labelled_book(desk, capsys):
    shelf = desk / "shelf"
    code, told, _ = say(capsys, "find", "--library", shelf, "--same-hand", "ferry/1")
    assert code == 0 and "Most alike in" in told and "ferry/1\t" not in told
    assert say(capsys, "tag", "ferry/2", "book=Quay", "--library", shelf)[0] == 0
    _, told, _ = say(capsys, "find", "--library", shelf, "--panels", "3")
    assert "Quay/2" in told
    code, _, err = say(capsys, "show", "Quay/2", "--library", shelf, "-o", desk / "quay.png")
    assert code == 0, err
    assert say(capsys, "tag", "Quay/2", "book=-", "--library", shelf)[0] == 0
    code, _, err = say(capsys, "show", "Quay/2", "--library", shelf, "-o", desk / "quay.png")
    assert code == 9 and "no page “Quay/2”" in err


def test_words_of_a_scene_size_the_lettering_room(desk, capsys):
    scene, out = desk / "scene.csv", desk / "scene.svg"
    scene.write_text("what,words\nA,4\nB,9\nC,2\nD,60\n", encoding="utf-8")
    given = ("template", "two then one", "-o", out, "--overwrite", "--scene", scene)
    code, _, err = say(capsys, *given, "--beats", "1-3")
    assert code == 0, err
    small = out.read_text(encoding="utf-8")
    assert say(capsys, *given, "--beats", "2-4")[0] == 0
    assert out.read_text(encoding="utf-8") != small
    for beats, told in (("3-5", "no such beats"), ("x", "no range")):
        code, _, err = say(capsys, *given, "--beats", beats)
        assert code == 2 and told in err
    scene.write_text("what,words\n" + "".join(f"B{n},1\n" for n in range(9)), encoding="utf-8")
    code, _, err = say(capsys, *given)
    assert code == 9 and "9 beats do not go into 3 panels" in err


def test_a_plan_as_a_sheet_of_thumbnails(desk, capsys):
    scene, out = desk / "plan.csv", desk / "plan-sheet.svg"
    scene.write_text("what,words\nA,4\nB,9\nC,2\nD,6\n", encoding="utf-8")
    code, _, err = say(capsys, "plan", scene, "--library", desk / "shelf", "--pages", "2",
                       "--apart", "0", "--sheet", out)  # fmt: skip
    assert code == 0 and "with 4 grids" in err
    record = json.loads(next((desk / "shelf" / "sheets").glob("*.json")).read_text("utf-8"))
    captions = [cell["caption"] for cell in record["cells"]]
    assert captions[0].startswith("page 1, beat") and captions[2] == f"{captions[0]}, try 2"


def test_template_tells_moves_and_shapes(desk, capsys):
    code, told, err = say(capsys, "template", "two then two", "--format", "strip", "--json",
                          "-o", desk / "strip.svg")  # fmt: skip
    changes = json.loads(told)["shape_changes"]
    assert code == 0 and all(c["after"] < c["before"] for c in changes) and len(changes) == 4
    _, _, err = say(capsys, "template", "two then two", "--format", "strip", "-o",
                    desk / "strip.svg", "--overwrite")  # fmt: skip
    assert "panel 1 6" in err and "narrower" in err


def test_help_names_every_page_format():
    from panelscan.cli.template import FORMATS
    from panelscan.model.formats import BUILT_IN

    assert sorted(FORMATS) == sorted(BUILT_IN)


def test_compare_takes_the_stage_that_the_library_links(desk, capsys):
    shelf = desk / "shelf"
    code, _, err = say(capsys, "compare", "ferry/1", "--library", shelf)
    assert code == 9 and "no other stage" in err
    code, _, err = say(capsys, "compare", desk / "ferry" / "p1.png")
    assert code == 2 and "--library" in err
    pages = pd.read_parquet(shelf / "pages").set_index("page_number")["page_id"]
    say(capsys, "tag", "ferry/1", "stage=inks", f"same-page={pages[2]}", "--library", shelf)
    say(capsys, "tag", "ferry/2", "stage=rough", "--library", shelf)
    assert say(capsys, "info", "--same-pages", "--library", shelf)[0] == 0
    for name in ("ferry/1", "ferry/2"):
        code, told, _ = say(capsys, "compare", name, "--library", shelf, "--json")
        assert code == 0
        data = json.loads(told)
        assert (Path(data["before"]).name, Path(data["after"]).name) == ("p2.png", "p1.png")
    say(capsys, "tag", "ferry/1-2", "stage=-", "same-page=-", "--library", shelf)
    say(capsys, "info", "--same-pages", "--library", shelf)
