"""How exactly a template reads back: written, opened, its panels found and measured.

    python scripts/bench_scan_back.py               4 random grids in every kind and resolution
    python scripts/bench_scan_back.py --grids 20 --kinds ora svg --ppi 300
    python scripts/bench_scan_back.py --short       one grid at 300 dpi

Writes each grid with all guide layers, scans the files and prints the farthest distance of
any outline from where it was put. The aim: 0.2 mm. Exit code 1 where one is farther.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import zipfile
from itertools import pairwise
from pathlib import Path

import numpy as np

from panelscan.errors import UsageError
from panelscan.model.formats import US_PRINT
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.templates.options import InkMode, TemplateOptions
from panelscan.templates.template import write_template

KINDS = ("png", "tif", "ora", "pdf", "svg")
RESOLUTIONS = (300, 400, 600, 1200)
INKS = {300: "colour", 400: "gray", 600: "bw", 1200: "bw"}
"""Pixels at each resolution, so that all three kinds have their turn."""
NEAR_MM = 0.2


def random_grid(seed: int) -> Grid:
    """Two to four tiers of one to three panels, now and then with a slanted gutter."""
    rng = np.random.default_rng(seed)
    panels = []
    rows = np.cumsum(np.concatenate([[0], rng.uniform(0.7, 1.3, rng.integers(2, 5))]))
    rows = 0.06 + rows / rows[-1] * 0.88
    for top, bottom in pairwise(rows):
        cuts = np.cumsum(np.concatenate([[0], rng.uniform(0.7, 1.3, rng.integers(1, 4))]))
        cuts = 0.06 + cuts / cuts[-1] * 0.88
        slant = np.zeros(len(cuts))
        slant[1:-1] = rng.choice([0, 0, 0, 0.03, -0.03], len(cuts) - 2)
        for k in range(len(cuts) - 1):
            left, right = cuts[k] + (0.009 if k else 0), cuts[k + 1]
            right -= 0.009 if k + 1 < len(cuts) - 1 else 0
            y0, y1 = top + (0.006 if top > 0.07 else 0), bottom - (0.006 if bottom < 0.93 else 0)
            a, b = slant[k], slant[k + 1]
            ring = [(left + a, y0), (right + b, y0), (right - b, y1), (left - a, y1)]
            panels.append(GridPanel(Outline.of(ring)))
    return Grid(tuple(panels), US_PRINT.trim_mm[0] / US_PRINT.trim_mm[1])


def farthest_mm(grid: Grid, kind: str, ppi: int, ink: str, folder: Path) -> float:
    """Farthest distance of a found outline from the written one; infinite if counts differ."""
    from panelscan.pipeline.stages import look_at

    out = folder / f"page.{kind}"
    options = TemplateOptions(ppi=ppi, ink=InkMode(ink), overwrite=True)
    report = write_template(grid, US_PRINT, out, options)
    record, _ = look_at(_readable(out, US_PRINT.pixel_size(ppi)))
    width, height = US_PRINT.sheet_mm
    dx, dy = US_PRINT.trim_origin_mm
    per_x, per_y = width / record.width_px, height / record.height_px
    if kind in ("png", "tif", "ora"):
        per_x = per_y = 25.4 / ppi
    found = [panel.outline.scaled(per_x, per_y).moved(-dx, -dy) for panel in record.finding.panels]
    wanted = [p.outline for p in report.placement.panels]
    if len(found) != len(wanted):
        return float("inf")
    # The grids are random: readers may differ on their order, so panels are paired by place.
    nearest = [max(found, key=lambda f: f.iou(w)) for w in wanted]
    return max(
        a.shape.exterior.hausdorff_distance(b.shape.exterior)
        for a, b in zip(wanted, nearest, strict=True)
    )


def _readable(out: Path, size: tuple[int, int]) -> Path:
    """The file itself, or for layered drawings the picture that a reader makes of it."""
    picture = out.with_suffix(".read.png")
    if out.suffix == ".ora":
        with zipfile.ZipFile(out) as archive:
            picture.write_bytes(archive.read("mergedimage.png"))
        return picture
    if out.suffix == ".svg":
        import cairosvg

        cairosvg.svg2png(url=str(out), write_to=str(picture), output_width=size[0],
                         output_height=size[1], background_color="white")  # fmt: skip
        return picture
    return out


def random_grids(count: int) -> list[Grid]:
    """As many grids as asked, the same ones each time."""
    grids: list[Grid] = []
    seed = 0
    while len(grids) < count:
        try:
            grids.append(random_grid(seed))
        except (UsageError, ValueError):
            pass
        seed += 1
    return grids


def run(count: int, kinds: list[str], resolutions: list[int]) -> int:
    """Print one line per format and resolution; how many pages read back too far off."""
    grids = random_grids(count)
    off = 0
    with tempfile.TemporaryDirectory() as folder:
        for kind in kinds:
            for ppi in resolutions:
                ink = INKS[ppi] if kind in ("png", "tif") else "colour"
                far = [farthest_mm(g, kind, ppi, ink, Path(folder)) for g in grids]
                good = sum(f <= NEAR_MM for f in far)
                off += count - good
                shown = ", ".join(f"{f:.3f}" for f in far)
                print(
                    f"{kind:4} {ppi:5} dpi {ink:7} {good} of {count} within {NEAR_MM} mm: {shown}",
                    flush=True,
                )
    return off


def main(arguments: list[str] | None = None) -> int:
    """Print the table; 1 where a page read back farther off than the aim."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--grids", type=int, default=4)
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=list(KINDS))
    parser.add_argument("--ppi", type=int, nargs="+", choices=RESOLUTIONS,
                        default=list(RESOLUTIONS))  # fmt: skip
    parser.add_argument("--short", action="store_true", help="one grid at 300 dpi")
    given = parser.parse_args(arguments)
    if given.short:
        return 1 if run(1, given.kinds, [300]) else 0
    return 1 if run(given.grids, given.kinds, given.ppi) else 0


if __name__ == "__main__":
    sys.exit(main())
