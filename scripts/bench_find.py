"""Finding and planning: how right and how fast, on drawn pages whose truth is known.

    python scripts/bench_find.py            all figures, up to 1,000,000 pages
    python scripts/bench_find.py --short    a minute: 2,000 pages for quality, 20,000 for speed
    python scripts/bench_find.py --only quality plan
    python scripts/bench_find.py --pages ../shared/pages    real pages for "same book", if there

One core: the thread pools of NumPy's libraries are set to one thread. Other work on the
machine makes the clock's times longer; the processor's own time stands beside.
"""

from __future__ import annotations

import os

os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np

from panelscan.finder import index_files
from panelscan.finder.beat_match import match_costs
from panelscan.finder.beats import Scene
from panelscan.finder.brief import Brief
from panelscan.finder.by_brief import screen
from panelscan.finder.by_example import find_like
from panelscan.finder.by_grid import find_grid
from panelscan.finder.coarse import Coarse
from panelscan.finder.index import GridIndex
from panelscan.finder.index_arrays import IndexArrays, pack, unpack
from panelscan.finder.index_tables import Names
from panelscan.finder.panel_tables import distances_to, rows_of_pages, spans
from panelscan.finder.plan import OVER_WORD, plan_scene
from panelscan.finder.plan_types import PlanOptions
from panelscan.finder.retrieval import average_precision, ndcg_at, recall_at
from panelscan.finder.same_hand import style_distances, style_table
from panelscan.finder.shelf import Shelf
from panelscan.finder.vectors import vectors_of_rows
from panelscan.layout.distance import grid_distance
from panelscan.layout.fields import panel_rows
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from tests.finder.drawn import draw_book, draw_distinct, draw_grids, jittered, merged, split
from tests.finder.plan_milp import optimum
from tests.finder.test_beat_match import milp_optimum, some_beats

PARTS = ("quality", "books", "speed", "match", "plan")
WRITTEN = (
    "two then three then one",
    "one over one and one then two",
    "three then three then three",
)


def say(what: str, figure: str, goal: str = "") -> None:
    """Print one figure."""
    print(f"{what:58s} {figure:24s} {goal}", flush=True)


def times_ms(act: Callable[[int], object], count: int) -> np.ndarray:
    """Milliseconds of each of `count` runs after one that does not count: clock, processor."""
    act(0)
    taken = []
    for k in range(count):
        clock, processor = time.perf_counter(), time.process_time()
        act(k)
        taken.append((time.perf_counter() - clock, time.process_time() - processor))
    return 1000 * np.array(taken).T


def spread(taken: np.ndarray) -> str:
    """Median and 95th percentile by the clock, and of the processor's own time."""
    (a, b), (c, d) = (np.percentile(t, [50, 95]) for t in taken)
    return f"p50 {a:.1f}, p95 {b:.1f} ms (processor {c:.1f}, {d:.1f})"


# Quality -----------------------------------------------------------------------------------


