"""Layout: times, order on made pages, and how well the vector finds near grids.

    python scripts/bench_layout.py [--short] [--pages DIR]

``--pages`` adds real pages with hand-made truth (NAME.json files with ``panels`` that have
``polygon`` and ``order``); they are only measured, never copied.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.layout.describe import describe_page
from panelscan.layout.distance import SAME, distances, grid_distance
from panelscan.layout.fields import panel_rows
from panelscan.layout.notation import parse_grid, write_grid
from panelscan.layout.pages import grid_of, lay_out
from panelscan.layout.signature import grid_vector
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import ReadingDirection
from panelscan.model.panel import Panel
from tests.demo_plans import PLANNED, true_page
from tests.samples import (
    FRAME,
    PINWHEEL,
    Box,
    even_grid,
    jittered,
    panels_of,
    random_grid,
    staggered,
)

LTR = ReadingDirection.LTR
ARRANGEMENTS = (
    "regular grid", "tiers", "blockage", "stagger", "separation", "overlap", "inset", "bleed",
)  # fmt: skip


def milliseconds(run: Callable[[], object], times: int) -> tuple[float, float]:
    """Best and median time of a call on this core, in CPU milliseconds."""
    run()
    found = []
    for _ in range(times):
        start = time.process_time()
        run()
        found.append((time.process_time() - start) * 1000)
    return min(found), float(np.median(found))


def heap(count: int, rng: np.random.Generator) -> list[Box]:
    """Boxes anywhere, for the exact search over subsets."""
    low = rng.uniform(0, 0.7, (count, 2)) * (200, 300)
    size = rng.uniform(0.2, 0.4, (count, 2)) * (200, 300)
    return [(*map(float, a), *map(float, a + s)) for a, s in zip(low, size, strict=True)]


def times(rounds: int) -> None:
    rng = np.random.default_rng(1)
    pages = {
        "grid, 6 panels": even_grid(3, 2),
        "grid, 9 panels": even_grid(3, 3),
        "grid, 40 panels": even_grid(8, 5),
        "stagger": staggered(0.3),
        "pinwheel": PINWHEEL,
        "heap of 16 (exact over subsets)": heap(16, rng),
        "heap of 40": heap(40, rng),
    }
    print("order and measures, CPU ms: best, median")
    for name, boxes in pages.items():
        panels = panels_of(boxes)
        best, median = milliseconds(lambda p=panels: lay_out(p, FRAME, LTR), rounds)
        print(f"  {name:34} {best:7.2f} {median:7.2f}")
    shaky = [Panel(jitter_outline(p.outline, rng)) for p in panels_of(even_grid(8, 5))]
    best, median = milliseconds(lambda: lay_out(shaky, FRAME, LTR), rounds)
    print(f"  {'40 panels, no two sides alike':34} {best:7.2f} {median:7.2f}")
    grid = parse_grid("two then one over one and one wide 2 then three then one bleed left bottom")
    text = write_grid(grid)
    panels = [Panel(p.outline.scaled(200, 300)) for p in grid.panels]
    layout = lay_out(panels, FRAME, LTR)
    other = jittered(grid, rng)
    calls: dict[str, Callable[[], object]] = {
        "written grid: parse": lambda: parse_grid(text),
        "written grid: write": lambda: write_grid(grid),
        "vector": lambda: grid_vector(grid),
        "distance of two grids": lambda: grid_distance(grid, other),
        "all that the library keeps": lambda: describe_page(
            layout, grid_of(panels, FRAME, layout, LTR)
        ),
    }
    for name, call in calls.items():
        best, median = milliseconds(call, rounds)
        print(f"  {name:34} {best:7.2f} {median:7.2f}")


def jitter_outline(outline: Outline, rng: np.random.Generator) -> Outline:
    return Outline.of((outline.array() + rng.uniform(-0.8, 0.8, (4, 2))).tolist())


def order_on_made_pages(pages: int) -> None:
    print(f"order on the demo's plans, {pages} pages each: exact, exact or listed")
    arranged: dict[str, list[tuple[bool, bool]]] = {word: [] for word in ARRANGEMENTS}
    for category in PLANNED:
        told = []
        for seed in range(pages):
            page = true_page(category, seed)
            layout = lay_out(page.panels, page.frame, page.direction)
            right = layout.order in page.right_orders
            listed = right or any(c.order in page.right_orders for c in layout.alternatives)
            told.append((right, listed))
            for word in set(layout.patterns) & set(ARRANGEMENTS):
                arranged[word].append((right, listed))
        print_shares(category, told)
    print("the same pages by arrangement, as far as they have one: pages, exact, exact or listed")
    for word, told in arranged.items():
        if told:
            print_shares(f"{word} ({len(told)})", told)


def print_shares(name: str, told: list[tuple[bool, bool]]) -> None:
    exact, listed = np.array(told).mean(axis=0)
    print(f"  {name:22} {exact:6.3f} {listed:6.3f}")


def order_on_real_pages(folder: Path) -> None:
    exact = listed = count = 0
    for file in sorted(folder.rglob("*.json")):
        told = json.loads(file.read_text())
        truth = sorted(told["panels"], key=lambda p: p["order"])
        shuffled = np.random.default_rng(count).permutation(len(truth))
        panels = [Panel(Outline.of(truth[i]["polygon"])) for i in shuffled]
        frame = Outline.of(told["pages"][0]["quad"])
        layout = lay_out(panels, frame, ReadingDirection(told["direction"]))
        right = {tuple(p["order"] for p in truth), *map(tuple, told["orders_also_fine"])}

        def numbered(order: tuple[int, ...]) -> tuple[int, ...]:
            return tuple(truth[shuffled[i]]["order"] for i in order)  # noqa: B023

        good = numbered(layout.order) in right
        exact += good
        listed += good or any(numbered(c.order) in right for c in layout.alternatives)
        count += 1
        if not good:
            print(f"  {file.name}: {numbered(layout.order)}")
    print(f"order on real pages: {exact} of {count} exact, {listed} exact or listed")


def split_one(grid: Grid, rng: np.random.Generator) -> Grid:
    """The grid with one panel cut in two."""
    at = int(rng.integers(len(grid.panels)))
    panel = grid.panels[at]
    x0, y0, x1, y1 = panel.outline.bounds
    middle = (x0 + x1) / 2
    halves = (Outline.box(x0, y0, middle - 0.01, y1), Outline.box(middle + 0.01, y0, x1, y1))
    parts = tuple(GridPanel(half, panel.bleed) for half in halves)
    panels = (*grid.panels[:at], *parts, *grid.panels[at + 1 :])
    return Grid(panels, grid.aspect, grid.direction)


def finding(shelf_size: int, queries: int) -> None:
    rng = np.random.default_rng(3)
    shelf = [random_grid(rng) for _ in range(shelf_size)]
    rows = [panel_rows(g) for g in shelf]
    vectors = np.array([grid_vector(g) for g in shelf])
    print(f"finding among {shelf_size} random grids, {queries} queries")
    nearest, jitter_first, split_first = [], [], []
    for query in range(queries):
        exact = np.argsort(distances(rows[query], rows), kind="stable")[1:11]
        nearest.append(np.isin(exact, first_200(vectors, vectors[query])).mean())
        for changed, found in (
            (jittered(shelf[query], rng), jitter_first),
            (split_one(shelf[query], rng), split_first),
        ):
            kept = first_200(vectors, grid_vector(changed))
            ranked = distances(panel_rows(changed), [rows[i] for i in kept])
            best = kept[np.argsort(ranked, kind="stable")]
            if found is jitter_first:
                found.append(grid_distance(shelf[best[0]], shelf[query]).value < SAME)
            else:
                found.append(query in best[:10])
    print(f"  exact top 10 within the first 200 by vector  {np.mean(nearest):.3f}")
    print(f"  same grid found first under 1 % jitter       {np.mean(jitter_first):.3f}")
    print(f"  one panel split: in the first ten (distance alone, no joins tried) "
          f"{np.mean(split_first):.3f}")  # fmt: skip


def first_200(vectors: np.ndarray, query: np.ndarray) -> np.ndarray:
    return np.argsort(((vectors - query) ** 2).sum(axis=1), kind="stable")[:201]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--short", action="store_true", help="a quick look")
    parser.add_argument("--pages", type=Path, help="folder of real pages with truth")
    asked = parser.parse_args()
    times(5 if asked.short else 40)
    order_on_made_pages(10 if asked.short else 200)
    if asked.pages:
        order_on_real_pages(asked.pages)
    finding(1500 if asked.short else 10_000, 20 if asked.short else 200)


if __name__ == "__main__":
    main()
