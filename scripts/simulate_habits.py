"""Do the stated intervals hold the truth? Libraries with known habits and known errors.

Draws artists with known habits (panels a page, gutter, bleed share), lets a detector with
known errors read them, and counts how often the 90 % intervals hold the true habit, and how
far the best estimates are off. A page in doubt may be read in two ways: as planned, or with
two panels across the narrowest gutter taken for one, or with one panel taken for two with a
narrow gutter between, and half the time with another bleed. The detector always prefers fewer
panels and gives the other reading an honest probability: as often as it says, the other one is
the truth. Outlines of the other reading are not measured as finely.

An artist's true habit is taken from many more of their pages than the detector sees.

``python scripts/simulate_habits.py [--runs N] [--pages N]`` prints one line a figure;
``--without`` leaves the other readings out, to show what they are good for.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.corpus.schema import TABLES
from panelscan.study.habits import page_figures
from panelscan.study.shelf import Shelf
from panelscan.study.spacing import bleed_figures, gutter_figures

DOUBTFUL = 0.3
WIDTH, HEIGHT = 1000, 1500
WIDTH_MM, HEIGHT_MM = 170.0, 255.0
MM = HEIGHT_MM / HEIGHT
COARSE_PX = 3.0
"""How far outlines of readings that were not chosen lie inside the measured ones."""
TOP_PX, FOOT_PX = 60.0, 1440.0
TRUE_PAGES = 10_000


@dataclass(frozen=True)
class Artist:
    """Known habits."""

    mean_panels: float
    gutter_mm: float
    bleed_share: float


@dataclass(frozen=True)
class Outcome:
    """How one figure did over all runs."""

    name: str
    covered: float
    bias: float
    unit: str


Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Page:
    """A page of tiers as one reading has it: top and foot of each panel, and the bleed."""

    spans: tuple[tuple[float, float], ...]
    bleeds: bool

    @property
    def gutters_mm(self) -> list[float]:
        """Widths of the gutters, from the top."""
        return [MM * (b[0] - a[1]) for a, b in pairwise(self.spans)]

    def boxes(self) -> list[Box]:
        """Panels in pixels."""
        left = 0.0 if self.bleeds else 50.0
        return [(left, top, 950.0, foot) for top, foot in self.spans]


def draw_page(artist: Artist, rng: np.random.Generator) -> tuple[Page, Page | None, float, Page]:
    """Best reading, other reading with its probability, and the truth."""
    count = 2 + rng.poisson(artist.mean_panels - 2)
    gutters = np.append(rng.normal(artist.gutter_mm, 0.35, count - 1), 0.0) / MM
    tall = (FOOT_PX - TOP_PX - gutters.sum()) / count
    tops = TOP_PX + np.concatenate([[0.0], np.cumsum(tall + gutters)[:-1]])
    spans = tuple((float(top), float(top + tall)) for top in tops)
    planned = Page(spans, bool(rng.random() < artist.bleed_share))
    if rng.random() >= DOUBTFUL:
        return planned, None, 0.0, planned
    pair = (planned, _otherwise(planned, artist, rng))
    best, second = sorted(pair, key=lambda page: len(page.spans))
    odds = float(rng.uniform(0.05, 0.6))
    return best, second, odds, second if rng.random() < odds else best


def _otherwise(page: Page, artist: Artist, rng: np.random.Generator) -> Page:
    """The page with one panel less or more, perhaps with another bleed."""
    spans = list(page.spans)
    if rng.random() < 0.5:
        at = int(np.argmin(page.gutters_mm))
        spans[at : at + 2] = [(spans[at][0], spans[at + 1][1])]
    else:
        at = int(rng.integers(len(spans)))
        narrow = max(0.4, rng.normal(0.6 * artist.gutter_mm, 0.3)) / MM
        (top, foot), middle = spans[at], sum(spans[at]) / 2
        spans[at : at + 1] = [(top, middle - narrow / 2), (middle + narrow / 2, foot)]
    return Page(tuple(spans), page.bleeds ^ bool(rng.random() < 0.5))


def true_habits(artist: Artist, pages: int, rng: np.random.Generator) -> tuple[float, ...]:
    """Mean panels, gutter median in mm and bleed share in % of an artist's true pages."""
    truths = [draw_page(artist, rng)[3] for _ in range(pages)]
    gutters = np.concatenate([page.gutters_mm for page in truths])
    panels = float(np.mean([len(page.spans) for page in truths]))
    bleeds = 100 * float(np.mean([page.bleeds for page in truths]))
    return panels, float(np.median(gutters)), bleeds


