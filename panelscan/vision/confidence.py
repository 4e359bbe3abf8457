"""How sure the finding is: probability that a panel, and that a page, is right.

Logistic regression (Cox 1958) on a few plain figures of the evidence. The coefficients come
from `scripts/fit_confidence.py`, which fits them to drawn tuning pages; they are no law.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from panelscan.vision.candidates import Candidate
from panelscan.vision.confidence_fit import PAGE_WEIGHTS, PANEL_WEIGHTS
from panelscan.vision.selection import ChosenSet

PANEL_FIGURES = (
    "one", "least_side", "mean_side", "blocked", "stable", "divided", "round", "open", "small",
    "voted", "agreed",
)  # fmt: skip
PAGE_FIGURES = (
    "one", "least_panel", "mean_panel", "left_out", "gap", "ground", "many", "none",
    "disputed", "all_panels", "borders_left",
)  # fmt: skip

# Gains of two sets that differ by this much (page lengths) are clearly apart.
CLEAR_GAP = 0.08
NOTHING_FOUND = 0.05


def panel_figures(
    panels: Sequence[Candidate],
    candidates: Sequence[Candidate],
    sets: Sequence[ChosenSet],
    page_area: float,
) -> np.ndarray:
    """Figures of each chosen panel, float64 of shape (K, 11), named in `PANEL_FIGURES`.

    Parameters
    ----------
    panels : sequence of Candidate
        The chosen panels.
    candidates : sequence of Candidate
        All candidates that the sets index.
    sets : sequence of ChosenSet
        Best sets, best first; the panels are those of the first.
    page_area : float
        In squared working pixels.
    """
    share = set_shares(sets)
    rows = []
    for k, panel in zip(sets[0].chosen, panels, strict=True):
        held = [min(1.0, e.wall + e.bleed + 0.6 * e.shared) for e in panel.sides]
        length = np.array([e.length for e in panel.sides])
        blocked = np.array([e.blocked for e in panel.sides])
        free = np.array([e.open for e in panel.sides])
        total = max(float(length.sum()), 1e-9)
        stable = sum(p for p, s in zip(share, sets, strict=True) if _holds(candidates, s, k))
        x, y = panel.corners.T
        area = abs(float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())) / 2
        rows.append(
            [
                1.0,
                min(held) if len(held) <= 8 else float(np.mean(held)),
                float(length @ np.array(held)) / total,
                float(length @ blocked) / total,
                stable,
                float(panel.source == "divided"),
                float(len(held) > 8),
                float(length @ free) / total,
                math.exp(-40.0 * area / page_area),
                panel.voted,
                float(panel.voted > 0.3),
            ]
        )
    return np.array(rows).reshape(-1, len(PANEL_FIGURES))


def set_shares(sets: Sequence[ChosenSet]) -> list[float]:
    """How likely each of the best sets is beside the others; sums to 1.

    Examples
    --------
    >>> [round(p, 2) for p in set_shares([ChosenSet((0,), 2.0), ChosenSet((1,), 2.0)])]
    [0.5, 0.5]
    """
    weights = [math.exp((s.gain - sets[0].gain) / CLEAR_GAP) for s in sets]
    return [w / sum(weights) for w in weights]


def _holds(candidates: Sequence[Candidate], chosen: ChosenSet, k: int) -> bool:
    """Whether a set holds candidate k or one nearly the same."""
    if k in chosen.chosen:
        return True
    low, high = candidates[k].corners.min(axis=0), candidates[k].corners.max(axis=0)
    near = 0.03 * float((high - low).max())
    return any(
        np.abs(candidates[j].corners.min(axis=0) - low).max() < near
        and np.abs(candidates[j].corners.max(axis=0) - high).max() < near
        for j in chosen.chosen
    )


def panel_confidences(figures: np.ndarray) -> np.ndarray:
    """Probability of each panel that its outline is right (IoU at least 0.9)."""
    return _logistic(figures @ np.array(PANEL_WEIGHTS)) if len(figures) else np.zeros(0)


def page_figures(
    confidences: np.ndarray,
    sets: Sequence[ChosenSet],
    left_out: float,
    ground_score: float,
    disputed: float = 0.0,
    borders_left: float = 0.0,
) -> np.ndarray:
    """Figures of the page, float64 of shape (11,), named in `PAGE_FIGURES`.

    Parameters
    ----------
    confidences : ndarray
        Of its panels.
    sets : sequence of ChosenSet
    left_out : float
        Share of the page's art that lies in no panel.
    ground_score : float
        How much spoke for the ground's colour.
    disputed : float
        Share of the net's votes that are for none of the panels.
    borders_left : float
        Borders that are no panel's: map pixels in shares of the page's long side.
    """
    least = float(confidences.min()) if len(confidences) else 0.0
    mean = float(confidences.mean()) if len(confidences) else 0.0
    gap = sets[0].gain - sets[1].gain if len(sets) > 1 else 1.0
    return np.array(
        [
            1.0,
            least,
            mean,
            min(1.0, 4 * left_out),
            min(1.0, gap / CLEAR_GAP),
            min(1.0, ground_score / 2.5),
            math.log1p(len(confidences)) / 2,
            float(len(confidences) == 0),
            min(1.0, 3 * disputed),
            float(np.prod(confidences)),
            math.log1p(20.0 * borders_left),
        ]
    )


def page_confidence(figures: np.ndarray) -> float:
    """Probability that the page is right as a whole.

    A page without panels is seldom right: most pages have some.
    """
    if figures[PAGE_FIGURES.index("none")]:
        return NOTHING_FOUND
    return float(_logistic(figures @ np.array(PAGE_WEIGHTS)))


def _logistic(z: np.ndarray) -> np.ndarray:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(z, -30, 30))))
