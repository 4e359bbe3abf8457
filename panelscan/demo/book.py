"""The demo book: an invented story drawn as pages, scans, photos and a PDF, with its truth."""

from __future__ import annotations

import io
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from panelscan.demo.cast import Character
from panelscan.demo.drawing import draw_plan, truth_of
from panelscan.demo.furniture import add_furniture
from panelscan.demo.grid_changes import shaped, splash, with_bleeds, with_insets, with_overlap
from panelscan.demo.grids import Idea, PagePlan, PanelPlan, corners_of, cut, make_grid
from panelscan.demo.hands import HANDS, PALETTES
from panelscan.demo.look import Look
from panelscan.demo.media import make_medium
from panelscan.demo.script import PageScript
from panelscan.demo.story import BOY, CAT, KEEPER, MACHINE
from panelscan.demo.story_pages import PAGES
from panelscan.demo.talk import letter_script
from panelscan.demo.truth import PageTruth
from panelscan.demo.wear import Wear, wear_page
from panelscan.demo.wear_choices import fair_scan, poor_photo, poor_scan
from panelscan.model.outline import Outline

DPI = 200.0
TRIM_IN = (6.625, 10.25)
PDF_FROM = 21
"""Pages from this number on are bound into one PDF file."""

_MARGINS = (0.075, 0.055, 0.075, 0.07)
_GUTTERS = (0.02, 0.016)


@dataclass(frozen=True)
class BookDrawn:
    """What `draw_book` wrote.

    Parameters
    ----------
    folder : Path
        Holds ``pages`` (to be scanned) and ``truth``.
    page_paths : tuple of Path
        Picture files and the PDF, in reading order.
    truth_paths : tuple of Path
        One JSON file per picture or PDF page, in reading order.
    page_count : int
        Pages of the book (facing pages and double pages count as two).
    panel_count : int
        True panels in all.
    """

    folder: Path
    page_paths: tuple[Path, ...]
    truth_paths: tuple[Path, ...]
    page_count: int
    panel_count: int


def draw_book(folder: Path, seed: int = 7, dpi: float = DPI) -> BookDrawn:
    """Draw the demo book into a folder.

    Parameters
    ----------
    folder : Path
        Where ``pages/`` and ``truth/`` are made; files of the same names are replaced.
    seed : int
        Another seed draws the same story anew.
    dpi : float
        Resolution of the pages.

    Returns
    -------
    BookDrawn
    """
    pages_dir, truth_dir = folder / "pages", folder / "truth"
    pages_dir.mkdir(parents=True, exist_ok=True)
    truth_dir.mkdir(parents=True, exist_ok=True)
    page_paths, truth_paths = [], []
    bound: list[np.ndarray] = []
    panels = 0
    for name, scripts, first in _sheets():
        pixels, truth = draw_sheet(scripts, first, seed, dpi)
        in_pdf = first >= PDF_FROM
        target = pages_dir / ("part_two.pdf" if in_pdf else _file_name(name, scripts))
        if in_pdf:
            bound.append(pixels)
        else:
            _write(target, pixels, dpi)
            page_paths.append(target)
        extra = {"source_index": len(bound) - 1} if in_pdf else {}
        path = truth_dir / f"{name}.json"
        replace(truth, image=f"pages/{target.name}", book="Quill Rock", extra=extra).write(path)
        truth_paths.append(path)
        panels += len(truth.panels)
    pdf = pages_dir / "part_two.pdf"
    _write_pdf(pdf, bound, dpi)
    page_paths.append(pdf)
    count = sum(2 if p.sheet == "double" else 1 for p in PAGES)
    return BookDrawn(folder, tuple(page_paths), tuple(truth_paths), count, panels)


