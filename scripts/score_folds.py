"""How often facing pages are parted rightly, and double-page pictures wrongly cut.

``python scripts/score_folds.py [--pages N]`` draws N images of each kind and age
(``tests/intake/drawn_spreads.py``; 40 by default) and prints shares with 95 % Wilson
intervals. The targets on drawn pages: facing pages right 99.5 %, double-page pictures and
wide single pages wrongly cut at most 1 %.
"""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.intake.fold import find_fold
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


def is_right(drawn: Drawn) -> bool:
    """Whether the image is cut at its fold, or left whole where it has none."""
    fold = find_fold(drawn.pixels).fold
    if drawn.fold is None or fold is None:
        return drawn.fold is fold
    return abs(fold.x_share - drawn.fold) <= RIGHT


def main() -> int:
    """Draw, judge, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", type=int, default=40, help="images of each kind and age")
    parser.add_argument("--start", type=int, default=1000, help="first seed")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    for title, make, ways in KINDS:
        for how in ways:
            for age in AGES:
                right = 0
                for seed in range(given.start, given.start + given.pages):
                    rng = np.random.default_rng([seed, *map(ord, how + age)])
                    right += is_right(aged(rng, make(rng, how), age))
                low, high = wilson(right, given.pages)
                share = right / given.pages
                print(f"{title:22} {how:8} {age:7} {share:6.1%}  ({low:.1%} to {high:.1%})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
