"""What the other pages of a book say about this one: ground, gutters, live area.

Pages of one book share their paper, their usual gutter and their live area. A page read
alone is judged without it; doubtful pages are looked at again with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.model.panel import PageFinding


@dataclass(frozen=True, slots=True)
class BookPrior:
    """Habits of a book, from the pages that were found with good confidence.

    Parameters
    ----------
    ground_rgb : tuple of int or None
        Usual colour between the panels.
    live_share : tuple of float or None
        Usual left, top, right and bottom of the outermost panels, in shares of the page
        frame's box.
    pages : int
        How many pages speak.
    """

    ground_rgb: tuple[int, int, int] | None = None
    live_share: tuple[float, float, float, float] | None = None
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
    if len(sure) < 3:
        return BookPrior()
    ground = np.median([f.ground.rgb for f in sure], axis=0)
    lives = np.array([_live(f) for f in sure])
    live = np.median(lives, axis=0)
    return BookPrior(
        ground_rgb=(int(ground[0]), int(ground[1]), int(ground[2])),
        live_share=(float(live[0]), float(live[1]), float(live[2]), float(live[3])),
        pages=len(sure),
    )


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
