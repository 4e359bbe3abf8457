"""How often facing pages are parted rightly, and double-page pictures wrongly cut.

``python scripts/score_folds.py [--pages N] [--comic N]`` draws N images of each kind and
age (``tests/intake/drawn_spreads.py``; 40 by default), and N spreads of the practice comic
(exports, scans and photos; 40 by default), and prints shares with 95 % Wilson intervals.
The targets on drawn pages: facing pages right 99.5 %, double-page pictures and wide single
pages wrongly cut at most 1 %.
"""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.demo.maker import draw_page
from panelscan.intake.options import LoadedPage, SpreadMode
from panelscan.model.page import PageImage, PageRef
from panelscan.pipeline.facing import parted
from tests.intake.drawn_spreads import Drawn, aged, double_picture, facing_pages, wide_page

RIGHT = 0.012
KINDS = (
    ("facing pages", facing_pages, ("none", "one", "both", "some")),
    ("double-page pictures", double_picture, ("splash", "tier", "plain")),
    ("wide single pages", wide_page, ("album", "columns")),
)
AGES = ("export", "scan", "bed")


def wilson(right: int, count: int, z: float = 1.96) -> tuple[float, float]:
    """95 % interval of a share (E. B. Wilson 1927, J. Amer. Stat. Assoc. 22:209)."""
    share = right / count
    middle = share + z * z / (2 * count)
    spread = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return (middle - spread) / (1 + z * z / count), (middle + spread) / (1 + z * z / count)


def cut_of(pixels: np.ndarray) -> float | None:
    """Where a scan would part an image (a share of its width), or None."""
    height, width = pixels.shape[:2]
    loaded = LoadedPage(PageRef("page.png"), PageImage(pixels, width, height))
    parts = parted(loaded, SpreadMode.AUTO)
    if len(parts) == 1:
        return None
    return (parts[0].image.width_px + parts[1].image.offset_px[0]) / 2 / width


def agrees(cut: float | None, fold: float | None) -> bool:
    """Whether an image is cut at its fold, or left whole where it has none."""
    if cut is None or fold is None:
        return cut is fold
    return abs(cut - fold) <= RIGHT


def comic_is_right(seed: int) -> tuple[str, bool]:
    """Kind of a spread of the practice comic, and whether it is parted rightly."""
    page = draw_page("spread", seed, height_px=900)
    facing = page.truth.facing == "facing" and page.truth.fold_x_px is not None
    fold = page.truth.fold_x_px / page.pixels.shape[1] if facing else None
    return page.truth.facing, agrees(cut_of(page.pixels), fold)


def score_comic(count: int) -> None:
    """Print how the practice comic's spreads are parted."""
    found: dict[str, list[bool]] = {}
    for seed in range(count):
        kind, right = comic_is_right(seed)
        found.setdefault(kind, []).append(right)
    for kind, rights in sorted(found.items()):
        low, high = wilson(sum(rights), len(rights))
        share = sum(rights) / len(rights)
        print(f"practice comic, {kind:8} {share:6.1%} of {len(rights)}  ({low:.1%} to {high:.1%})")


def main() -> int:
    """Draw, judge, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", type=int, default=40, help="images of each kind and age")
    parser.add_argument("--comic", type=int, default=40, help="spreads of the practice comic")
    parser.add_argument("--start", type=int, default=1000, help="first seed")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    score_comic(given.comic)
    for title, make, ways in KINDS:
        for how in ways:
            for age in AGES:
                right = 0
                for seed in range(given.start, given.start + given.pages):
                    rng = np.random.default_rng([seed, *map(ord, how + age)])
                    drawn: Drawn = aged(rng, make(rng, how), age)
                    right += agrees(cut_of(drawn.pixels), drawn.fold)
                low, high = wilson(right, given.pages)
                share = right / given.pages
                print(f"{title:22} {how:8} {age:7} {share:6.1%}  ({low:.1%} to {high:.1%})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
