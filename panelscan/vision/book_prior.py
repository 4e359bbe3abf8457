"""What the other pages of a book say about this one: ground, gutters, live area.

Pages of one book share their paper, their usual gutter and their live area. A page read
alone is judged without it; doubtful pages are looked at again with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.model.panel import PageFinding

LEAST_PAGES = 3
LIVE_ALIKE, GUTTER_ALIKE = 0.006, 0.004
"""Shares of the page within which pages are taken to agree."""


@dataclass(frozen=True, slots=True)
class BookPrior:
    """Habits of a book, from the pages that were found with good confidence.

    Parameters
    ----------
    ground_rgb : tuple of int or None
        Usual colour between the panels.
    live_share : tuple of (float or None)
        Usual left, top, right and bottom of the outermost panels, in shares of the page
        frame's box; None where the pages do not agree.
    gutter_share : tuple of (float or None)
        Usual gap between panels side by side in shares of the frame's width, and between
        panels one above the other in shares of its height.
    pages : int
        How many pages speak.
    """

    ground_rgb: tuple[int, int, int] | None = None
    live_share: tuple[float | None, ...] = (None, None, None, None)
    gutter_share: tuple[float | None, ...] = (None, None)
    pages: int = 0


def learn_prior(findings: Sequence[PageFinding], least_confidence: float = 0.8) -> BookPrior:
    """Habits of the pages found with confidence.

    Parameters
    ----------
    findings : sequence of PageFinding
        Pages of one book.
    least_confidence : float
        Pages below this do not speak.

    Returns
    -------
    BookPrior
        Without habits (``pages`` 0) when fewer than three pages speak.
    """
    sure = [f for f in findings if f.confidence >= least_confidence and f.panels]
    if len(sure) < LEAST_PAGES:
        return BookPrior()
    ground = np.median([f.ground.rgb for f in sure], axis=0)
    lives = np.array([_live(f) for f in sure])
    gaps = [np.concatenate([_gaps(f)[axis] for f in sure]) for axis in (0, 1)]
    return BookPrior(
        ground_rgb=(int(ground[0]), int(ground[1]), int(ground[2])),
        live_share=tuple(_usual(lives[:, k], LIVE_ALIKE) for k in range(4)),
        gutter_share=tuple(_usual(g, GUTTER_ALIKE) for g in gaps),
        pages=len(sure),
    )


def _usual(values: np.ndarray, alike: float) -> float | None:
    """Median of values of which at least half lie near it; None where they do not."""
    if len(values) < LEAST_PAGES:
        return None
    middle = float(np.median(values))
    return middle if np.mean(np.abs(values - middle) <= alike) >= 0.5 else None


def _gaps(finding: PageFinding) -> tuple[np.ndarray, np.ndarray]:
    """Gaps to the next panel at the right and to the next one below, in shares of the frame."""
    x_min, y_min, x_max, y_max = finding.frame.bounds
    size = np.array([x_max - x_min, y_max - y_min])
    boxes = np.array([p.outline.bounds for p in finding.panels if p.depth == 0]).reshape(-1, 4)
    found: tuple[list[float], list[float]] = ([], [])
    for axis in (0, 1):
        low, high = boxes[:, axis], boxes[:, axis + 2]
        other_low, other_high = boxes[:, 1 - axis], boxes[:, 3 - axis]
        for k in range(len(boxes)):
            beside = np.minimum(other_high, other_high[k]) > np.maximum(other_low, other_low[k])
            ahead = (low - high[k])[beside & (low > low[k] + 0.5 * (high[k] - low[k]))]
            if len(ahead) and ahead.min() > 0:
                found[axis].append(float(ahead.min() / size[axis]))
    return np.array(found[0]), np.array(found[1])


def _live(finding: PageFinding) -> tuple[float, float, float, float]:
    x_min, y_min, x_max, y_max = finding.frame.bounds
    boxes = np.array([p.outline.bounds for p in finding.panels])
    width, height = x_max - x_min, y_max - y_min
    return (
        float((boxes[:, 0].min() - x_min) / width),
        float((boxes[:, 1].min() - y_min) / height),
        float((boxes[:, 2].max() - x_min) / width),
        float((boxes[:, 3].max() - y_min) / height),
    )
