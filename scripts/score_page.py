"""Score one page: find its panels and compare them with the truth."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely
from score_bursts import burst_areas, false_bursts
from score_find import Sheet, drawn_sheet, file_sheet, find_book

from panelscan.demo.hands import LEFT_OUT_HAND, TUNING_HANDS
from panelscan.demo.maker import PAGES_PER_BOOK, book_of, draw_page
from panelscan.demo.truth import PageTruth, PanelTruth, read_truth
from panelscan.layout.agreement import (
    corner_errors,
    counts_at,
    frame_jaccard,
    iou_table,
    match_panels,
    name_errors,
    outline_distance,
    page_exact,
    panel_quality,
)
from panelscan.layout.direction import infer_direction
from panelscan.layout.order_agreement import compare_orders
from panelscan.layout.pages import lay_out
from panelscan.model.outline import Outline
from panelscan.model.panel import PageFinding, Panel

THRESHOLDS = (0.5, 0.75, 0.9, 0.95)
ORDER_THRESHOLD = 0.75
DIRECTION_PAGES = 4
"""Fewest pages of a book from which its reading direction is inferred."""
FIRST_TUNING_SEED = 4800
"""Pages of seeds below are those that the small net was trained on."""
FIRST_SCORING_SEED = 6000
"""Seeds below are for tuning the detector, from here on for scoring it."""


@dataclass(frozen=True)
class Task:
    """One page to score: drawn (category and seed) or real (path of its truth file)."""

    category: str
    seed: int = 0
    hand: str = ""
    truth_path: str = ""
    height_px: int = 1900
    failures: str = ""


@dataclass
class PageScore:
    """All figures of one page; lists hold one value per panel or corner."""

    name: str
    category: str
    book: str
    style: str = ""
    hand: str = ""
    ambiguous: bool = False
    counts: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    exact: dict[str, bool] = field(default_factory=dict)
    quality: float = 0.0
    splits: int = 0
    merges: int = 0
    misses: int = 0
    false_detections: int = 0
    corners_px: list[float] = field(default_factory=list)
    corner_count_wrong: int = 0
    corner_count_asked: int = 0
    outline_px: list[float] = field(default_factory=list)
    gutter_px: list[float] = field(default_factory=list)
    order: dict[str, float] | None = None
    bleed: tuple[int, int, int] = (0, 0, 0)
    confidence: float = 0.0
    panel_confidence: list[tuple[float, bool]] = field(default_factory=list)
    skew: tuple[float, float] | None = None
    frame_iou: float | None = None
    spread: str = ""
    lettering: tuple[float, float, float] = (0.0, 0.0, 0.0)
    room: list[float] = field(default_factory=list)
    burst: tuple[float, float, float] = (0.0, 0.0, 0.0)
    burst_false: tuple[float, float] = (0.0, 0.0)
    direction: tuple[str, str] | None = None
    seconds: float = 0.0
    error: str = ""


def drawn_tasks(
    category: str, pages: int, scoring: bool, height_px: int, failures: str = ""
) -> list[Task]:
    """Pages of a category for scoring (or for tuning), whole books at a time.

    Every fourth book of the scoring pages is by the hand that tuning never sees.
    """
    hands = list(TUNING_HANDS) + ([LEFT_OUT_HAND] if scoring else [])
    first = FIRST_SCORING_SEED if scoring else FIRST_TUNING_SEED
    tasks = []
    for k in range(pages):
        # Few pages (the short mode) still come from different books.
        step = PAGES_PER_BOOK if pages < PAGES_PER_BOOK * 2 else 1
        seed = first + k * step
        hand = hands[(seed // PAGES_PER_BOOK) % len(hands)]
        tasks.append(Task(category, seed, hand, height_px=height_px, failures=failures))
    return tasks


def real_tasks(folder: Path, failures: str = "") -> list[Task]:
    """All annotated pages below a folder; the category is the name of the page's folder."""
    paths = sorted(p for p in folder.rglob("*.json") if p.parent != folder)
    return [Task(p.parent.name, truth_path=str(p), failures=failures) for p in paths]


def books_of(tasks: list[Task]) -> list[list[Task]]:
    """Tasks by book, as a scan takes them."""
    books: dict[str, list[Task]] = {}
    for task in tasks:
        name = task.category if task.truth_path else book_of(task.category, task.seed)
        books.setdefault(name, []).append(task)
    return list(books.values())