def draw_sheet(
    scripts: tuple[PageScript, ...], number: int, seed: int, dpi: float = DPI
) -> tuple[np.ndarray, PageTruth]:
    """Draw one picture of the book: a page, two facing pages or a double page.

    Parameters
    ----------
    scripts : tuple of PageScript
        One, or two for facing pages.
    number : int
        Number of the first page, from 1.
    seed : int
        Seed of the book.
    dpi : float
        Resolution.
    """
    rng = np.random.default_rng([seed, number])
    width, height = (round(v * dpi) for v in TRIM_IN)
    double = scripts[0].sheet == "double"
    look = _look(scripts[0], seed)
    plans = [plan_page(s, width * (2 if double else 1), height, look, rng) for s in scripts]
    plan = plans[0]
    if len(plans) == 2:
        moved = tuple(replace(p, points=p.points + (width, 0)) for p in plans[1].panels)
        plan = replace(plan, width=2.0 * width, panels=plan.panels + moved)
    size = (height, round(plan.width))
    medium = make_medium(look.style, size, height / 2000, rng)
    page, drawn = draw_plan(plan, look, medium, rng)
    if len(plans) == 1 and not double and "splash" not in scripts[0].traits:
        add_furniture(page, plan, look, height / 2000, rng, number)
    balloons = letter_script(page, drawn, look, height / 2000, rng)
    truth = replace(
        truth_of(plan, drawn, look, size), balloons=balloons, dpi=dpi, category="demo book"
    )
    if len(plans) == 2:
        truth = _facing(truth, len(plans[0].panels), width, height)
    elif double:
        truth = replace(truth, facing="double", fold_x_px=float(width))
    return wear_page(page, truth, _wear(scripts[0], rng), rng)


def plan_page(
    script: PageScript, width: float, height: float, look: Look, rng: np.random.Generator
) -> PagePlan:
    """Grid of a scripted page with its shots in place."""
    traits = script.traits
    insets = next((int(t[5:] or 1) for t in traits if t.startswith("inset")), 0)
    gutters = (0.0, 0.0) if "shared" in traits else _GUTTERS
    tilts = (5.0, 9.0) if "slanted" in traits else (0.0, 0.0)
    idea = Idea(script.tiers, gutters, *tilts, regular=0.3, stack=0.0, margins=_MARGINS)
    plan = make_grid(idea, float(width), float(height), rng)
    if "splash" in traits:
        plan = splash(plan)
    if "stack" in traits:
        plan = _stacked(plan)
    edges = [t.removeprefix("bleed-") for t in sorted(traits) if t.startswith("bleed-")]
    if edges:
        plan = _first_tier_bleeds(plan, edges, rng)
    if insets:
        plan = with_insets(plan, rng, insets, insets)
    if "overlap" in traits:
        plan = with_overlap(plan, rng)
    if "round" in traits:
        plan = _rounded_middle(plan)
    panels = list(plan.panels)
    if len(panels) != len(script.shots):
        raise ValueError(f"{len(panels)} panels but {len(script.shots)} shots")
    border = "none" if "bare" in traits else "hand" if "hand" in traits else ""
    for k, shot in enumerate(script.shots):
        panel = replace(panels[k], shot=shot)
        if border and panel.border == "ruled":
            panel = replace(panel, border=border)
        if "open" in traits and shot.scene == "blank":
            n = len(panel.points)
            panel = replace(panel, open_sides=(n - 1,) if k else tuple(range(n)))
        panels[k] = panel
    return replace(plan, panels=tuple(panels))


def _sheets() -> list[tuple[str, tuple[PageScript, ...], int]]:
    """Name, scripts and first page number of each picture, in reading order."""
    sheets: list[tuple[str, tuple[PageScript, ...], int]] = []
    number = 1
    for script in PAGES:
        if script.sheet == "right":
            name, scripts, first = sheets[-1]
            sheets[-1] = (f"{name}-{number:02d}", (*scripts, script), first)
            number += 1
        elif script.sheet == "double":
            sheets.append((f"page_{number:02d}-{number + 1:02d}", (script,), number))
            number += 2
        else:
            sheets.append((f"page_{number:02d}", (script,), number))
            number += 1
    return sheets


def _cast() -> tuple[Character, ...]:
    coat, red, orange = (58, 96, 122), (196, 66, 52), (228, 146, 62)
    return (
        Character(
            KEEPER.split()[0],
            "person",
            (236, 196, 164),
            (208, 208, 214),
            coat,
            (70, 60, 66),
            "bun",
            skirt=True,
        ),
        Character(
            BOY.split()[0],
            "person",
            (150, 104, 76),
            (40, 34, 40),
            red,
            (92, 84, 70),
            "spikes",
            scarf=True,
            build=0.9,
        ),
        Character(CAT, "cat", orange, orange, orange, orange, "bob"),
        Character(
            MACHINE,
            "machine",
            (150, 160, 160),
            (214, 90, 60),
            (140, 160, 166),
            (110, 124, 130),
            "bob",
        ),
    )


