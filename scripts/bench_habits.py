"""How long habits take, and how much memory, for many pages.

``python scripts/bench_habits.py [--pages N …]`` draws made-up tables of that many pages
(about five panels each), studies them, and prints seconds and peak memory of the process.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.study.habits import study
from panelscan.study.shelf import Shelf


def made_up_tables(pages: int, seed: int = 0) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Pages, panels and gutters with the columns that the study reads."""
    rng = np.random.default_rng(seed)
    count = 1 + rng.poisson(4.1, pages)
    ids = pd.Series(pa.array([f"p{i:07d}" for i in range(pages)])).astype("string[pyarrow]")
    page = np.repeat(np.arange(pages), count)
    order = np.arange(len(page)) - np.repeat(np.cumsum(count) - count, count) + 1
    return (
        _pages(rng, ids, count),
        _panels(rng, ids, page, order, count),
        _gutters(rng, ids, page[order > 1]),
    )


def _pages(rng: np.random.Generator, ids: pd.Series, count: np.ndarray) -> pd.DataFrame:
    pages = len(count)
    number = np.arange(pages)
    books = pd.Categorical.from_codes(
        (number // 100).astype(np.int32), [f"book {i:05d}" for i in range(pages // 100 + 1)]
    )
    patterns = pd.Categorical.from_codes(
        np.minimum(count, 12) - 1, [f"{i}-1-{i}" for i in range(12)]
    )
    frame = {"page_id": ids, "book": books, "page_number": number % 100 + 1,
             "page_side": pd.Categorical(np.where(number % 2, "left", "right")),
             "direction": pd.Categorical(["ltr"] * pages), "panel_count": count,
             "tier_count": np.minimum(count, 4), "tier_pattern": patterns,
             "readings": pd.Categorical(["[]"] * pages), "source_path": ids,
             "reviewed": np.zeros(pages, dtype=bool), "width_px": np.full(pages, 1988),
             "height_px": np.full(pages, 3075)}
    names = ["aspect", "confidence", "clarity", "symmetry", "density", "contrast", "gutter_cv",
             "tier_gutter_mm", "tier_gutter_share", "column_gutter_mm", "column_gutter_share"]
    names += [f"margin_{e}_{u}" for e in ("left", "top", "right", "bottom")
              for u in ("mm", "share")]
    frame |= {name: rng.random(pages).astype(np.float32) + 0.2 for name in names}
    frame |= {f"bleed_{e}": rng.random(pages) < 0.1 for e in ("left", "top", "right", "bottom")}
    return pd.DataFrame(frame)


def _panels(
    rng: np.random.Generator, ids: pd.Series, page: np.ndarray, order: np.ndarray,
    count: np.ndarray,
) -> pd.DataFrame:
    rows = len(page)
    top = ((order - 1) / count[page]).astype(np.float32)
    frame = {"page_id": ids.take(page).reset_index(drop=True), "reading_order": order,
             "area_share": (0.8 / count[page]).astype(np.float32),
             "shape": pd.Categorical.from_codes(
                 (rng.random(rows) < 0.1).astype(np.int8), ["rectangle", "slanted"]),
             "is_inset": rng.random(rows) < 0.02, "is_full_tier": rng.random(rows) < 0.2,
             "depth": np.zeros(rows, dtype=np.int8),
             "x_min_share": np.full(rows, 0.05, dtype=np.float32), "y_min_share": top,
             "x_max_share": np.full(rows, 0.95, dtype=np.float32),
             "y_max_share": top + (0.9 / count[page]).astype(np.float32)}
    for name in ("confidence", "aspect", "slant_deg", "border_mm", "wobble_mm",
                 "free_top_share", "lettered_share", "ink_density"):
        frame[name] = rng.random(rows).astype(np.float32)
    return pd.DataFrame(frame)


def _gutters(rng: np.random.Generator, ids: pd.Series, page: np.ndarray) -> pd.DataFrame:
    rows = len(page)
    frame = {"page_id": ids.take(page).reset_index(drop=True),
             "kind": pd.Categorical.from_codes(
                 (rng.random(rows) < 0.5).astype(np.int8), ["tier", "column"])}
    for name in ("width_px", "width_mm", "width_share", "width_min_px", "width_max_px",
                 "angle_deg"):
        frame[name] = rng.normal(4, 0.5, rows).astype(np.float32)
    return pd.DataFrame(frame)


def peak_mb() -> float:
    """Most memory that this process had so far, in MB.

    On Linux a process started by a large one inherits its mark in ``ru_maxrss``, so the
    kernel's own mark for this program is read where there is one.
    """
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    import resource  # not on Windows

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _measure(pages: int, answer: multiprocessing.Queue) -> None:
    tables = made_up_tables(pages)
    before = peak_mb()
    started = time.perf_counter()
    habits = study(Shelf.of(*tables))
    seconds = time.perf_counter() - started
    peak = peak_mb()
    answer.put((seconds, before, peak, habits.figure("panels_per_page_mean").text()))


def measure(pages: int) -> tuple[float, float, float, str]:
    """Seconds, MB of the tables alone, peak MB, and the mean panels a page, in a fresh process."""
    context = multiprocessing.get_context("spawn")
    answer = context.Queue()
    process = context.Process(target=_measure, args=(pages, answer))
    process.start()
    result: tuple[float, float, float, str] = answer.get()
    process.join()
    return result


def main() -> None:
    """Print a line for each size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", type=int, nargs="+", default=[5_000, 1_000_000])
    for pages in parser.parse_args().pages:
        seconds, before, peak, mean = measure(pages)
        print(
            f"{pages:>9,} pages: {seconds:6.2f} s, peak {peak:,.0f} MB "
            f"(tables alone {before:,.0f} MB), {mean} panels a page"
        )


if __name__ == "__main__":
    main()
