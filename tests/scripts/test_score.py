"""The scoring script on answers known beforehand."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

import score
import score_find
import score_page
from score_page import PageScore, Task, compare, drawn_tasks, real_tasks
from score_table import figures, grouped, overall, table

from panelscan.demo.hands import LEFT_OUT_HAND
from panelscan.demo.truth import PageTruth, PanelTruth
from panelscan.model.outline import Outline


@dataclass(frozen=True)
class Guess:
    outline: Outline
    confidence: float = 0.9
    bleed: frozenset[str] = frozenset()


FOUR = [Outline.box(x, y, x + 90, y + 90) for y in (5, 105) for x in (5, 105)]


def page_of(panels: list[Outline]) -> PageTruth:
    return PageTruth(
        200, 200, (Outline.box(0, 0, 200, 200),), tuple(PanelTruth(o) for o in panels), "grid"
    )


def scored(found: list[Outline], order: list[int]) -> PageScore:
    result = PageScore("p", "grid", "book")
    compare(result, page_of(FOUR), [Guess(o) for o in found], order)
    return result


def test_a_right_page_scores_full_marks() -> None:
    result = scored(FOUR, [0, 1, 2, 3])
    assert result.counts["0.95"] == (4, 0, 0)
    assert result.exact["0.95"]
    assert result.order is not None
    assert (result.order["exact"], result.order["tau"]) == (1.0, 1.0)
    assert result.corners_px == [0.0] * 16


def test_a_merged_pair_and_a_wrong_order_are_told() -> None:
    merged = [Outline.box(5, 5, 195, 95), FOUR[2], FOUR[3]]
    result = scored(merged, [0, 2, 1])
    # Source: arithmetic; two of four panels right, one found panel too many at 0.9.
    assert result.counts["0.9"] == (2, 1, 2)
    assert (result.merges, result.splits, result.misses) == (1, 0, 0)
    assert result.order is not None
    assert result.order["tau"] == -1.0
    values = figures([result])
    assert values["f1@0.9"] == pytest.approx(4 / 7)
    assert values["exact@0.9"] == 0.0


def test_scoring_books_are_apart_from_tuning_books_and_hold_the_left_out_hand() -> None:
    tuning = drawn_tasks("slanted", 60, scoring=False, height_px=900)
    scoring = drawn_tasks("slanted", 60, scoring=True, height_px=900)
    assert not {t.seed for t in tuning} & {t.seed for t in scoring}
    assert LEFT_OUT_HAND not in {t.hand for t in tuning}
    assert LEFT_OUT_HAND in {t.hand for t in scoring}


def test_table_and_overall_figures_hold_together() -> None:
    pages = [scored(FOUR, [0, 1, 2, 3]), scored(FOUR[:3], [0, 1, 2])]
    text = table(grouped(pages, lambda p: p.category), "category")
    assert text.splitlines()[2].split()[:2] == ["grid", "2"]
    assert 0 <= overall(pages)["panel ECE"] <= 1


def test_annotated_pages_are_found_and_read(tmp_path: Path) -> None:
    import cv2

    folder = tmp_path / "inkwell"
    folder.mkdir()
    picture = np.full((200, 200), 255, np.uint8)
    for o in FOUR:
        x0, y0, x1, y1 = (int(v) for v in o.bounds)
        cv2.rectangle(picture, (x0, y0), (x1, y1), 0, 2)
    cv2.imwrite(str(folder / "one.png"), picture)
    truth = page_of(FOUR).to_json() | {"image": "inkwell/one.png"}
    (folder / "one.json").write_text(json.dumps(truth), encoding="utf-8")
    (task,) = real_tasks(tmp_path)
    assert (task.category, Path(task.truth_path).name) == ("inkwell", "one.json")
    sheet = score_page._sheet(task)
    assert sheet.picture[0].shape[:2] == (200, 200)
    assert [p.outline for p in sheet.truth.panels] == FOUR


def test_a_page_that_makes_the_detector_fail_is_a_page_missed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("no")

    monkeypatch.setattr(score_find, "find", fail)
    (result,) = score_page.score_book([Task("grid", 2, "nib", height_px=300)])
    assert result.error == "RuntimeError: no"
    assert result.counts["0.5"][0] == 0
    assert result.counts["0.5"][2] > 0


def test_short_run_of_one_category_writes_table_and_data(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["--short", "--category", "grid", "--no-real", "--workers", "1"]
    assert score.main([*arguments, "--height", "700", "--out", str(tmp_path)]) == 0
    assert "grid" in capsys.readouterr().out
    data = json.loads((tmp_path / "score.json").read_text(encoding="utf-8"))
    assert len(data["pages"]) == score.SHORT_PAGES
    assert "all drawn pages" in (tmp_path / "score.txt").read_text(encoding="utf-8")


def test_gutters_are_compared_where_both_panels_were_found() -> None:
    from panelscan.model.panel import Ground, GroundKind, PageFinding, Panel

    wider = [FOUR[0], Outline.box(107, 5, 195, 95), FOUR[2]]
    ground = Ground(GroundKind.WHITE, (255, 255, 255))
    panels = tuple(Panel(o) for o in wider)
    finding = PageFinding(Outline.box(0, 0, 200, 200), 0.0, ground, panels, 1.0)
    # Source: arithmetic; the gutter is 2 px too wide, the one below it is right.
    assert sorted(score_page.gutter_errors(page_of(FOUR), finding)) == pytest.approx([0, 2])


def test_pages_are_taken_book_by_book() -> None:
    tasks = drawn_tasks("grid", 12, scoring=True, height_px=300)
    assert [len(book) for book in score_page.books_of(tasks)] == [6, 6]


def test_room_error_is_the_difference_of_the_free_height_above_the_first_balloon() -> None:
    # Source: arithmetic; panels of 100 px, balloons that begin 10 and 25 px below the top.
    panels = [Outline.box(0, 0, 100, 100), Outline.box(0, 110, 100, 210)]
    known = shapely.box(10, 10, 60, 40)
    told = shapely.union_all([shapely.box(10, 25, 60, 40), shapely.box(5, 150, 40, 170)])
    assert score_page.room_errors(panels, known, told) == [0.15, 0.6]
    assert score_page.room_errors(panels, known, known) == [0.0]
    assert score_page.room_errors(panels, shapely.Polygon(), shapely.Polygon()) == []
    pages = [PageScore("p", "grid", "book", room=[0.1, 0.2, 0.9])]
    compare(pages[0], page_of(FOUR), [Guess(o) for o in FOUR], [0, 1, 2, 3])
    assert figures(pages)["room median"] == 0.2
    assert overall(pages)["room error p90, share of panel height"] == pytest.approx(0.76)
    assert "room" in table({"grid": pages}, "category").splitlines()[0]
