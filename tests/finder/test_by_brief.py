from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from panelscan.errors import NothingFound, UsageError
from panelscan.finder.brief import Brief
from panelscan.finder.by_brief import recent_pages, screen
from panelscan.finder.index import GridIndex
from tests.finder.drawn import draw_grids, jittered
from tests.finder.made_library import make_library

duckdb = pytest.importorskip("duckdb")

AT = "exists (from panels p where p.page_id = g.page_id and p.reading_order = {k} and {test})"
ANY = "exists (from panels p where p.page_id = g.page_id and {test})"
AREA = "(select sum(cast(area_share as float)) from panels q where q.page_id = g.page_id)"
WIDE, TALL = "cast(p.aspect as float) >= 1.6::float", "cast(p.aspect as float) <= 0.75::float"

# Each requirement beside the same in SQL on the library's own Parquet files.
CASES = [
    (Brief(panels=(5, 7)), "panel_count between 5 and 7"),
    (Brief(panels=(None, 3)), "panel_count <= 3"),
    (Brief(tiers=(3, 3)), "tier_count = 3"),
    (Brief(wide_at=(1,)), AT.format(k=1, test=WIDE)),
    (Brief(tall_at=(2,)), AT.format(k=2, test=TALL)),
    (
        Brief(big_at=(1, 4)),
        AT.format(k=1, test=f"p.area_share >= 0.25 * {AREA}")
        + " and "
        + AT.format(k=4, test=f"p.area_share >= 0.25 * {AREA}"),
    ),
    (Brief(splash=True), "list_contains(patterns, 'splash')"),
    (Brief(splash=False), "not list_contains(patterns, 'splash')"),
    (Brief(bleeds=True), "bleed_left or bleed_top or bleed_right or bleed_bottom"),
    (Brief(bleeds=False), "not (bleed_left or bleed_top or bleed_right or bleed_bottom)"),
    (Brief(slants=False), "not " + ANY.format(test="p.slant_deg > 2")),
    (Brief(insets=True), ANY.format(test="p.is_inset")),
    (
        Brief(least_words=20),
        "not " + ANY.format(test=f"floor(210 * p.area_share / {AREA} + 1e-6) < 20"),
    ),
    (
        Brief(words_at=((2, 30),)),
        AT.format(k=2, test=f"floor(210 * p.area_share / {AREA} + 1e-6) >= 30"),
    ),
    (
        Brief(free_top_share=0.25),
        "not " + ANY.format(test="(p.free_top_share is null or p.free_top_share < 0.25::float)"),
    ),
    (Brief(side="left"), "page_side = 'left'"),
    (Brief(clarity=0.9), "cast(clarity as float) >= 0.9"),
    (Brief(aspect=0.65), "abs(aspect / 0.65 - 1) <= 0.05"),
    (
        Brief(size_mm=(168, 254)),
        "abs(width_mm / 168 - 1) <= 0.05 and abs(height_mm / 254 - 1) <= 0.05",
    ),
    (
        Brief(panels=(4, 8), slants=False, bleeds=False, wide_at=(1,), clarity=0.5),
        "panel_count between 4 and 8 and not "
        + ANY.format(test="p.slant_deg > 2")
        + " and not (bleed_left or bleed_top or bleed_right or bleed_bottom) and "
        + AT.format(k=1, test=WIDE)
        + " and clarity >= 0.5",
    ),
]


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    grids = draw_grids(150, 31)
    grids[140] = jittered(grids[3], np.random.default_rng(1), 0.004)
    folder = tmp_path_factory.mktemp("brief") / "shelf"
    return make_library(folder, {"Salt": grids[:90], "Tide": grids[90:]})


@pytest.fixture(scope="module")
def index(library):
    return GridIndex.open(library)


def page_ids(index, passes):
    return {index.pages.id(int(k)) for k in np.flatnonzero(passes)}


@pytest.mark.parametrize(
    ("brief", "sql"), CASES, ids=lambda v: v[:30] if isinstance(v, str) else ""
)
def test_requirements_are_exact_against_duckdb(library, index, brief, sql):
    # DuckDB over the Parquet files, knowing nothing of the index.
    root = library.place.root
    with duckdb.connect() as db:
        for table in ("pages", "panels"):
            db.execute(f"create view {table} as from read_parquet('{root}/{table}/*.parquet')")
        rows = db.execute(f"select page_id from pages g where {sql}").fetchall()  # noqa: S608
    expected = {row[0] for row in rows}
    assert page_ids(index, screen(index, brief).passes) == expected
    assert 0 < len(expected) < len(index), "the case tells nothing"


def test_labels_and_ratings(index):
    count = len(index)
    labels = {
        "stage": pa.array(["Inks", None, "rough"] + [None] * (count - 3), pa.string()),
        "rating": pa.array(["5", "3", "2"] + [None] * (count - 3), pa.string()),
    }
    inks = screen(index, Brief(labels={"stage": "inks"}), labels).passes
    assert np.flatnonzero(inks).tolist() == [0]
    assert np.flatnonzero(screen(index, Brief(rating=3), labels).passes).tolist() == [0, 1]
    assert not screen(index, Brief(rating=1), {}).passes.any()


def test_grids_of_the_last_pages_are_left_out(index):
    recent = recent_pages(index, "Salt", 5, 20)
    assert [index.pages.name(int(p)) for p in recent] == [f"Salt, page {n}" for n in range(15, 20)]
    brief = Brief(unused_for=5, unused_in="Salt", unused_before=20)
    assert not screen(index, brief).passes[recent].any()
    # Page 51 of the second book has the grid of page 4 of the first.
    brief = Brief(unused_for=1, unused_in="Salt", unused_before=5)
    out = np.flatnonzero(~screen(index, brief).passes)
    assert {3, 140} <= set(out.tolist())
    assert recent_pages(index, "", 2, None).tolist() == [148, 149]
    with pytest.raises(NothingFound, match="no book Fog"):
        recent_pages(index, "Fog", 2, None)


def test_what_excludes_most_comes_first(index):
    told = screen(index, Brief(panels=(30, None), bleeds=False)).excluded()
    assert told[0][0] == "at least 30 panels"
    assert told[0][1] == len(index) and told[0][2] > 0
    assert told[1][2] == 0


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"panels": (7, 5)}, "7 is more than 5"),
        ({"wide_at": (0,)}, "count from 1"),
        ({"wide_at": (2,), "tall_at": (2,)}, "cannot be wide and tall"),
        ({"side": "middle"}, "no side of a book"),
        ({"clarity": 1.5}, "share from 0 to 1"),
        ({"rating": 6}, "1 to 5"),
    ],
)
def test_briefs_that_contradict_themselves_are_refused(wrong, says):
    with pytest.raises(UsageError, match=says):
        Brief(**wrong)
