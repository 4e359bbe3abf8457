"""Do the stated intervals hold the truth? Libraries with known habits and known errors.

Draws artists with known habits (panels a page, gutter, bleed share), lets a detector with
known errors read them (some pages have two panels taken for one; the detector keeps the
other reading with an honest probability), and counts how often the 90 % intervals hold the
true habit, and how far the best estimates are off.

``python scripts/simulate_habits.py [--runs N] [--pages N]`` prints one line a figure.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.corpus.schema import TABLES
from panelscan.study.habits import page_figures
from panelscan.study.shelf import Shelf
from panelscan.study.spacing import bleed_figures, gutter_figures

DOUBTFUL = 0.15
WIDTH, HEIGHT = 1000, 1500


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


def draw_library(artist: Artist, pages: int, rng: np.random.Generator) -> Shelf:
    """Read a made-up artist's pages with a detector of known errors."""
    rows: dict[str, list[dict]] = {"pages": [], "panels": [], "gutters": []}
    for number in range(pages):
        count = 2 + rng.poisson(artist.mean_panels - 2)
        bleeds = bool(rng.random() < artist.bleed_share)
        odds = rng.uniform(0.05, 0.6) if rng.random() < DOUBTFUL else 0.0
        _read_page(rows, artist, number, (count, bleeds, odds, bool(rng.random() < odds)), rng)
    frames = {
        name: pd.DataFrame(rows[name], columns=[c.name for c in TABLES[name]]) for name in rows
    }
    seed = int(rng.integers(1 << 30))
    return Shelf.of(frames["pages"], frames["panels"], frames["gutters"], seed)


def _rings(count: int, bleeds: bool) -> list[list[list[float]]]:
    left = 0.0 if bleeds else 50.0
    step = 1400 / count
    return [
        [
            [left, 50 + i * step],
            [950, 50 + i * step],
            [950, 40 + (i + 1) * step],
            [left, 40 + (i + 1) * step],
        ]
        for i in range(count)
    ]


def _read_page(
    rows: dict[str, list[dict]],
    artist: Artist,
    number: int,
    truth: tuple[int, bool, float, bool],
    rng: np.random.Generator,
) -> None:
    """Append what the detector says; with odds p it is wrong and the truth is the other reading.

    The other reading has one panel more or less and, half the time, another bleed.
    """
    count, bleeds, odds, wrong = truth
    other_count = count - 1 if rng.random() < 0.5 else count + 1
    other = (max(other_count, 1), bleeds ^ bool(rng.random() < 0.5))
    best, second = (other, (count, bleeds)) if wrong else ((count, bleeds), other)
    page_id = f"p{number:06d}"
    base = {"page_id": page_id, "book": "book", "page_number": number + 1}
    readings = [{"probability": odds, "panels": _rings(*second)}] if odds else []
    rows["pages"].append(
        base
        | {
            "panel_count": best[0],
            "tier_count": best[0],
            "tier_pattern": str(best[0]),
            "bleed_left": best[1],
            "bleed_top": False,
            "bleed_right": False,
            "bleed_bottom": False,
            "width_px": WIDTH,
            "height_px": HEIGHT,
            "readings": json.dumps(readings),
            "reviewed": False,
            "direction": "ltr",
            "page_side": "left",
        }
    )
    for place in range(best[0] - 1):
        width = rng.normal(artist.gutter_mm, 0.35) + rng.normal(0, 0.03)
        rows["gutters"].append(
            base
            | {
                "kind": "tier",
                "panel_a": place + 1,
                "panel_b": place + 2,
                "width_mm": width,
                "width_px": 10 * width,
                "width_share": width / 170,
                "width_min_px": 10 * width,
                "width_max_px": 10 * width,
                "angle_deg": 0.0,
            }
        )


def simulate(runs: int, pages: int, seed: int = 5) -> tuple[Outcome, ...]:
    """Coverage and bias of three figures over many made-up artists."""
    rng = np.random.default_rng(seed)
    inside = np.zeros(3)
    off: list[list[float]] = []
    for _ in range(runs):
        artist = Artist(rng.uniform(3.5, 7.5), rng.uniform(2.0, 6.0), rng.uniform(0.1, 0.6))
        shelf = draw_library(artist, pages, rng)
        figures = (page_figures(shelf)[0], gutter_figures(shelf)[0], bleed_figures(shelf)[0])
        truth = (artist.mean_panels, artist.gutter_mm, 100 * artist.bleed_share)
        inside += [f.low <= t <= f.high for f, t in zip(figures, truth, strict=True)]
        off.append([f.value - t for f, t in zip(figures, truth, strict=True)])
    bias = np.mean(off, axis=0)
    names = (("mean panels a page", "panels"), ("gutter median", "mm"), ("bleed share", "points"))
    return tuple(
        Outcome(name, inside[i] / runs, float(bias[i]), unit)
        for i, (name, unit) in enumerate(names)
    )


def main() -> None:
    """Print the outcomes."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=400)
    parser.add_argument("--pages", type=int, default=200)
    given = parser.parse_args()
    print(f"{given.runs} made-up artists, {given.pages} pages each, 90 % intervals")
    for outcome in simulate(given.runs, given.pages):
        print(
            f"{outcome.name}: truth inside in {100 * outcome.covered:.1f} % of runs, "
            f"off by {outcome.bias:+.3f} {outcome.unit} on average"
        )


if __name__ == "__main__":
    main()
