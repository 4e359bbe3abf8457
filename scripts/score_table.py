"""Figures of many scored pages as a table for people and as JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from score_page import THRESHOLDS, PageScore

from panelscan.layout.score_figures import (
    bootstrap_interval,
    calibration_error,
    deskew_errors,
    right_at_coverage,
    wilson_interval,
)

TARGETS = {
    "grid": (0.995, 0.98), "slanted": (0.98, 0.95), "hand-drawn": (0.97, 0.92),
    "borderless": (0.90, 0.80), "open": (0.85, 0.70), "bleed": (0.975, 0.95),
    "ground": (0.97, 0.93), "inset": (0.955, 0.90), "burst": (0.965, 0.92),
    "gutter": (0.96, 0.90), "shaped": (0.95, 0.88), "scan": (0.965, 0.92),
    "low-resolution": (0.95, 0.88), "one-bit": (0.965, 0.92), "mixed": (0.94, 0.85),
}  # fmt: skip
"""F1 and page-exact at IoU 0.9 that we aim at, by category."""


COUNTED = (
    "splits", "merges", "misses", "false_detections", "corner_count_wrong", "corner_count_asked",
)  # fmt: skip


def f1_of(counts: np.ndarray) -> float:
    """F1 of summed (hits, extra, missed)."""
    total = 2 * counts[0] + counts[1] + counts[2]
    return float(2 * counts[0] / total) if total else math.nan


def figures(pages: Sequence[PageScore]) -> dict[str, Any]:
    """Figures of a set of pages; shares as numbers from 0 to 1."""
    books = [p.book for p in pages]
    result: dict[str, Any] = {"pages": len(pages), "books": len(set(books))}
    for t in THRESHOLDS:
        counts = np.array([p.counts[str(t)] for p in pages], dtype=float)
        result[f"f1@{t}"] = f1_of(counts.sum(axis=0))
        exact = sum(p.exact[str(t)] for p in pages)
        result[f"exact@{t}"] = exact / len(pages)
        if t == 0.9:
            result["f1@0.9 interval"] = bootstrap_interval(books, counts, f1_of)
            result["exact@0.9 interval"] = wilson_interval(exact, len(pages))
    orders = [p.order for p in pages if p.order is not None]
    for key in ("exact", "tau", "pairs", "links"):
        result[f"order {key}"] = _mean([o[key] for o in orders])
    result["quality"] = _mean([p.quality for p in pages])
    for key in (
        "splits",
        "merges",
        "misses",
        "false_detections",
        "corner_count_wrong",
        "corner_count_asked",
    ):
        result[key] = sum(getattr(p, key) for p in pages)
    corners = [e for p in pages for e in p.corners_px]
    result["corner median px"], result["corner p95 px"] = _percentiles(corners)
    result["outline p95 px"] = _percentiles([e for p in pages for e in p.outline_px])[1]
    result["bleed f1"] = f1_of(np.array([p.bleed for p in pages], dtype=float).sum(axis=0))
    result["lettering f1"] = f1_of(np.array([p.lettering for p in pages], dtype=float).sum(axis=0))
    room = [e for p in pages for e in p.room]
    result["room median"], result["room p90"] = _percentiles(room, 90)
    result["seconds"] = _mean([p.seconds for p in pages])
    result["errors"] = sum(bool(p.error) for p in pages)
    return result


def overall(pages: Sequence[PageScore]) -> dict[str, Any]:
    """Figures that need all pages: confidence, deskew, frames, spreads, lettering."""
    panels = [c for p in pages for c in p.panel_confidence]
    skews = [p.skew for p in pages if p.skew is not None]
    deskew = deskew_errors([s[0] for s in skews], [s[1] for s in skews])
    turned = [s for s in skews if abs(s[0]) > 1e-9]
    of_turned = deskew_errors([s[0] for s in turned], [s[1] for s in turned])
    facing = [p.spread for p in pages if p.spread.startswith("facing")]
    double = [p.spread for p in pages if p.spread.startswith("double")]
    single = [p for p in pages if not p.spread or p.spread.startswith("single")]
    confident = [p.confidence for p in pages]
    room = [e for p in pages for e in p.room]
    return {
        "panel ECE": calibration_error([c for c, _ in panels], [r for _, r in panels]),
        "page ECE": calibration_error(confident, [p.exact["0.9"] for p in pages]),
        "page-exact@0.75 of the 90 % surest": right_at_coverage(
            confident, [p.exact["0.75"] for p in pages], 0.9
        ),
        "deskew": {
            "AED": deskew.aed,
            "TOP80": deskew.top80,
            "CE": deskew.ce,
            "worst": deskew.worst,
        },
        "deskew of turned pages": {
            "AED": of_turned.aed,
            "CE": of_turned.ce,
            "worst": of_turned.worst,
        },
        "page frame Jaccard": _mean([p.frame_iou for p in pages if p.frame_iou is not None]),
        "facing pages parted right": _mean([s == "facing:parted" for s in facing]),
        "double pages wrongly cut": _mean([s == "double:parted" for s in double]),
        "single pages wrongly cut": _mean([p.spread == "single:parted" for p in single]),
        "direction of books inferred right": _mean(list(_directions(pages).values())),
        "gutter error median px": _percentiles([e for p in pages for e in p.gutter_px])[0],
        "gutter error p95 px": _percentiles([e for p in pages for e in p.gutter_px])[1],
        "lettering F1": f1_of(np.array([p.lettering for p in pages], dtype=float).sum(axis=0)),
        "room error median, share of panel height": _percentiles(room, 90)[0],
        "room error p90, share of panel height": _percentiles(room, 90)[1],
    }


def burst_figures(pages: Sequence[PageScore]) -> dict[str, Any]:
    """Figures of bursts by area: F1 and recall where there are true ones, and false ones."""
    counts = np.array([p.burst for p in pages], dtype=float).sum(axis=0)
    wrong, without = np.array([p.burst_false for p in pages], dtype=float).sum(axis=0)
    true = counts[0] + counts[2]
    return {
        "pages with bursts": sum(p.burst[0] + p.burst[2] > 0 for p in pages),
        "f1": f1_of(counts),
        "recall": float(counts[0] / true) if true else math.nan,
        "panels wrongly with one": float(wrong / without) if without else math.nan,
    }


def burst_line(name: str, pages: Sequence[PageScore]) -> str:
    """The figures of bursts on one line."""
    f = burst_figures(pages)
    return (
        f"bursts, {name}: F1 {f['f1']:.3f}, recall {f['recall']:.3f} by area on "
        f"{f['pages with bursts']} pages with bursts; of the panels without any, "
        f"{f['panels wrongly with one']:.4f} by area got one"
    )


def _directions(pages: Sequence[PageScore]) -> dict[str, bool]:
    """Whether each book's direction was inferred right."""
    return {p.book: p.direction[0] == p.direction[1] for p in pages if p.direction}


