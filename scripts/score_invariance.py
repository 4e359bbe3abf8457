"""What should change nothing about the panels found: mirroring, halving, another look.

    python scripts/score_invariance.py --short
    python scripts/score_invariance.py --pages 6 --category slanted --category inset

Draws pages of the tuning books and finds their panels as they are, mirrored left to right, at
half the resolution and once more. A line for each category: the share of pages whose panels
mirror one by one (IoU 0.9), F1 at IoU 0.9 of the page as it is, mirrored and halved, and the
share of pages found the same twice. The targets: halving costs at most 1 point, and all pages
are found the same twice.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from score_page import Task, drawn_tasks

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.demo.maker import draw_page
from panelscan.demo.recipes import CATEGORIES
from panelscan.intake.options import LoadedPage
from panelscan.layout.agreement import Counts, counts_at, iou_table, page_exact
from panelscan.model.outline import Outline
from panelscan.model.page import PageImage, PageRef
from panelscan.model.panel import PageFinding
from panelscan.pipeline.stages import find

SAME = 0.9
"""Overlap (IoU) from which a panel is found, or found again."""
HEIGHT_PX = 1900
KINDS = tuple(c for c in CATEGORIES if c != "spread")
"""Spreads are parted at the fold first: their halves are single pages of the other kinds."""
SHORT = ("grid", "slanted", "hand-drawn", "borderless", "bleed", "inset", "burst", "ground")
SHORT_PAGES = 3


@dataclass(frozen=True)
class PageFigures:
    """How one page fared.

    Parameters
    ----------
    plain, mirrored, halved : Counts
        Panels against the truth, of the page as drawn, mirrored and at half the resolution.
    mirrors : bool
        Whether the panels of the mirrored page are the mirrored panels, one by one.
    halves : bool
        Whether those at half the resolution are the same as at the full one.
    repeats : bool
        Whether a second look found exactly the same.
    """

    plain: Counts
    mirrored: Counts
    halved: Counts
    mirrors: bool
    halves: bool
    repeats: bool


def look(pixels: np.ndarray) -> PageFinding:
    """What a scan finds on a page alone, in pixels of the given picture."""
    page = PageImage(pixels, pixels.shape[1], pixels.shape[0])
    return find(LoadedPage(PageRef("page.png"), page))


def outlines_of(finding: PageFinding) -> list[Outline]:
    """Outlines of all panels found."""
    return [panel.outline for panel in finding.panels]


def figures_of(true: Sequence[Outline], pixels: np.ndarray) -> PageFigures:
    """Look at a page four times.

    Parameters
    ----------
    true : sequence of Outline
        The true panels in pixels of the picture.
    pixels : ndarray of uint8, shape (M, N) or (M, N, 3)
    """
    rows, columns = pixels.shape[:2]
    size = (round(columns / 2), round(rows / 2))
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))
    first = look(pixels)
    plain = outlines_of(first)
    turned = outlines_of(look(np.ascontiguousarray(pixels[:, ::-1])))
    back = [o.mirrored(columns) for o in turned]
    grown = [o.scaled(columns / size[0], rows / size[1]) for o in outlines_of(look(small))]

    def against_truth(found: list[Outline]) -> Counts:
        return counts_at(iou_table(true, found), SAME)

    return PageFigures(
        against_truth(plain),
        against_truth(back),
        against_truth(grown),
        page_exact(iou_table(plain, back), SAME),
        page_exact(iou_table(plain, grown), SAME),
        first == look(pixels.copy()),
    )


def line(name: str, pages: Sequence[PageFigures]) -> str:
    """Figures of a category, or of all pages, in one line."""
    none = Counts(0, 0, 0)
    f1 = [sum((getattr(p, way) for p in pages), none).f1 for way in ("plain", "mirrored", "halved")]
    shares = [np.mean([getattr(p, way) for p in pages]) for way in ("mirrors", "halves", "repeats")]
    told = " ".join(f"{v:9.3f}" for v in (*f1, *shares))
    return f"{name:15} {len(pages):5d} {told}"


def drawn_figures(task: Task) -> PageFigures:
    """Draw a page and look at it."""
    drawn = draw_page(task.category, task.seed, hand=task.hand, height_px=task.height_px)
    return figures_of([p.outline for p in drawn.truth.panels], drawn.pixels)


def main(arguments: list[str] | None = None) -> int:
    """Draw, look, print; 1 if a page was not found the same twice."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    few = len(SHORT) * SHORT_PAGES
    parser.add_argument("--short", action="store_true", help=f"{few} pages of {len(SHORT)} kinds")
    parser.add_argument("--pages", type=int, default=6, help="pages a category")
    parser.add_argument("--category", action="append", choices=KINDS, help="only these")
    parser.add_argument("--names", action="store_true", help="name the pages that differ")
    given = parser.parse_args(arguments)
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    cv2.setNumThreads(1)
    count = SHORT_PAGES if given.short else given.pages
    heads = ("F1@.9", "mirrored", "halved", "mirrors", "halves", "repeats")
    print(f"{'category':15} {'pages':>5} " + " ".join(f"{h:>9}" for h in heads))
    found: list[PageFigures] = []
    for category in given.category or (SHORT if given.short else KINDS):
        tasks = drawn_tasks(category, count, scoring=False, height_px=HEIGHT_PX)
        pages = [drawn_figures(task) for task in tasks]
        print(line(category, pages), flush=True)
        for task, page in zip(tasks, pages, strict=True):
            if given.names and not (page.mirrors and page.halves and page.repeats):
                print(f"  {task.category}-{task.seed:05d} differs: {page}")
        found += pages
    print(line("all pages", found))
    return int(not all(p.repeats for p in found))


if __name__ == "__main__":
    sys.exit(main())