def score_book(tasks: list[Task]) -> list[PageScore]:
    """Draw or load the pages of a book, find their panels and compare."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    import cv2

    cv2.setNumThreads(1)
    sheets = [_sheet(t) for t in tasks]
    find_book(sheets)
    scores = [_scored(t, s) for t, s in zip(tasks, sheets, strict=True)]
    if len(sheets) >= DIRECTION_PAGES:
        pages = [[p.outline for p in f.panels] for s in sheets for _, f in s.parts]
        lettering = [f.balloons for s in sheets for _, f in s.parts]
        told, _ = infer_direction(pages, lettering)
        for score, sheet in zip(scores, sheets, strict=True):
            score.direction = (sheet.truth.direction, str(told))
    return scores


def _scored(task: Task, sheet: Sheet) -> PageScore:
    truth = sheet.truth
    book = truth.book or (task.category if task.truth_path else book_of(task.category, task.seed))
    score = PageScore(
        sheet.name, task.category, book, truth.style, truth.hand or "real", truth.ambiguous,
        seconds=sheet.seconds, error=sheet.error,
    )  # fmt: skip
    panels, order = gather(sheet)
    compare(score, truth, panels, order)
    if truth.hand:
        score.burst, score.burst_false = burst_areas(truth, panels), false_bursts(truth, panels)
    if sheet.parts:
        _page_figures(score, truth, [f for _, f in sheet.parts])
        if len(sheet.parts) == 1:
            score.gutter_px = gutter_errors(truth, sheet.parts[0][1])
    if task.failures and not score.exact["0.9"]:
        path = Path(task.failures) / f"{sheet.name}.png"
        save_failure(path, sheet, [p.outline for p in panels], order)
    return score


def _sheet(task: Task) -> Sheet:
    if not task.truth_path:
        drawn = draw_page(task.category, task.seed, hand=task.hand, height_px=task.height_px)
        return drawn_sheet(f"{task.category}-{task.seed:05d}", drawn.truth, drawn.pixels)
    path = Path(task.truth_path)
    truth = read_truth(path)
    return file_sheet(path.stem, truth, path.parent.parent / truth.image)


def gather(sheet: Sheet) -> tuple[list[Panel], list[int]]:
    """All panels of a picture and their order, halves in reading order."""
    parts = list(zip(sheet.parts, sheet.orders(), strict=True))
    if sheet.truth.direction == "rtl":
        parts.reverse()
    panels: list[Panel] = []
    order: list[int] = []
    for (_, finding), each in parts:
        order += [len(panels) + k for k in each]
        panels += finding.panels
    return panels, order


def compare(score: PageScore, truth: PageTruth, panels: list[Panel], order: list[int]) -> None:
    """Fill in what compares panels with panels."""
    true = [p.outline for p in truth.panels]
    found = [p.outline for p in panels]
    table = iou_table(true, found)
    for t in THRESHOLDS:
        c = counts_at(table, t)
        score.counts[str(t)] = (c.hits, c.extra, c.missed)
        score.exact[str(t)] = page_exact(table, t)
    score.quality = panel_quality(table)
    errors = name_errors(true, found)
    score.splits, score.merges = len(errors.splits), len(errors.merges)
    score.misses, score.false_detections = len(errors.misses), len(errors.false_detections)
    right = {m.found: m for m in match_panels(table, 0.9)}
    score.panel_confidence = [(float(p.confidence), j in right) for j, p in enumerate(panels)]
    for m in right.values():
        _corner_figures(score, truth.panels[m.true], found[m.found])
    matches = {m.found: m.true for m in match_panels(table, ORDER_THRESHOLD)}
    if matches:
        seen = [matches[k] for k in order if k in matches]
        agreement = compare_orders(range(len(true)), seen, truth.orders_also_fine)
        score.order = {
            "exact": float(agreement.exact_or_listed), "tau": agreement.tau_b,
            "pairs": agreement.pair_accuracy, "links": agreement.succession_f1,
        }  # fmt: skip
    hits = extra = missed = 0
    for j, i in matches.items():
        told, is_true = {str(e) for e in panels[j].bleed}, set(truth.panels[i].bleed)
        hits, extra = hits + len(told & is_true), extra + len(told - is_true)
        missed += len(is_true - told)
    score.bleed = (hits, extra, missed)


def _corner_figures(score: PageScore, true: PanelTruth, found: Outline) -> None:
    # A panel that bleeds is cut at the trim, which a scan may not show: no corner to measure.
    if true.border == "ruled" and not true.bleed and len(true.outline.points) <= 8:
        score.corner_count_asked += 1
        errors = corner_errors(true.outline, found)
        if errors is None:
            score.corner_count_wrong += 1
        else:
            score.corners_px += [round(e, 3) for e in errors]
    elif true.border == "hand":
        score.outline_px.append(round(outline_distance(true.outline, found, 4.0).p95, 3))


def _page_figures(score: PageScore, truth: PageTruth, findings: list[PageFinding]) -> None:
    score.confidence = float(min(f.confidence for f in findings))
    if truth.facing:
        parted = len(findings) == 2
        score.spread = f"{truth.facing}:{'parted' if parted else 'whole'}"
        if parted and truth.facing == "facing" and truth.fold_x_px is not None:
            cut = findings[1].frame.bounds[0]
            if abs(cut - truth.fold_x_px) > 0.03 * truth.width_px:
                score.spread = "facing:misplaced"
    elif len(findings) == 2:
        score.spread = "single:parted"
    if truth.skew_deg is not None and not truth.facing and truth.hand:
        score.skew = (float(truth.skew_deg), float(findings[0].skew_deg))
    frame = findings[0].frame
    if len(findings) == len(truth.pages) == 1 and len(frame.points) == 4 == len(
        truth.pages[0].points
    ):
        score.frame_iou = round(frame_jaccard(truth.pages[0], frame), 5)
    told = [b.shape for f in findings for b in f.balloons]
    known = [b.shape for b in truth.balloons]
    if truth.hand:
        a, b = shapely.union_all(known), shapely.union_all(told)
        common = a.intersection(b).area
        score.lettering = (common, b.area - common, a.area - common)
        score.room = room_errors([p.outline for p in truth.panels], a, b)


LEAST_LETTERED = 0.002
"""Share of a panel from which balloons on it count."""


def room_errors(
    panels: list[Outline], known: shapely.Geometry, told: shapely.Geometry
) -> list[float]:
    """Error of the free height at the top of each panel that has lettering, told or true.

    The free height runs from the panel's top down to its first balloon or caption, in shares
    of the panel's height; 1 where there is none. Panels are the true ones, so that only the
    lettering is judged.
    """
    errors = []
    for panel in panels:
        free = [_free_height(panel, lettering) for lettering in (known, told)]
        if min(free) < 1.0:
            errors.append(round(abs(free[0] - free[1]), 4))
    return errors


def _free_height(panel: Outline, lettering: shapely.Geometry) -> float:
    part = panel.shape.intersection(lettering)
    if part.area < LEAST_LETTERED * panel.area:
        return 1.0
    _, top, _, foot = panel.bounds
    return float((part.bounds[1] - top) / (foot - top))


def gutter_errors(truth: PageTruth, finding: PageFinding) -> list[float]:
    """Error of the mean width of each gutter whose two panels were found, in pixels."""
    true = [p.outline for p in truth.panels]
    table = iou_table(true, [p.outline for p in finding.panels])
    names = {m.found: m.true for m in match_panels(table, ORDER_THRESHOLD)}
    plain = tuple(Panel(o) for o in true)
    known = _gutter_widths(plain, truth.pages[0], {k: k for k in range(len(true))})
    told = _gutter_widths(finding.panels, finding.frame, names)
    return [round(abs(told[pair] - known[pair]), 3) for pair in known if pair in told]


def _gutter_widths(
    panels: tuple[Panel, ...], frame: Outline, names: dict[int, int]
) -> dict[frozenset[int], float]:
    layout = lay_out(panels, frame)
    widths = {}
    for gutter in layout.gutters:
        pair = frozenset(names.get(layout.order[place], -1) for place in gutter.panels)
        if len(pair) == 2 and -1 not in pair:
            widths[pair] = gutter.width
    return widths


def save_failure(path: Path, sheet: Sheet, found: list[Outline], order: list[int]) -> None:
    """Picture of a page with the truth (green, thin) and what was found (red)."""
    import cv2

    pixels, reduction = sheet.picture
    shrink = min(1100 / pixels.shape[0], 1.0)
    shown = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    shown = cv2.cvtColor(shown, cv2.COLOR_GRAY2BGR) if shown.ndim == 2 else shown[..., ::-1].copy()
    shown = cv2.addWeighted(shown, 0.6, np.full_like(shown, 255), 0.4, 0)
    scale = shrink / reduction

    def draw(outline: Outline, color: tuple[int, int, int], thick: int) -> None:
        points = np.round(outline.array() * scale * 8).astype(np.int32)
        cv2.polylines(shown, [points], True, color, thick, cv2.LINE_AA, 3)

    for k in order:
        draw(found[k], (40, 40, 225), 4)
    for panel in sheet.truth.panels:
        draw(panel.outline, (40, 160, 20), 2)
    for n, k in enumerate(order, start=1):
        x, y = (v * scale for v in found[k].centroid)
        cv2.putText(shown, str(n), (int(x), int(y)), 0, 0.9, (40, 40, 225), 2, cv2.LINE_AA)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(cv2.imencode(".png", shown)[1].tobytes())