def draw_library(
    artist: Artist, pages: int, rng: np.random.Generator, with_others: bool = True
) -> Shelf:
    """Read a made-up artist's pages with a detector of known errors."""
    rows: dict[str, list[dict]] = {"pages": [], "panels": [], "gutters": []}
    for number in range(pages):
        best, second, odds, _ = draw_page(artist, rng)
        readings = []
        if second is not None and with_others:
            readings.append({"probability": odds, "panels": _coarse(second)})
        _add_rows(rows, number, best, readings, rng)
    frames = {
        name: pd.DataFrame(rows[name], columns=[c.name for c in TABLES[name]]) for name in rows
    }
    seed = int(rng.integers(1 << 30))
    return Shelf.of(frames["pages"], frames["panels"], frames["gutters"], seed)


def _coarse(page: Page) -> list[list[list[float]]]:
    """Outlines as kept of readings that were not chosen."""
    rings = []
    for x0, y0, x1, y1 in page.boxes():
        left = x0 if x0 == 0 else x0 + COARSE_PX
        top, right, foot = y0 + COARSE_PX, x1 - COARSE_PX, y1 - COARSE_PX
        rings.append([[left, top], [right, top], [right, foot], [left, foot]])
    return rings


def _add_rows(
    rows: dict[str, list[dict]],
    number: int,
    page: Page,
    readings: list[dict],
    rng: np.random.Generator,
) -> None:
    """Append what the detector says of a page."""
    key = {"page_id": f"p{number:06d}", "book": "book", "page_number": number + 1}
    boxes = page.boxes()
    told = {
        "panel_count": len(boxes), "tier_count": len(boxes), "bleed_left": page.bleeds,
        "tier_pattern": "-".join("1" * len(boxes)), "width_px": WIDTH, "height_px": HEIGHT,
        "width_mm": WIDTH_MM, "height_mm": HEIGHT_MM, "readings": json.dumps(readings),
        "reviewed": False, "direction": "ltr", "page_side": "left",
    }  # fmt: skip
    rows["pages"].append(
        key | told | {f"bleed_{edge}": False for edge in ("top", "right", "bottom")}
    )
    for place, (x0, y0, x1, y1) in enumerate(boxes, start=1):
        rows["panels"].append(
            key
            | {
                "reading_order": place, "confidence": 0.95, "shape": "rectangle",
                "area_share": (x1 - x0) * (y1 - y0) / WIDTH / HEIGHT,
                "x_min_share": x0 / WIDTH, "y_min_share": y0 / HEIGHT,
                "x_max_share": x1 / WIDTH, "y_max_share": y1 / HEIGHT,
            }
        )  # fmt: skip
    for place, gutter in enumerate(page.gutters_mm, start=1):
        width = gutter + rng.normal(0, 0.03)
        rows["gutters"].append(
            key
            | {
                "kind": "tier", "panel_a": place, "panel_b": place + 1, "width_mm": width,
                "width_px": width / MM, "width_share": width / WIDTH_MM,
                "width_min_px": width / MM, "width_max_px": width / MM, "angle_deg": 0.0,
            }
        )  # fmt: skip


FIGURES = (
    ("mean panels a page", "panels"),
    ("mean tiers a page", "panels"),
    ("gutter median", "mm"),
    ("bleed share", "points"),
)


def simulate(
    runs: int,
    pages: int,
    seed: int = 5,
    with_others: bool = True,
    true_pages: int = TRUE_PAGES,
) -> tuple[Outcome, ...]:
    """Coverage and bias of the figures over many made-up artists."""
    rng = np.random.default_rng(seed)
    inside = np.zeros(len(FIGURES))
    off: list[list[float]] = []
    for _ in range(runs):
        artist = Artist(rng.uniform(3.5, 7.5), rng.uniform(2.0, 6.0), rng.uniform(0.1, 0.6))
        shelf = draw_library(artist, pages, rng, with_others)
        panels, tiers, *_ = page_figures(shelf)
        figures = (panels, tiers, gutter_figures(shelf)[0], bleed_figures(shelf)[0])
        mean, gutter, bleeds = true_habits(artist, true_pages, rng)
        truth = (mean, mean, gutter, bleeds)
        inside += [f.low <= t <= f.high for f, t in zip(figures, truth, strict=True)]
        off.append([f.value - t for f, t in zip(figures, truth, strict=True)])
    bias = np.mean(off, axis=0)
    return tuple(
        Outcome(name, inside[i] / runs, float(bias[i]), unit)
        for i, (name, unit) in enumerate(FIGURES)
    )


def main() -> None:
    """Print the outcomes."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=400)
    parser.add_argument("--pages", type=int, default=200)
    parser.add_argument("--without", action="store_true", help="leave other readings out")
    given = parser.parse_args()
    print(f"{given.runs} made-up artists, {given.pages} pages each, 90 % intervals")
    for outcome in simulate(given.runs, given.pages, with_others=not given.without):
        print(
            f"{outcome.name}: truth inside in {100 * outcome.covered:.1f} % of runs, "
            f"off by {outcome.bias:+.3f} {outcome.unit} on average"
        )


if __name__ == "__main__":
    main()
