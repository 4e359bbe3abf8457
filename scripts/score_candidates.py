"""How many of the right panels are among the candidates, and how many of those are chosen.

    python scripts/score_candidates.py --short
    python scripts/score_candidates.py --pages 12 --category inset

Draws pages of the tuning books (``--scoring`` for the others) and prints a line for each
category: the share of true panels that some candidate overlaps with an IoU of at least 0.75
and 0.9, before sides are measured at full size, and the share that was found in the end. What
the first lack, no choice can give; what lies between is lost in choosing. The target for the
candidates is 0.998. Spreads are parted at the fold first and do not take part.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from score_page import Task, drawn_tasks

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.demo.maker import draw_page
from panelscan.demo.recipes import CATEGORIES
from panelscan.layout.agreement import iou_table
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.vision.detector import find_panels
from panelscan.vision.trace import Trace

LEVELS = (0.75, 0.9)
KINDS = tuple(c for c in CATEGORIES if c != "spread")


def best_overlaps(true: Sequence[Outline], pixels: np.ndarray) -> np.ndarray:
    """Best IoU of each true panel with the candidates and with the panels found, (K, 2).

    Parameters
    ----------
    true : sequence of Outline
        In pixels of the picture.
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3)
    """
    trace = Trace(frozenset({"frame", "candidates"}))
    finding = find_panels(PageImage(pixels, pixels.shape[1], pixels.shape[0]), trace=trace)
    work = trace.evidence("frame")["working"]
    rings = [work.source_points(c.corners) for c in trace.evidence("candidates")["candidates"]]
    sets = ([Outline.of(ring) for ring in rings], [p.outline for p in finding.panels])
    best = [iou_table(true, each).max(axis=1, initial=0.0) for each in sets]
    return np.stack(best, axis=1)


def drawn_overlaps(task: Task) -> np.ndarray:
    """Draw a page and look at it."""
    drawn = draw_page(task.category, task.seed, hand=task.hand, height_px=task.height_px)
    return best_overlaps([p.outline for p in drawn.truth.panels], drawn.pixels)


def line(name: str, overlaps: np.ndarray) -> str:
    """Recall of candidates and of panels found at each level, in one line."""
    shares = [(overlaps[:, k] >= level).mean() for k in (0, 1) for level in LEVELS]
    return f"{name:15} {len(overlaps):6d} " + " ".join(f"{share:9.4f}" for share in shares)


def main(arguments: list[str] | None = None) -> int:
    """Draw, look, print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--short", action="store_true", help="one page a category")
    parser.add_argument("--pages", type=int, default=12, help="pages a category")
    parser.add_argument("--category", action="append", choices=KINDS, help="only these")
    parser.add_argument("--scoring", action="store_true", help="pages that nothing was tuned on")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    count = 1 if given.short else given.pages
    head = " ".join(f"{name:>9}" for name in ("cand .75", "cand .9", "found .75", "found .9"))
    print(f"{'recall':15} {'panels':>6} {head}")
    every = []
    with ProcessPoolExecutor(given.workers) as pool:
        for category in given.category or KINDS:
            tasks = drawn_tasks(category, count, given.scoring, 1900)
            every.append(np.concatenate(list(pool.map(drawn_overlaps, tasks))))
            print(line(category, every[-1]), flush=True)
    print(line("all", np.concatenate(every)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
