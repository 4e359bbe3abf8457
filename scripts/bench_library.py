"""Libraries of many pages: how long opening, looking, filtering and saving take.

    python scripts/bench_library.py --pages 10000 100000 1000000
    python scripts/bench_library.py --short         10,000 pages, as the tests run it

Makes libraries of made-up geometry (no pictures), in packs as compaction leaves them or, with
--loose, one file a book, and measures each act in a fresh process: seconds, and peak memory of
the process. Aims on two cores: open and look 2 s, filter 1 s, under 1 GB, and saving a book
takes the same time in every library. Files just written are in the system's cache.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
import pyarrow as pa
import shapely

from scripts.measured import peak_mb

BOOK_PAGES = 200
WIDTH, HEIGHT = 1988.0, 3075.0
TIERS = ((1,), (2, 2), (3, 3), (2, 1, 3), (3, 3, 3), (1, 2, 1, 2))


# Making ----------------------------------------------------------------------------------


def make_library(folder: Path, pages: int, loose: bool) -> None:
    """A library with so many pages, in books of 200."""
    from panelscan.corpus.commit import Change, commit
    from panelscan.corpus.pack_index import PackIndex, encode_index
    from panelscan.corpus.packs import MOST_PAGES
    from panelscan.corpus.store import Library
    from panelscan.corpus.tables import book_file, to_bytes

    library = Library.create(folder)
    step = BOOK_PAGES if loose else MOST_PAGES // BOOK_PAGES * BOOK_PAGES
    packs = {}
    rng = np.random.default_rng(5)
    for first in range(0, pages, step):
        count = min(step, pages - first)
        books = [
            f"Book {b:05d}" for b in range(first // BOOK_PAGES, -(-(first + count) // BOOK_PAGES))
        ]
        name = book_file(books[0]) if loose else f"pack-{first:012d}.parquet"
        told = {"commit": f"c{first}"} | ({"book": books[0]} if loose else {"books": books})
        packs[name] = tuple(books)
        tables = made_tables(first, count, rng)
        commit(
            library.place, Change({f"{t}/{name}": to_bytes(t, r, told) for t, r in tables.items()})
        )
    if not loose:
        commit(library.place, Change(encode_index(PackIndex(packs))))


def made_tables(first: int, count: int, rng: np.random.Generator) -> dict[str, pa.Table]:
    """Rows of pages ``first`` and on, made in arrays."""
    numbers = np.arange(first, first + count)
    sha = [hashlib.sha256(str(n).encode()).hexdigest() for n in numbers]
    kinds = rng.integers(0, len(TIERS), count)
    counts = np.array([sum(t) for t in TIERS])[kinds]
    owner = np.repeat(np.arange(count), counts)
    boxes = np.concatenate([unit_boxes(TIERS[k]) for k in kinds])
    boxes = boxes + rng.normal(0, 0.004, boxes.shape)
    rank = np.concatenate([np.arange(1, c + 1) for c in counts])
    ids = pa.array([s[:20] for s in sha])
    books = pa.array([f"Book {n // BOOK_PAGES:05d}" for n in numbers])
    pages = page_rows(ids, books, sha, numbers, kinds, counts, rng)
    panels = panel_rows(ids, books, numbers, owner, rank, boxes, rng)
    gutters = gutter_rows(panels)
    return {"pages": pages, "panels": panels, "gutters": gutters}


def unit_boxes(tiers: tuple[int, ...]) -> np.ndarray:
    """Boxes of a page of tiers, in shares."""
    rows = []
    tall = (0.9 - 0.02 * (len(tiers) - 1)) / len(tiers)
    for t, n in enumerate(tiers):
        wide = (0.9 - 0.02 * (n - 1)) / n
        for c in range(n):
            x, y = 0.05 + c * (wide + 0.02), 0.05 + t * (tall + 0.02)
            rows.append((x, y, x + wide, y + tall))
    return np.array(rows)


def filled(table: str, count: int, told: dict[str, object]) -> pa.Table:
    """A table with the columns told; the others hold one plain value of their type."""
    from panelscan.corpus.schema import arrow_schema

    columns = []
    for field in arrow_schema(table):
        value = told.get(field.name)
        if value is None:
            columns.append(plain(field.type, count))
        else:
            columns.append(value if isinstance(value, pa.Array) else pa.array(value, field.type))
    return pa.table(columns, schema=arrow_schema(table))


def plain(kind: pa.DataType, count: int) -> pa.Array:
    if pa.types.is_boolean(kind):
        return pa.array(np.zeros(count, dtype=bool))
    if pa.types.is_floating(kind) or pa.types.is_integer(kind):
        return pa.array(np.ones(count), kind) if count else pa.array([], kind)
    if pa.types.is_string(kind):
        return pa.repeat(pa.scalar("[]"), count)
    return pa.nulls(count, kind)


def box_struct(boxes: np.ndarray) -> pa.Array:
    names = ["xmin", "ymin", "xmax", "ymax"]
    return pa.StructArray.from_arrays([pa.array(boxes[:, k]) for k in range(4)], names=names)


def wkb(boxes: np.ndarray) -> pa.Array:
    return pa.array(shapely.to_wkb(shapely.box(*boxes.T, ccw=True)), pa.binary())


def page_rows(ids, books, sha, numbers, kinds, counts, rng) -> pa.Table:
    count = len(numbers)
    from panelscan.layout.signature import VECTOR_LENGTH

    frame = np.tile([0.0, 0.0, WIDTH, HEIGHT], (count, 1))
    vectors = rng.normal(0, 0.1, count * VECTOR_LENGTH).astype(np.float32)
    offsets = np.arange(0, count * VECTOR_LENGTH + 1, VECTOR_LENGTH, dtype=np.int32)
    return filled(
        "pages",
        count,
        {
            "page_id": ids,
            "book": books,
            "content_sha256": sha,
            "source_path": [f"book/page_{n:07d}.png" for n in numbers],
            "page_number": numbers % BOOK_PAGES + 1,
            "width_px": np.full(count, int(WIDTH)),
            "height_px": np.full(count, int(HEIGHT)),
            "geometry": wkb(frame),
            "bbox": box_struct(frame),
            "aspect": np.full(count, WIDTH / HEIGHT),
            "direction": ["ltr" if n % 3 else "rtl" for n in numbers],
            "confidence": np.clip(rng.beta(12, 1.2, count), 0, 1),
            "panel_count": counts,
            "tier_count": np.array([len(t) for t in TIERS])[kinds],
            "tier_pattern": ["-".join(map(str, TIERS[k])) for k in kinds],
            "vector": pa.ListArray.from_arrays(offsets, vectors),
            "detector": ["made-up 1" if n % 5 else "made-up 2" for n in numbers],
            "ink_density": rng.uniform(0, 0.4, count),
        },
    )


def panel_rows(ids, books, numbers, owner, rank, boxes, rng) -> pa.Table:
    pixels = boxes * [WIDTH, HEIGHT, WIDTH, HEIGHT]
    size = boxes[:, 2:] - boxes[:, :2]
    return filled(
        "panels",
        len(owner),
        {
            "page_id": ids.take(pa.array(owner)),
            "book": books.take(pa.array(owner)),
            "page_number": (numbers % BOOK_PAGES + 1)[owner],
            "reading_order": rank,
            "geometry": wkb(pixels),
            "bbox": box_struct(pixels),
            "geometry_page": wkb(boxes),
            "confidence": rng.uniform(0.6, 1.0, len(owner)),
            "area_share": size.prod(axis=1),
            **{
                f"{n}_share": boxes[:, k]
                for k, n in enumerate(("x_min", "y_min", "x_max", "y_max"))
            },
            "aspect": size[:, 0] * WIDTH / (size[:, 1] * HEIGHT),
        },
    )


def gutter_rows(panels: pa.Table) -> pa.Table:
    """A gutter for every second panel."""
    some = panels.take(np.arange(0, panels.num_rows, 2))
    return filled(
        "gutters",
        some.num_rows,
        {
            "page_id": some["page_id"].combine_chunks(),
            "book": some["book"].combine_chunks(),
            "page_number": some["page_number"].combine_chunks(),
            "geometry": some["geometry"].combine_chunks(),
            "bbox": some["bbox"].combine_chunks(),
            "kind": pa.repeat(pa.scalar("tier"), some.num_rows),
        },
    )


# Measuring -------------------------------------------------------------------------------


def open_and_look(library):
    from panelscan.corpus.summary import summarise

    told = summarise(library)
    return {"pages": told.pages, "doubtful": told.doubtful_count}


def filter_numbers(library):
    from panelscan.corpus.select import select_pages

    where = "panels >= 6 and confidence < 0.6"
    return {"found": select_pages(library, where, ["page_id"]).pages.num_rows}


def filter_book(library):
    from panelscan.corpus.select import select_pages

    where = 'book = "Book 00017" and not bleed'
    return {"found": select_pages(library, where, ["page_id"]).pages.num_rows}


def filter_label(library):
    from panelscan.corpus.select import select_pages

    where = "stage = inks and panels > 3"
    return {"found": select_pages(library, where, ["page_id"]).pages.num_rows}


def load_frame(library):
    from panelscan.corpus.query import load_pages

    return {"rows": len(load_pages(library, columns=["page_number", "panel_count", "aspect"]))}


def grids(library):
    from panelscan.corpus.query import load_grids

    found = load_grids(library)
    return {"found": len(found), "rows": len(found.boxes)}


def panels_of_filter(library):
    from panelscan.corpus.query import load_panels

    frame = load_panels(library, "confidence < 0.5", columns=["area_share", "aspect"])
    return {"rows": len(frame)}


ACTS = (
    open_and_look, filter_numbers, filter_book, filter_label, load_frame, panels_of_filter, grids,
)  # fmt: skip


def one_act(folder: str, name: str) -> None:
    """Run an act in this process and print what it took, as JSON."""
    from panelscan.corpus.store import Library

    act = next(a for a in ACTS if a.__name__ == name)
    if name == "load_frame":
        import pandas  # noqa: F401 - its start-up time is not the library's
    start, busy = time.perf_counter(), time.process_time()
    told = act(Library.open(folder))
    seconds, busy = time.perf_counter() - start, time.process_time() - busy
    facts = {"act": name, "seconds": seconds, "cpu_seconds": busy, "peak_mb": peak_mb()}
    print(json.dumps(facts | told))


def commit_seconds(folder: str) -> float:
    """Median time of saving a book of 20 pages again, rows made beforehand."""
    from panelscan.corpus import amend
    from panelscan.corpus.store import Library
    from tests.corpus.made_up import make_book

    library = Library.open(folder)
    records = make_book("Bench", 20)
    rows = amend.as_scanned(records, "2026-01-01T00:00:00.000Z")
    import panelscan.corpus.store as store

    store.as_scanned = lambda _records, _at: rows
    times = []
    for _ in range(7):
        start = time.perf_counter()
        library.commit_book("Bench", records)
        times.append(time.perf_counter() - start)
    library.forget_book("Bench")
    return statistics.median(times)


def tag_books(folder: str) -> None:
    from panelscan.corpus.labels import Label, add_labels
    from panelscan.corpus.store import Library

    labels = [Label("stage", "inks", book=f"Book {b:05d}") for b in range(0, 5000, 2)]
    add_labels(Library.open(folder).place, labels, "bench", "2026-01-01T00:00:00.000Z")


def _load() -> str:
    """How busy the machine is, where the system tells."""
    return f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""


def bench(pages: int, loose: bool, keep: Path | None) -> dict[str, object]:
    """All measurements of one size."""
    folder = keep or Path(tempfile.mkdtemp(prefix="bench-library-"))
    target = folder / f"{pages}{'-loose' if loose else ''}"
    if not target.exists():
        start = time.perf_counter()
        make_library(target, pages, loose)
        tag_books(str(target))
        print(f"made {pages} pages in {time.perf_counter() - start:.0f} s", file=sys.stderr)
    size = sum(f.stat().st_size for f in target.rglob("*") if f.is_file())
    files = len(list((target / "pages").iterdir()))
    print(
        f"{pages} pages, {files} files a table, {size / 1e6:.0f} MB{_load()}"
    )
    results = {"pages": pages, "files": files, "mb": size / 1e6}
    for act in ACTS:
        command = [sys.executable, __file__, "--act", act.__name__, "--folder", str(target)]
        runs = [json.loads(subprocess.check_output(command)) for _ in range(2)]
        best = min(runs, key=lambda r: r["seconds"])
        rest = {k: v for k, v in best.items() if k in ("pages", "doubtful", "found", "rows")}
        times = f"{best['seconds']:7.3f} s (processor {best['cpu_seconds']:6.3f} s)"
        print(f"  {act.__name__:18s} {times} {best['peak_mb']:7.0f} MB  {rest}", flush=True)
        results[act.__name__] = best
    results["commit_seconds"] = commit_seconds(str(target))
    print(f"  commit of 20 pages {results['commit_seconds']:7.3f} s", flush=True)
    if keep is None:
        shutil.rmtree(folder)
    return results


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", type=int, nargs="+", default=[10_000, 100_000])
    parser.add_argument("--loose", action="store_true", help="one file a book, not packs")
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--keep", type=Path, help="folder to keep the libraries in")
    parser.add_argument("--json", type=Path, help="file for the results")
    parser.add_argument("--act", help=argparse.SUPPRESS)
    parser.add_argument("--folder", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.act:
        one_act(options.folder, options.act)
        return
    sizes = [10_000] if options.short else options.pages
    results = [bench(n, options.loose, options.keep) for n in sizes]
    if options.json:
        options.json.write_text(json.dumps(results, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
