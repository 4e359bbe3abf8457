"""Panels of which another hides a corner, drawn as the frame they have and not as what shows.

What is seen of a panel that lies beneath another is an L, or a frame with a bite taken out.
Its own frame is among the candidates too, but has no border where it is hidden. It is taken
where panels in front cover what the shape lacks, and the shape is no L that steps back from
them (`notches`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from panelscan.vision.candidates import Candidate
from panelscan.vision.notches import NotchSettings, Step, same_box, usual_gutter


@dataclass(frozen=True, slots=True)
class BeneathSettings:
    """When a shape is what others leave of a frame.

    Parameters
    ----------
    least_gain : float
        The frame's gain in shares of the shape's.
    most_bordered : float
        A frame with borders on all sides hides no corner; its shape may be an L.
    slack : float
        Between shape and frame, in thousandths of the page's long side.
    lacking : tuple of float
        Least and most share of the frame that the shape may lack.
    in_front, covered : float
        Share of what is lacking that a panel in front takes at least, and all of them.
    notch : NotchSettings
    """

    least_gain: float = 0.5
    most_bordered: float = 0.9
    slack: float = 2.0
    lacking: tuple[float, float] = (0.05, 0.5)
    in_front: float = 0.3
    covered: float = 0.7
    notch: NotchSettings = field(default_factory=NotchSettings)


def framed(
    panels: Sequence[Candidate],
    candidates: Sequence[Candidate],
    gray: np.ndarray,
    unit: float,
    settings: BeneathSettings | None = None,
) -> list[Candidate]:
    """Panels, those that others lie in front of as their own frame.

    Parameters
    ----------
    panels : sequence of Candidate
        The chosen panels; those of four corners stay.
    candidates : sequence of Candidate
        All that were weighed.
    gray : ndarray of uint8, shape (M, N)
        The page at working size.
    unit : float
        Working pixels in a thousandth of the page's long side.
    settings : BeneathSettings or None

    Returns
    -------
    list of Candidate
        In the same order.
    """
    s = settings or BeneathSettings()
    if all(len(p.corners) == 4 for p in panels):
        return list(panels)
    rings = [p.corners.astype(np.float32) for p in panels]
    gutter = usual_gutter(rings, s.notch.widest_gutter * unit)
    frames = [c for c in candidates if len(c.corners) == 4 and c.bordered < s.most_bordered]
    found = []
    for k, panel in enumerate(panels):
        fits = []
        if len(panel.corners) > 4:
            others = rings[:k] + rings[k + 1 :]
            likely = [c for c in frames if c.gain >= s.least_gain * panel.gain]
            likely = [c for c in likely if same_box(c, panel, s.notch)]
            fits = [c for c in likely if _hidden(panel, c, others, gray, gutter, unit, s)]
        found.append(max(fits, key=lambda c: c.gain, default=panel))
    return found


def _hidden(
    shape: Candidate, frame: Candidate, others: Sequence[np.ndarray], gray: np.ndarray,
    gutter: float, unit: float, s: BeneathSettings,
) -> bool:  # fmt: skip
    """Whether what a shape lacks of its frame lies beneath other panels."""
    whole = shapely.Polygon(frame.corners)
    seen = shapely.Polygon(shape.corners).buffer(s.slack * unit)
    lacking = whole.difference(seen)
    least, most = s.lacking
    if not least * whole.area <= lacking.area <= most * whole.area:
        return False
    fronts = [
        (ring, polygon)
        for ring, polygon in ((ring, shapely.Polygon(ring).buffer(0)) for ring in others)
        if polygon.intersection(lacking).area > s.in_front * lacking.area
    ]
    cover = shapely.union_all([polygon for _, polygon in fronts]).intersection(lacking)
    if not fronts or cover.area <= s.covered * lacking.area:
        return False
    step = Step.of(shape, frame.corners.astype(np.float32), unit, s.notch)
    return not any(step.clears(ring, gray, gutter) for ring, _ in fronts)
