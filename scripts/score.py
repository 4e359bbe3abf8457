"""Score panel finding and reading order on drawn and on annotated real pages.

Drawn pages come from the page maker, at least 60 a category, in whole books; tuning and
scoring use different books, and every fourth scoring book is by a drawing hand that tuning
never sees. ``--short`` takes two small pages a category.

    python scripts/score.py --short
    python scripts/score.py --out scores --save-failures scores/failures
    python scripts/score.py --category slanted --tuning --pages 12
    python scripts/score.py --real FOLDER --no-drawn
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path
from typing import Any

from score_page import PageScore, Task, books_of, drawn_tasks, real_tasks, score_book
from score_table import burst_figures, burst_line, figures, grouped, overall, overall_lines, table

from panelscan.demo.hands import LEFT_OUT_HAND
from panelscan.demo.recipes import CATEGORIES

ROOT = Path(__file__).resolve().parent.parent
ANNOTATED = ROOT.parent / "shared" / "pages"
"""An annotated folder beside the project, scored too where there is one."""

PAGES = 60
SHORT_PAGES, SHORT_HEIGHT_PX = 2, 1100


def options(arguments: list[str] | None = None) -> argparse.Namespace:
    """Command-line options."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--short", action="store_true", help="two small pages a category")
    parser.add_argument("--pages", type=int, default=PAGES, help="pages a category")
    parser.add_argument("--category", action="append", choices=CATEGORIES, help="only these")
    parser.add_argument("--tuning", action="store_true", help="the tuning books instead")
    parser.add_argument("--height", type=int, default=1900, help="height of drawn pages in pixels")
    parser.add_argument("--real", type=Path, default=ANNOTATED, help="folder of annotated pages")
    parser.add_argument("--no-real", action="store_true", help="drawn pages only")
    parser.add_argument("--no-drawn", action="store_true", help="annotated pages only")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, help="folder for score.txt and score.json")
    parser.add_argument("--save-failures", type=Path, help="folder for pictures of failing pages")
    return parser.parse_args(arguments)


def tasks_of(args: argparse.Namespace) -> tuple[list[Task], list[Task]]:
    """Drawn and real pages to score."""
    failures = str(args.save_failures) if args.save_failures else ""
    pages = SHORT_PAGES if args.short else args.pages
    height = SHORT_HEIGHT_PX if args.short else args.height
    drawn: list[Task] = []
    if not args.no_drawn:
        for category in args.category or CATEGORIES:
            drawn += drawn_tasks(category, pages, not args.tuning, height, failures)
    real = []
    if not args.no_real and args.real.is_dir():
        real = real_tasks(args.real, failures)
    return drawn, real


def run(tasks: list[Task], workers: int) -> list[PageScore]:
    """Score pages in worker processes, a book at a time, in order."""
    books = books_of(tasks)
    if workers <= 1 or len(books) < 3:
        return [page for book in books for page in score_book(book)]
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        return [page for book in pool.map(score_book, books) for page in book]


def report(drawn: list[PageScore], real: list[PageScore]) -> tuple[str, dict[str, Any]]:
    """Text and data of all tables."""
    parts: list[str] = []
    data: dict[str, Any] = {}

    def add(title: str, groups: dict[str, Any]) -> None:
        parts.append(table(groups, title))
        data[title] = {name: figures(pages) for name, pages in groups.items() if pages}

    if drawn:
        groups = grouped(drawn, lambda p: p.category)
        groups["all drawn pages"] = drawn
        add("category", groups)
        parts.append(overall_lines(overall(drawn)))
        data["overall"] = overall(drawn)
        with_bursts = {k: groups[k] for k in ("all drawn pages", "burst") if k in groups}
        parts.append("\n".join(burst_line(name, pages) for name, pages in with_bursts.items()))
        data["bursts"] = {name: burst_figures(pages) for name, pages in with_bursts.items()}
        add("style", grouped(drawn, lambda p: p.style))
        add(
            "hand",
            grouped(drawn, lambda p: f"{p.hand} (left out)" if p.hand == LEFT_OUT_HAND else p.hand),
        )
    if real:
        clear = [p for p in real if not p.ambiguous]
        groups = grouped(clear, lambda p: p.category)
        groups["all real pages"] = clear
        groups["ambiguous"] = [p for p in real if p.ambiguous]
        add("real pages", groups)
        data["real overall"] = overall(clear)
    failed = [p for p in drawn + real if p.error]
    parts += [f"{p.name} failed: {p.error}" for p in failed]
    return "\n\n".join(parts), data


def _hand_name(page: PageScore) -> str:
    return f"{page.hand} (left out)" if page.hand == LEFT_OUT_HAND else page.hand


def main(arguments: list[str] | None = None) -> int:
    """Score, print, write; 1 if a page made the detector fail."""
    args = options(arguments)
    drawn_list, real_list = tasks_of(args)
    start = time.perf_counter()
    drawn, real = (run(tasks, args.workers) for tasks in (drawn_list, real_list))
    scores = drawn + real
    text, data = report(drawn, real)
    text += (
        f"\n\n{len(scores)} pages in {time.perf_counter() - start:.0f} s, {args.workers} workers."
    )
    print(text)
    if args.out:
        args.out.mkdir(parents=True, exist_ok=True)
        (args.out / "score.txt").write_text(text + "\n", encoding="utf-8")
        data["pages"] = [asdict(p) for p in scores]
        cleaned = json.dumps(_plain(data), indent=1, ensure_ascii=False)
        (args.out / "score.json").write_text(cleaned + "\n", encoding="utf-8")
    return int(any(p.error for p in scores))


def _plain(value: Any) -> Any:
    """The same data with NaN as null, as JSON wants it."""
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return None if isinstance(value, float) and math.isnan(value) else value


if __name__ == "__main__":
    sys.exit(main())
