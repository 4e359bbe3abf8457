"""Fit the confidences of panels and pages to drawn tuning pages.

    python scripts/fit_confidence.py --pages 40 --skip 200 --workers 2

Draws the tuning books of every category, finds their panels, and fits two logistic
regressions: a panel is right when its outline and a true one have IoU 0.9, a page is right
when it is page-exact at 0.9. ``--skip`` leaves out so many pages of each category: those
that the detector was tuned on look better than others will. Writes
``panelscan/vision/confidence_fit.py``. With ``--short`` one page a category, and nothing is
written.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from score_page import Task, drawn_tasks

from panelscan.demo.maker import draw_page
from panelscan.demo.recipes import CATEGORIES
from panelscan.model.page import PageImage
from panelscan.vision.confidence import PAGE_FIGURES, PANEL_FIGURES
from panelscan.vision.detector import find_panels
from panelscan.vision.trace import Trace

TARGET = Path(__file__).resolve().parent.parent / "panelscan" / "vision" / "confidence_fit.py"
RIDGE = 1.0


def look(task: Task) -> tuple[np.ndarray, np.ndarray, np.ndarray, bool]:
    """Figures of a page's panels, which of them are right, figures and rightness of the page."""
    drawn = draw_page(task.category, task.seed, hand=task.hand, height_px=task.height_px)
    trace = Trace(frozenset({"final"}))
    rows, columns = drawn.pixels.shape[:2]
    finding = find_panels(PageImage(drawn.pixels, columns, rows), trace=trace)
    kept = trace.evidence("final")
    true = [p.outline for p in drawn.truth.panels]
    table = np.array([[p.outline.iou(t) for t in true] for p in finding.panels])
    table = table.reshape(len(finding.panels), len(true))
    right = table.max(axis=1, initial=0.0) >= 0.9
    matched = (table >= 0.9).any(axis=1).all() and (table >= 0.9).any(axis=0).all()
    exact = bool(matched and len(true) == len(finding.panels))
    return kept["panel_figures"], right, kept["page_figures"], exact


def fit_logistic(figures: np.ndarray, right: np.ndarray, ridge: float = RIDGE) -> np.ndarray:
    """Coefficients of a logistic regression by Newton's method, with a small ridge.

    Examples
    --------
    >>> x = np.array([[1.0, 0], [1, 0], [1, 1], [1, 1]])
    >>> w = fit_logistic(x, np.array([0, 0, 1, 1]), ridge=0.1)
    >>> bool(w[1] > 2)
    True
    """
    weights = np.zeros(figures.shape[1])
    for _ in range(40):
        chance = 1 / (1 + np.exp(-np.clip(figures @ weights, -30, 30)))
        slope = figures.T @ (right - chance) - ridge * weights
        bend = (figures.T * (chance * (1 - chance))) @ figures + ridge * np.eye(len(weights))
        step = np.linalg.solve(bend, slope)
        weights = weights + step
        if np.abs(step).max() < 1e-6:
            break
    return weights


def calibration_error(chance: np.ndarray, right: np.ndarray, bins: int = 15) -> float:
    """Expected calibration error over bins of equal mass (Naeini et al. 2015)."""
    order = np.argsort(chance, kind="stable")
    parts = np.array_split(order, min(bins, len(order)))
    return float(sum(len(p) * abs(chance[p].mean() - right[p].mean()) for p in parts) / len(order))


def with_confidences(page: np.ndarray, panels: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """A page's figures with the newly fitted confidences of its panels."""
    sure = 1 / (1 + np.exp(-(panels @ weights))) if len(panels) else np.zeros(0)
    fresh = page.copy()
    fresh[PAGE_FIGURES.index("least_panel")] = sure.min() if len(sure) else 0.0
    fresh[PAGE_FIGURES.index("mean_panel")] = sure.mean() if len(sure) else 0.0
    fresh[PAGE_FIGURES.index("all_panels")] = np.prod(sure)
    return fresh


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pages", type=int, default=40)
    parser.add_argument("--skip", type=int, default=200)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--short", action="store_true")
    args = parser.parse_args(arguments)
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    pages = 1 if args.short else args.pages
    # Facing pages are split before panels are looked for, so spreads do not take part.
    names = [c for c in CATEGORIES if c != "spread"]
    tasks = [t for c in names for t in drawn_tasks(c, args.skip + pages, False, 1900)[args.skip :]]
    with ProcessPoolExecutor(args.workers) as pool:
        seen = list(pool.map(look, tasks))
    report = fitted(seen)
    if not args.short:
        TARGET.write_text(report, encoding="utf-8")
    return 0


def fitted(seen: list[tuple[np.ndarray, np.ndarray, np.ndarray, bool]]) -> str:
    """Text of the module with the coefficients; prints how well they do."""
    panels = np.concatenate([s[0] for s in seen])
    right = np.concatenate([s[1] for s in seen]).astype(float)
    panel_weights = fit_logistic(panels, right)
    pages = np.stack([with_confidences(s[2], s[0], panel_weights) for s in seen])
    exact = np.array([s[3] for s in seen], dtype=float)
    page_weights = fit_logistic(pages, exact)
    for name, x, w, y in (
        ("panels", panels, panel_weights, right),
        ("pages", pages, page_weights, exact),
    ):
        chance = 1 / (1 + np.exp(-(x @ w)))
        print(f"{name}: {len(y)}, right {y.mean():.3f}, ECE {calibration_error(chance, y):.3f}")
    lines = [
        '"""Fitted coefficients of the confidences; written by `scripts/fit_confidence.py`."""'
    ]
    for name, labels, weights in (
        ("PANEL_WEIGHTS", PANEL_FIGURES, panel_weights),
        ("PAGE_WEIGHTS", PAGE_FIGURES, page_weights),
    ):
        lines += ["", f"{name} = ("]
        lines += [f"    {w:.4f},  # {n}" for n, w in zip(labels, weights, strict=True)]
        lines += [")"]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    raise SystemExit(main())