def quality(pages: int, queries: int) -> None:
    """Same grid under jitter first; merged or split within ten; order against exact ranking."""
    grids = draw_distinct(pages, 1)
    index = GridIndex.of_grids(grids, measured=False)
    rng = np.random.default_rng(5)
    chosen = rng.choice(pages, queries, replace=False)
    first, changed = [], {"merged": [], "split": []}
    for k in chosen:
        first.append(find_like(index, jittered(grids[k], rng), count=1)[0].page == k)
        for name, change in (("merged", merged), ("split", split)):
            other = change(grids[k], rng)
            if other is not None:
                found = [h.page for h in find_like(index, other, count=10)]
                changed[name].append(recall_at(found, {int(k)}, 10))
    say(
        f"same grid, 1 % jitter, first of {pages} ({queries} asked)",
        f"{100 * np.mean(first):.1f} %",
        "goal 99.5 %",
    )
    for name, found in changed.items():
        say(
            f"one panel {name}, within ten ({len(found)} asked)",
            f"{100 * np.mean(found):.1f} %",
            "goal 97 %",
        )
    _against_exact(index, grids, chosen[: max(20, queries // 20)], rng)


def _against_exact(index: GridIndex, grids: list[Grid], chosen: np.ndarray, rng) -> None:
    """First look and exact order, against comparing with every page."""
    rows, starts = rows_of_pages(index.arrays, np.arange(len(index)))
    recalls, gains = [], []
    for k in chosen:
        query = jittered(grids[k], rng, 0.03)
        exact = distances_to(panel_rows(query), rows, starts)
        best = np.argsort(exact, kind="stable")[:10]
        found = [h.page for h in find_like(index, query, count=10, mirrors=False, one_off=False)]
        recalls.append(recall_at(found, set(best.tolist()), 10))
        worth = np.clip(1 - exact / 0.2, 0, 1)
        gains.append(ndcg_at(worth[found], worth, 10))
    say("exact ten nearest found among our ten", f"{100 * np.mean(recalls):.1f} %")
    say("nDCG@10 of the order, worth falling with exact distance", f"{np.mean(gains):.4f}")


def same_book(books: int, folder: Path | None) -> None:
    """Pages of the same book found by their grids, against counting panels alone."""
    drawn = [draw_book(16, seed) for seed in range(books)]
    _same_book(
        "drawn books",
        [g for b in drawn for g in b],
        np.repeat(np.arange(books), [len(b) for b in drawn]),
    )
    if folder is not None and folder.is_dir():
        grids, owners = real_pages(folder)
        _same_book(f"{len(grids)} real pages of {len(set(owners))} artists", grids, owners)


def _same_book(what: str, grids: list[Grid], owner: np.ndarray) -> None:
    by_grid, by_hand, by_count = [], [], []
    counts = np.array([len(g) for g in grids])
    index = GridIndex.of_grids(grids, measured=False)
    table = style_table(index)
    for k, grid in enumerate(grids):
        others = np.flatnonzero(np.arange(len(grids)) != k)
        same = owner[others] == owner[k]
        if not same.any():
            continue
        far = np.array([grid_distance(grid, grids[j]).value for j in others])
        by_grid.append(average_precision(same[np.argsort(far, kind="stable")]))
        far = style_distances(index, k, table)[others]
        by_hand.append(average_precision(same[np.argsort(far, kind="stable")]))
        # Pages with as many panels differ in nothing: the mean over shuffled orders.
        apart = np.abs(counts[others] - counts[k])
        orders = [np.lexsort((np.random.default_rng(s).random(len(others)), apart))
                  for s in range(8)]  # fmt: skip
        by_count.append(np.mean([average_precision(same[o]) for o in orders]))
    say(
        f"same book, {what}: mean average precision",
        f"{np.mean(by_hand):.3f} same hand, {np.mean(by_grid):.3f} same grid",
        f"counting panels {np.mean(by_count):.3f}",
    )


def real_pages(folder: Path) -> tuple[list[Grid], np.ndarray]:
    """Grids of pages with hand-made truth, and whose they are."""
    grids, owners = [], []
    for file in sorted(folder.rglob("*.json")):
        told = json.loads(file.read_text("utf-8"))
        panels = sorted(told["panels"], key=lambda p: p["order"])
        width, height = told["width"], told["height"]
        outlines = [Outline.of([(x / width, y / height) for x, y in p["polygon"]]) for p in panels]
        if outlines:
            grids.append(Grid(tuple(GridPanel(o) for o in outlines), width / height))
            owners.append(file.parent.name)
    return grids, np.array(owners)


# Speed -------------------------------------------------------------------------------------


def many_pages(count: int) -> GridIndex:
    """An index of `count` pages: drawn grids, each repeated with every corner moved a little."""
    base = GridIndex.of_grids(draw_grids(min(count, 8_000), 9), measured=False).arrays
    rng = np.random.default_rng(2)
    pages = np.arange(count) % len(base)
    panels, starts = spans(base.starts, pages)
    corners, corner_starts = spans(base.corner_starts, panels)
    points = unpack(base.corners[corners]) + rng.uniform(-0.02, 0.02, (len(corners), 2))
    low = np.minimum.reduceat(points, corner_starts[:-1])
    high = np.maximum.reduceat(points, corner_starts[:-1])
    taken = {
        n: getattr(base, n)[pages]
        for n in (
            "side",
            "aspect",
            "clarity",
            "width_mm",
            "height_mm",
            "rtl",
            "tiers",
            "splash",
            "form",
        )
    }
    own = {
        n: getattr(base, n)[panels]
        for n in ("areas", "bleeds", "hosts", "shapes", "slants", "free_tops")
    }
    arrays = IndexArrays(
        ids=np.array([f"{k:020x}" for k in range(count)], dtype="S20"),
        book=(np.arange(count) // 200).astype(np.int32),
        number=(np.arange(count) % 200 + 1).astype(np.int32),
        starts=starts.astype(np.int32),
        boxes=pack(np.concatenate([low, high], axis=1)),
        corner_starts=corner_starts.astype(np.int32),
        corners=pack(points),
        vectors=np.zeros((count, 161), np.float16),
        **taken,
        **own,
    )
    for start in range(0, count, 20_000):
        part = np.arange(start, min(start + 20_000, count))
        rows, row_starts = rows_of_pages(arrays, part)
        arrays.vectors[part] = vectors_of_rows(rows, row_starts)
    coarse = Coarse.of(arrays.vectors, np.diff(arrays.starts))
    return GridIndex(arrays, coarse, Names(tuple(f"book {k}" for k in range(count // 200 + 1))))


COLD = """
import time
start = time.perf_counter()
import sys
from pathlib import Path
from panelscan.finder.by_grid import find_grid
from panelscan.finder.index import GridIndex
from panelscan.finder import index_files
index = GridIndex(*index_files.load(Path(sys.argv[1]), "cold"))
hits = find_grid(index, "two then three then one")
print(time.perf_counter() - start)
"""


def speed(count: int, queries: int) -> None:
    """Queries on an index in memory, a cold start from disk, and a filter."""
    index = many_pages(count)
    say(f"{count:,} pages: index", f"{index.bytes_per_page:.0f} bytes a page", "goal 1,024")
    goal = {100_000: "goal p95 20 ms", 1_000_000: "goal p95 150 ms"}.get(count, "")
    rng = np.random.default_rng(4)
    asked = [jittered(index.grid(int(k)), rng) for k in rng.choice(count, queries)]
    say(
        f"{count:,} pages: by example",
        spread(times_ms(lambda k: find_like(index, asked[k]), queries)),
        goal,
    )
    say(
        f"{count:,} pages: by written grid",
        spread(times_ms(lambda k: find_grid(index, WRITTEN[k % 3]), queries)),
        goal,
    )
    brief = Brief(panels=(5, 7), wide_at=(1,), bleeds=False, slants=False, clarity=0.5)
    say(
        f"{count:,} pages: five requirements",
        spread(times_ms(lambda _: screen(index, brief), max(5, queries // 10))),
    )
    with tempfile.TemporaryDirectory() as folder:
        index_files.save(Path(folder), "cold", index.arrays, index.coarse, index.names)
        whole, own = [], []
        for _ in range(3):
            start, before = time.perf_counter(), os.times()
            subprocess.run(
                [sys.executable, "-c", COLD, folder],
                check=True,
                capture_output=True,
                cwd=Path(__file__).resolve().parents[1],
            )
            whole.append(time.perf_counter() - start)
            after = os.times()
            own.append(
                after.children_user
                + after.children_system
                - before.children_user
                - before.children_system
            )
    say(
        f"{count:,} pages: cold start and first answer",
        f"{min(whole):.2f} s (processor {min(own):.2f})",
        "goal 1.5 s",
    )


# Planning ----------------------------------------------------------------------------------


def planning(grids: int, cases: int) -> None:
    """A long scene, and small ones against the integer optimum."""
    shelf = Shelf.from_grids(draw_grids(grids, 1))
    rng = np.random.default_rng(3)
    beats = some_beats(rng, 60, reveals=(22, 45))
    beats[5] = replace(beats[5], keep_with_next=True)
    scene = Scene(tuple(beats))
    clock, processor = time.perf_counter(), time.process_time()
    plans = plan_scene(scene, shelf, PlanOptions(pages=12))
    clock, processor = time.perf_counter() - clock, time.process_time() - processor
    say(
        f"60 beats, 12 pages, {grids:,} grids",
        f"{clock:.2f} s (processor {processor:.2f})",
        "goal 5 s",
    )
    say(
        "  its cost over a bound that no plan can beat",
        f"{100 * (plans[0].cost / plans[0].bound - 1):.2f} %",
    )
    wider = plan_scene(scene, shelf, PlanOptions(pages=12, breadth=30, beam=400))[0]
    say(
        "  what a search several times as wide still gains",
        f"{100 * (1 - wider.cost / plans[0].cost):.4f} %",
    )
    worst = 0.0
    for seed in range(cases):
        rng = np.random.default_rng(200 + seed)
        shelf = Shelf.from_grids(draw_grids(13, 300 + seed))
        scene = Scene(tuple(some_beats(rng, 14, reveals=(7,) if seed % 2 else ())))
        options = PlanOptions(pages=4, first_page=1 + seed % 2, apart=3)
        weights = replace(options.weights, over_word=OVER_WORD, over_panel=0.0)
        best = optimum(scene.beats, shelf, options, weights)
        if np.isfinite(best):
            worst = max(worst, plan_scene(scene, shelf, options)[0].cost / best - 1)
    say(f"{cases} small plans, worst over SciPy's MILP optimum", f"{100 * worst:.4f} %", "goal 1 %")


def matching(cases: int) -> None:
    """Scenes laid into one page, larger ones than can be tried out, against SciPy's MILP."""
    worst = 0.0
    for seed in range(cases):
        rng = np.random.default_rng(seed)
        panels, beats = int(rng.integers(12, 25)), int(rng.integers(12, 31))
        single, shared = rng.uniform(0, 9, (panels, beats)), rng.uniform(0, 12, (panels, beats - 1))
        best = milp_optimum(single, shared, 2.5, [False] * beats)
        if np.isfinite(best):
            worst = max(worst, match_costs(single, shared, 2.5)[0] / best - 1)
    what = f"{cases} scenes of 12 to 30 beats, worst over SciPy's MILP"
    say(what, f"{100 * worst:.4f} %", "goal 1 %")


def main(arguments: list[str] | None = None) -> None:
    """Print the figures asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--only", nargs="*", choices=PARTS, default=list(PARTS))
    parser.add_argument("--pages", type=Path, default=None, help="real pages with truth")
    parser.add_argument("--sizes", nargs="*", type=int, default=[100_000, 1_000_000])
    given = parser.parse_args(arguments)
    if "quality" in given.only:
        quality(*((2_000, 100) if given.short else (10_000, 1_000)))
    if "books" in given.only:
        same_book(6 if given.short else 12, given.pages)
    if "speed" in given.only:
        for count in [20_000] if given.short else given.sizes:
            speed(count, 20 if given.short else 200)
    if "match" in given.only:
        matching(4 if given.short else 40)
    if "plan" in given.only:
        planning(1_000 if given.short else 5_000, 2 if given.short else 12)


if __name__ == "__main__":
    main()
