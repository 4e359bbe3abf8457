"""What may not change the panels of a clear page: its side to the left, its size, another look.

That moving the page by a pixel moves its panels by a pixel is tested with the detector.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

from score_invariance import figures_of, line

from panelscan.intake.options import LoadedPage
from panelscan.layout.agreement import Counts
from panelscan.model.outline import Outline
from panelscan.model.page import PageRef
from panelscan.model.panel import PageFinding
from panelscan.pipeline.stages import find
from tests.vision.pages import blank, box, found, image

Ring = list[tuple[float, float]]

WIDTH, HEIGHT = 1240, 1760
GRID = [
    box(80 + 375 * column, 80 + 550 * row, 410 + 375 * column, 580 + 550 * row)
    for row in range(3)
    for column in range(3)
]
SLANTED: list[Ring] = [
    [(80, 80), (760, 80), (580, 820), (80, 820)],
    [(800, 80), (1160, 80), (1160, 820), (620, 820)],
    [(80, 864), (1160, 864), (1160, 1180), (80, 1240)],
    [(80, 1284), (1160, 1224), (1160, 1680), (80, 1680)],
]
BORDERED = [box(80, 80, 500, 900), box(540, 80, 1160, 470), box(540, 510, 1160, 900),
            box(80, 940, 1160, 1680)]  # fmt: skip


def page_of(rings: Sequence[Ring], tone: int = 255, ink: int = 0) -> np.ndarray:
    """Page whose panels hold art that no mirror and no halving leaves as it is."""
    page = blank(WIDTH, HEIGHT, tone)
    rng = np.random.default_rng(len(rings))
    for ring in rings:
        panel = blank(WIDTH, HEIGHT, int(rng.integers(150, 225)))
        for _ in range(12):
            x, y = (int(v) for v in rng.uniform(0, (WIDTH, HEIGHT)))
            cv2.circle(panel, (x, y), int(rng.integers(20, 90)), int(rng.integers(60, 250)), -1)
            cv2.line(panel, (x, y), (WIDTH - x, y + 90), 40, 3, cv2.LINE_AA)
        inside = np.zeros_like(page)
        cv2.fillPoly(inside, [np.round(np.array(ring) - 0.5).astype(np.int32)], 1)
        page[inside > 0] = panel[inside > 0]
        border = [np.round((np.array(ring) - 0.5) * 16).astype(np.int32)]
        cv2.polylines(page, border, True, ink, 4, cv2.LINE_AA, 4)
    return page


PAGES: dict[str, tuple[Sequence[Ring], Callable[[], np.ndarray]]] = {
    "grid": (GRID, lambda: page_of(GRID)),
    "slanted": (SLANTED, lambda: page_of(SLANTED)),
    "bordered": (BORDERED, lambda: page_of(BORDERED)),
    "bordered in white on black": (BORDERED, lambda: page_of(BORDERED, 20, 245)),
}
each_page = pytest.mark.parametrize("name", PAGES)


def worst(outlines: Sequence[Outline], others: Sequence[Outline]) -> float:
    """Least IoU of panels with their own counterparts, one each; 0 if the counts differ."""
    if len(outlines) != len(others):
        return 0.0
    table = np.array([[a.iou(b) for b in others] for a in outlines])
    one_each = len(set(table.argmax(axis=1))) == len(outlines)
    return float(table.max(axis=1).min()) if one_each else 0.0


@each_page
def test_mirroring_a_page_mirrors_each_panel(name: str) -> None:
    rings, draw = PAGES[name]
    page = draw()
    plain = found(page)
    back = [o.mirrored(WIDTH) for o in found(np.ascontiguousarray(page[:, ::-1]))]
    true = [Outline.of(ring) for ring in rings]
    assert worst(plain, back) > 0.995
    assert worst(true, plain) > 0.995 and worst(true, back) > 0.995


@each_page
def test_half_the_resolution_shows_the_same_panels(name: str) -> None:
    rings, draw = PAGES[name]
    small = cv2.resize(draw(), (WIDTH // 2, HEIGHT // 2), interpolation=cv2.INTER_AREA)
    grown = [o.scaled(2, 2) for o in found(np.asarray(small))]
    assert worst([Outline.of(ring) for ring in rings], grown) > 0.995
    assert worst(found(draw()), grown) > 0.995


@each_page
def test_the_same_bytes_give_the_same_finding_through_all_steps(name: str) -> None:
    def seen() -> PageFinding:
        return find(LoadedPage(PageRef("p1.png"), image(lettered(PAGES[name][1]()))))

    first = seen()
    assert first.balloons and any(p.burst for p in first.panels)
    assert all(p.room for p in first.panels)
    assert first == seen()


def lettered(page: np.ndarray) -> np.ndarray:
    """The page with a balloon in its first panel and a head over its last one's lower border."""
    ground = int(page[4, 4])
    cv2.ellipse(page, (260, 240), (170, 80), 0, 0, 360, 255, -1, cv2.LINE_AA)
    cv2.ellipse(page, (260, 240), (170, 80), 0, 0, 360, 0, 4, cv2.LINE_AA)
    for text, at in (("WHO LEFT THE", (160, 235)), ("LAMP ALIGHT?", (162, 265))):
        cv2.putText(page, text, at, cv2.FONT_HERSHEY_SIMPLEX, 0.8, 0, 2, cv2.LINE_AA)
    cv2.circle(page, (1000, HEIGHT - 80), 40, 255 - ground, -1, cv2.LINE_AA)
    cv2.circle(page, (1000, HEIGHT - 80), 40, 110, 6, cv2.LINE_AA)
    return page


def test_the_score_of_a_clear_page_is_full_and_a_wrong_truth_costs_f1_only() -> None:
    page = page_of(BORDERED)
    true = [Outline.of(ring) for ring in BORDERED]
    right = figures_of(true, page)
    assert right.plain == right.mirrored == right.halved == Counts(4, 0, 0)
    assert right.mirrors and right.halves and right.repeats
    wrong = figures_of([*true[:3], Outline.box(80, 940, 600, 1680)], page)
    assert wrong.plain == wrong.mirrored == wrong.halved == Counts(3, 1, 1)
    assert wrong.mirrors and wrong.halves and wrong.repeats
    assert line("bordered", [right, wrong]).split() == [
        "bordered",
        "2",
        *["0.875"] * 3,
        *["1.000"] * 3,
    ]
