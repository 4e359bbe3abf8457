"""Finding the panels of a page: the named steps in order.

frame -> ground -> segments -> candidates -> selection -> sides -> final. Each step is a pure
function of its own module; this one only hands results on.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import PageFinding, Panel, Reading
from panelscan.vision.book_prior import BookPrior
from panelscan.vision.book_sides import with_habits
from panelscan.vision.bursts import with_bursts
from panelscan.vision.confidence import (
    page_confidence,
    page_figures,
    panel_confidences,
    panel_figures,
    set_shares,
)
from panelscan.vision.deskew import find_skew
from panelscan.vision.dividers import line_maps
from panelscan.vision.doubts import border_doubts, page_doubts, with_hosts
from panelscan.vision.ground import find_ground, inner_ground
from panelscan.vision.learned import learned_maps
from panelscan.vision.left_out import art_left_out
from panelscan.vision.measuring import measure_panels
from panelscan.vision.page_frame import find_page_frame
from panelscan.vision.reading import PageReading, read_page
from panelscan.vision.shared_sides import with_shared_sides
from panelscan.vision.shrinking import halved_page
from panelscan.vision.trace import Trace, keep
from panelscan.vision.votes import voted_candidates
from panelscan.vision.working import Working, working_image

DETECTOR = "panelscan frames 4"
"""Raised when pages are found otherwise than before: pages scanned earlier are then read anew."""
UNDISPUTED = 0.03
"""With so few votes against its panels, a reading of a page is taken at once."""
SKEW_PX = 1000
"""Least long side of the copy on which the skew is looked for, where the panels do not tell."""


def find_panels(
    image: PageImage, prior: BookPrior | None = None, trace: Trace | None = None
) -> PageFinding:
    """Panels of one page.

    Parameters
    ----------
    image : PageImage
        The page, upright.
    prior : BookPrior or None
        What the other pages of the book say.
    trace : Trace or None
        Collects each step's evidence when given.

    Returns
    -------
    PageFinding
        Outlines in source pixels of the upright image.

    Examples
    --------
    >>> pixels = np.full((900, 600), 255, np.uint8)
    >>> for top in (60, 480):
    ...     pixels[top : top + 360, 50:550] = 0
    ...     pixels[top + 4 : top + 356, 54:546] = 200
    >>> finding = find_panels(PageImage(pixels, 600, 900))
    >>> sorted([round(v) for v in p.outline.bounds] for p in finding.panels)
    [[52, 62, 548, 418], [52, 482, 548, 838]]
    """
    found = find_page_frame(image)
    frame = image.to_source(found.outline)
    work = working_image(image, None if found.kind == "whole" else frame)
    keep(trace, "frame", working=work, frame=frame, found=found)
    reading = _best_reading(work, prior)
    ground, sets = reading.ground, reading.sets
    _keep_reading(trace, reading)
    chosen = reading.chosen
    if prior is not None:
        chosen = with_habits(chosen, prior, work.size, work.unit_px)
    keep(trace, "sides", panels=chosen)
    columns, rows = work.size
    figures = panel_figures(chosen, reading.candidates, sets, float(columns * rows))
    sure = panel_confidences(figures)
    measured = with_shared_sides(measure_panels(image, work, chosen, ground.ground), _line_px(work))
    measured = with_bursts(measured, work, ground)
    own_edge = None if found.kind == "whole" else frame
    panels = with_hosts(
        [replace(p, confidence=float(c)) for p, c in zip(measured, sure, strict=True)]
    )
    left_out, left = art_left_out(ground, chosen), reading.borders_left
    page = page_figures(sure, sets, left_out, ground.score, reading.disputed, left.length)
    confidence = page_confidence(page)
    finding = PageFinding(
        frame=frame,
        skew_deg=find_skew(_gray(image), panels, own_edge).angle_deg,
        ground=ground.ground,
        panels=tuple(panels),
        confidence=confidence,
        alternatives=_alternatives(reading, work),
        doubts=(*page_doubts(panels, confidence, sets), *border_doubts(left, work)),
        detector=DETECTOR,
        measures={
            "ground_score": ground.score,
            "art_left_out": left_out,
            "votes_disputed": reading.disputed,
            "borders_left_out": left.length,
        },
    )
    keep(trace, "final", finding=finding, panel_figures=figures, page_figures=page)
    return finding


def _line_px(work: Working) -> float:
    """Sides closer than this, in source pixels, are one line: the heaviest usual border."""
    return 3.0 * work.unit_px * float(np.sqrt(abs(np.linalg.det(work.to_source))))


def _best_reading(work: Working, prior: BookPrior | None) -> PageReading:
    """Reading that explains the page best, over the likely grounds."""
    grounds = find_ground(work, expected_rgb=prior.ground_rgb if prior else None)
    inner = inner_ground(work, grounds[0])
    learned = learned_maps(work.rgb)
    ideas = grounds if inner is None else [*grounds, inner]
    dividing = line_maps(work.gray)
    voted = voted_candidates(learned, work.size, work.unit_px)
    best = read_page(work, ideas[0], learned, dividing, voted)
    for ground in ideas[1:]:
        if best.disputed < UNDISPUTED and len(best.chosen) > 1:
            break  # nothing that another ground could explain better
        other = read_page(work, ground, learned, dividing, voted)
        best = max(best, other, key=lambda r: r.sets[0].gain)
    return best


def _keep_reading(trace: Trace | None, reading: PageReading) -> None:
    if trace is None:
        return
    keep(trace, "ground", map=reading.ground)
    keep(trace, "segments", **{f"lines_{name}": v for name, v in reading.lines.items()})
    keep(trace, "segments", **{f"tree_{name}": v for name, v in reading.trees.items()})
    keep(trace, "candidates", candidates=reading.candidates)
    keep(trace, "selection", sets=reading.sets)


def _gray(image: PageImage) -> np.ndarray:
    """Lightness of a copy that is large enough to tell the page's skew."""
    pixels, _ = halved_page(image, SKEW_PX)
    return pixels if pixels.ndim == 2 else np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))


def _alternatives(reading: PageReading, work: Working) -> tuple[Reading, ...]:
    """Other sets of panels, roughly measured, with their probability among those kept."""
    others = []
    for chosen, share in list(zip(reading.sets, set_shares(reading.sets), strict=True))[1:]:
        rings = [reading.candidates[k].corners for k in chosen.chosen]
        panels = tuple(Panel(Outline.of(work.source_points(r))) for r in rings)
        others.append(Reading(panels, share))
    return tuple(others)
