"""How long habits take, and how much memory, for libraries on disk.

    python scripts/bench_habits.py                  5,000 and 1,000,000 pages
    python scripts/bench_habits.py --short          5,000 pages
    python scripts/bench_habits.py --library DIR    a library that is there already

Makes a library of that many pages (about five panels each, as `bench_library.py` makes them),
opens it in a fresh process, studies it, and prints seconds and peak memory. Small libraries
have other readings on every page, one in ten of them with another number of panels, as a
scan leaves them; a million pages are geometry alone. ``bench.py --habits`` prints the same.
Aims on two cores: 5,000 pages in 5 s, 1,000,000 pages of geometry in 60 s and 2 GB.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyarrow as pa

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from scripts import bench_library

SIZES = (5_000, 1_000_000)
Maker = Callable[[int, int, np.random.Generator], dict[str, pa.Table]]
MOST_WITH_READINGS = 50_000
DIFFERENT = 0.1


@dataclass(frozen=True)
class Timing:
    """What one library took.

    Parameters
    ----------
    pages, panels : int
        Its size.
    load_s, study_s, report_s : float
        Seconds to read it, to work out the habits, to write the report as text.
    busy_s : float
        Processor seconds of the first two together.
    loaded_mb, peak_mb : float
        Most memory of the process before reading, and in all.
    report_mb : float
        Size of the report.
    """

    pages: int
    panels: int
    load_s: float
    study_s: float
    report_s: float
    busy_s: float
    loaded_mb: float
    peak_mb: float
    report_mb: float

    def text(self) -> str:
        """The figures as a line."""
        return (
            f"{self.pages:>9,} pages, {self.panels:>9,} panels: {self.load_s + self.study_s:6.2f} s"
            f" (read {self.load_s:.2f}, study {self.study_s:.2f}; processor {self.busy_s:.2f}),"
            f" report {self.report_s:.2f} s, {self.report_mb:.1f} MB;"
            f" peak {self.peak_mb:,.0f} MB (before {self.loaded_mb:,.0f})"
        )


def make_library(folder: Path, pages: int) -> None:
    """A library with so many pages, with other readings where it is small."""
    plain = bench_library.made_tables
    if pages <= MOST_WITH_READINGS:
        bench_library.made_tables = _with_readings(plain)
    try:
        bench_library.make_library(folder, pages, loose=False)
    finally:
        bench_library.made_tables = plain


def _with_readings(plain: Maker) -> Maker:
    def made(first: int, count: int, rng: np.random.Generator) -> dict[str, pa.Table]:
        tables = plain(first, count, rng)
        pages, panels = tables["pages"], tables["panels"]
        boxes = _pixel_boxes(panels)
        ends = np.concatenate([[0], np.cumsum(pages["panel_count"].to_numpy())])
        texts = [json.dumps(readings_of(boxes[a:b], rng)) for a, b in pairwise(ends)]
        place = pages.column_names.index("readings")
        tables["pages"] = pages.set_column(place, pages.schema.field(place), pa.array(texts))
        return tables

    return made


def _pixel_boxes(panels: pa.Table) -> np.ndarray:
    names = ("x_min", "y_min", "x_max", "y_max")
    shares = np.column_stack([panels[f"{n}_share"].to_numpy() for n in names])
    width, height = bench_library.WIDTH, bench_library.HEIGHT
    return shares * [width, height, width, height]


def readings_of(boxes: np.ndarray, rng: np.random.Generator) -> list[dict[str, object]]:
    """Four readings of a page: most with the same panels a little off, a few with one less."""
    readings: list[dict[str, object]] = []
    for probability in (0.22, 0.18, 0.1, 0.05):
        inside = np.array([4.0, 4.0, -4.0, -4.0])
        own = boxes + inside + rng.normal(0, 0.5, boxes.shape)
        if len(own) > 1 and rng.random() < DIFFERENT:
            joined = np.concatenate([own[:2, :2].min(axis=0), own[:2, 2:].max(axis=0)])
            own = np.vstack([joined, own[2:]])
        rings = [
            [[x0, y0], [x1, y0], [x1, y1], [x0, y1]] for x0, y0, x1, y1 in own.round(2).tolist()
        ]
        readings.append({"probability": probability, "panels": rings})
    return readings


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
    try:
        import resource
    except ImportError:  # Windows
        return float("nan")
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _measure(folder: str, answer: multiprocessing.Queue) -> None:
    # Imports are the start of any command, not the study's own time.
    import pandas  # noqa: F401 - see above

    from panelscan.study.habits import study
    from panelscan.study.library import shelf_of
    from panelscan.study.report import report_html

    before, start, busy = peak_mb(), time.perf_counter(), time.process_time()
    shelf = shelf_of(Path(folder))
    loaded = time.perf_counter()
    habits = study(shelf)
    studied, busy = time.perf_counter(), time.process_time() - busy
    peak = peak_mb()
    report = report_html(shelf, habits)
    answer.put(
        Timing(
            len(shelf), len(shelf.panels), loaded - start, studied - loaded,
            time.perf_counter() - studied, busy, before, max(peak, peak_mb()),
            len(report.encode()) / 1e6,
        )
    )  # fmt: skip


def measure(folder: Path) -> Timing:
    """Times and memory of the habits of a library, in a fresh process."""
    context = multiprocessing.get_context("spawn")
    answer = context.Queue()
    process = context.Process(target=_measure, args=(str(folder), answer))
    process.start()
    while process.is_alive() and answer.empty():
        time.sleep(0.05)
    if answer.empty():
        raise RuntimeError(f"the study of {folder} ended with code {process.exitcode}")
    result: Timing = answer.get()
    process.join()
    return result


def bench(sizes: Sequence[int], libraries: Sequence[Path] = ()) -> list[Timing]:
    """Print and return the figures of libraries made anew and of those that are there."""
    found = []
    for library in libraries:
        found.append(measure(library))
        print(found[-1].text(), flush=True)
    for pages in sizes:
        with tempfile.TemporaryDirectory(prefix="bench-habits-") as name:
            folder = Path(name) / "library"
            make_library(folder, pages)
            found.append(measure(folder))
            print(found[-1].text(), flush=True)
    return found


def main(arguments: list[str] | None = None) -> int:
    """Print a line for each library."""
    plain = argparse.RawTextHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=plain)
    parser.add_argument("--pages", type=int, nargs="+", help="sizes of libraries to make")
    parser.add_argument("--library", type=Path, nargs="+", default=[], help="libraries to study")
    parser.add_argument("--short", action="store_true", help=f"{SIZES[0]:,} pages only")
    parser.add_argument("--json", type=Path, help="file for the results")
    given = parser.parse_args(arguments)
    sizes = given.pages or (() if given.library else SIZES[:1] if given.short else SIZES)
    found = bench(sizes, given.library)
    if given.json:
        given.json.write_text(json.dumps([asdict(t) for t in found], indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