def table(groups: dict[str, Sequence[PageScore]], title: str) -> str:
    """Text table, one row per group of pages."""
    head = (
        f"{title:<18}{'pages':>6} {'F1@.5':>6} {'@.75':>6} {'@.9':>6} {'95 % interval':>14}"
        f" {'@.95':>6} {'exact@.9':>8} {'95 % interval':>14} {'target':>10} {'order':>6} {'tau':>6}"
        f" {'corner':>6} {'p95':>6} {'merge':>5} {'split':>5} {'miss':>5} {'false':>5}"
        f" {'letter':>6} {'room':>5} {'p90':>5} {'s':>6}"
    )
    lines = [head, "-" * len(head)]
    for name, pages in groups.items():
        if pages:
            lines.append(_row(name, figures(pages)))
    return "\n".join(lines)


def _row(name: str, f: dict[str, Any]) -> str:
    goal = TARGETS.get(name)
    aim = "" if goal is None else f"{_short(goal[0])}/{_short(goal[1])}"
    met = goal is not None and f["f1@0.9"] >= goal[0] and f["exact@0.9"] >= goal[1]
    low, high = f["f1@0.9 interval"]
    exact_low, exact_high = f["exact@0.9 interval"]
    return (
        f"{name:<18}{f['pages']:>6} {f['f1@0.5']:>6.3f} {f['f1@0.75']:>6.3f} {f['f1@0.9']:>6.3f}"
        f" {low:>6.3f} - {high:.3f} {f['f1@0.95']:>5.3f} {f['exact@0.9']:>8.3f}"
        f" {exact_low:>6.3f} - {exact_high:.3f} {aim:>9}{'+' if met else ' '}"
        f" {f['order exact']:>6.3f} {f['order tau']:>6.3f}"
        f" {f['corner median px']:>6.2f} {f['corner p95 px']:>6.2f}"
        f" {f['merges']:>5} {f['splits']:>5} {f['misses']:>5} {f['false_detections']:>5}"
        f" {f['lettering f1']:>6.3f} {f['room median']:>5.3f} {f['room p90']:>5.3f}"
        f" {f['seconds']:>6.2f}"
    )


def overall_lines(values: dict[str, Any]) -> str:
    """The overall figures, one to a line."""
    lines = []
    for key, value in values.items():
        if isinstance(value, dict):
            shown = ", ".join(f"{k} {v:.3f}" for k, v in value.items())
        else:
            shown = f"{value:.4f}"
        lines.append(f"{key}: {shown}")
    return "\n".join(lines)


def grouped(
    pages: Sequence[PageScore], key: Callable[[PageScore], str]
) -> dict[str, Sequence[PageScore]]:
    """Pages by a key, in order of first appearance."""
    groups: dict[str, list[PageScore]] = {}
    for p in pages:
        groups.setdefault(key(p), []).append(p)
    return dict(groups)


def _short(share: float) -> str:
    return f"{share:g}".removeprefix("0")


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values)) if len(values) else math.nan


def _percentiles(values: Sequence[float], high: float = 95.0) -> tuple[float, float]:
    if not len(values):
        return math.nan, math.nan
    return float(np.median(values)), float(np.percentile(values, high))