def _look(script: PageScript, seed: int) -> Look:
    rng = np.random.default_rng([seed, 1000])
    memory = "memory" in script.traits
    hand = HANDS["wash" if memory else "brush"]
    hand = replace(hand, balloon_line=1.8, balloon="squash" if memory else "wavy")
    order = rng.permutation([0, 5, 6])
    palettes = (PALETTES[3],) if memory else tuple(PALETTES[int(k)] for k in order[:1])
    if "black" in script.traits:
        dark = (14, 14, 18)
        return Look(
            hand,
            "flat",
            (PALETTES[4],),
            _cast(),
            ground=dark,
            border_rgb=(240, 238, 230),
            lettering=1.2,
        )
    return Look(
        hand,
        "crayon" if memory else "flat",
        palettes,
        _cast(),
        border_px=3.6,
        halo_px=6.0,
        lettering=1.2,
        level=0.5,
    )


def _wear(script: PageScript, rng: np.random.Generator) -> Wear:
    if script.wear == "scan":
        return replace(fair_scan(rng), bed_rgb=(30, 30, 32), skew_deg=0.8, gray=False)
    if script.wear == "poor":
        return replace(
            poor_scan(rng), skew_deg=-2.2, bed_rgb=(232, 232, 230), show_through=0.1, gray=False
        )
    if script.wear == "photo":
        return replace(poor_photo(rng), bed_rgb=(112, 82, 58))
    return Wear(fold=0.5 if script.sheet == "left" else 0.0)


def _first_tier_bleeds(plan: PagePlan, edges: list[str], rng: np.random.Generator) -> PagePlan:
    """The tier at the bled top (or foot) runs off the page; the others stay inside."""
    foot = "bottom" in edges
    reach = max(p.box[3] for p in plan.panels) if foot else min(p.box[1] for p in plan.panels)
    chosen = [abs((p.box[3] if foot else p.box[1]) - reach) < 1 for p in plan.panels]
    bled = with_bleeds(plan, edges, rng)
    pairs = zip(plan.panels, bled.panels, chosen, strict=True)
    return replace(plan, panels=tuple(b if c else a for a, b, c in pairs))


def _stacked(plan: PagePlan) -> PagePlan:
    """Part the first panel in two, so that its tall neighbour closes the stack."""
    first = plan.panels[0]
    upper, lower = cut(shapely.Polygon(first.points), "across", 0.5, plan.gutter)
    parts = (PanelPlan(corners_of(upper)), PanelPlan(corners_of(lower)))
    return replace(plan, panels=(*parts, *plan.panels[1:]))


def _rounded_middle(plan: PagePlan) -> PagePlan:
    """One panel oval, one with a cut corner."""
    panels = list(plan.panels)
    rng = np.random.default_rng(3)
    panels[1] = shaped(panels[1], "round", rng)
    panels[3] = shaped(panels[3], "pentagon", rng)
    return replace(plan, panels=tuple(panels))


def _facing(truth: PageTruth, first_panels: int, width: int, height: int) -> PageTruth:
    left, right = Outline.box(0, 0, width, height), Outline.box(width, 0, 2 * width, height)
    panels = tuple(
        replace(p, page=0 if k < first_panels else 1) for k, p in enumerate(truth.panels)
    )
    return replace(
        truth, pages=(left, right), panels=panels, fold_x_px=float(width), facing="facing"
    )


def _file_name(name: str, scripts: tuple[PageScript, ...]) -> str:
    return f"{name}.{'jpg' if scripts[0].wear else 'png'}"


def _write(path: Path, pixels: np.ndarray, dpi: float) -> None:
    from PIL import Image

    image = Image.fromarray(pixels)
    if path.suffix == ".jpg":
        image.save(path, quality=88, dpi=(dpi, dpi))
    else:
        image.save(path, dpi=(dpi, dpi), compress_level=4)


def _write_pdf(path: Path, pages: list[np.ndarray], dpi: float) -> None:
    from PIL import Image

    images = [Image.fromarray(p) for p in pages]
    day = time.struct_time((2024, 1, 1, 0, 0, 0, 0, 1, 0))  # the same bytes on every run
    data = io.BytesIO()
    images[0].save(
        data, "PDF", save_all=True, append_images=images[1:], resolution=dpi, quality=90,
        title="The Lamp on Quill Rock, part two", creationDate=day, modDate=day,
    )  # fmt: skip
    path.write_bytes(data.getvalue())
