"""Finding the panels of a page: the named steps in order.

frame -> ground -> segments -> candidates -> selection -> sides -> final. Each step is a pure
function of its own module; this one only hands results on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import GroundKind, PageFinding, Panel, Reading
from panelscan.vision.book_prior import BookPrior
from panelscan.vision.candidates import Candidate, divide, propose, weigh
from panelscan.vision.confidence import (
    page_confidence,
    page_figures,
    panel_confidences,
    panel_figures,
    set_shares,
)
from panelscan.vision.conflicts import conflicts
from panelscan.vision.cuts import cut_tree
from panelscan.vision.deskew import find_skew
from panelscan.vision.dividers import line_maps
from panelscan.vision.doubts import page_doubts, with_hosts
from panelscan.vision.evidence import EvidenceMaps, evidence_maps, with_lines
from panelscan.vision.ground import GroundMap, find_ground, flood_from_edge, inner_ground
from panelscan.vision.learned import LearnedMaps, learned_maps
from panelscan.vision.learned_evidence import learned_candidates, with_learned
from panelscan.vision.measuring import measure_panels
from panelscan.vision.page_frame import find_page_frame
from panelscan.vision.regions import RegionSettings, guarded_ground
from panelscan.vision.segments import Lines, find_lines
from panelscan.vision.selection import ChosenSet, best_sets
from panelscan.vision.settling import settle
from panelscan.vision.trace import Trace, keep
from panelscan.vision.working import Working, working_image

DETECTOR = "panelscan frames 1"
SPLASH_SCORE = 1.2
SOFT_SHARE = 0.004
SPLASH_GAIN = 0.8


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
    """
    found = find_page_frame(image)
    frame = image.to_source(found.outline)
    work = working_image(image, None if found.kind == "whole" else frame)
    keep(trace, "frame", working=work, frame=frame, found=found)
    grounds = find_ground(work, expected_rgb=prior.ground_rgb if prior else None)
    ideas = grounds + [g for g in [inner_ground(work, grounds[0])] if g is not None]
    learned = learned_maps(work.rgb)
    readings = [_read(work, g, learned, trace) for g in ideas]
    best = max(readings, key=lambda r: r.sets[0].gain)
    ground, sets = best.ground, best.sets
    keep(trace, "ground", map=ground)
    keep(trace, "selection", sets=sets)
    chosen = [best.candidates[k] for k in sets[0].chosen]
    chosen = settle(chosen, best.lines, best.maps, 1 - ground.mask)
    keep(trace, "sides", panels=chosen)
    columns, rows = work.size
    figures = panel_figures(chosen, best.candidates, sets, float(columns * rows))
    sure = panel_confidences(figures)
    measured = measure_panels(image, work, chosen)
    panels = with_hosts(
        [replace(p, confidence=float(c)) for p, c in zip(measured, sure, strict=True)]
    )
    page = page_figures(sure, sets, _left_out(ground, chosen), ground.score)
    keep(trace, "final", panels=panels, panel_figures=figures, page_figures=page)
    confidence = page_confidence(page)
    skew = find_skew(_gray(image), panels)
    return PageFinding(
        frame=frame,
        skew_deg=skew.angle_deg,
        ground=ground.ground,
        panels=tuple(panels),
        confidence=confidence,
        alternatives=_alternatives(best, work),
        doubts=page_doubts(panels, confidence, sets),
        detector=DETECTOR,
        measures={"ground_score": ground.score, "art_left_out": float(page[3]) / 4},
    )


def _as_splash(candidate: Candidate, ground: GroundMap) -> Candidate:
    """The whole page as a panel gains where the ground's colour is hardly paper.

    A coloured or black ground without straight sides is a splash page's sky or night.
    """
    paper = ground.ground.kind in (GroundKind.WHITE, GroundKind.TINTED)
    if candidate.source != "page" or paper or ground.score >= SPLASH_SCORE:
        return candidate
    return replace(candidate, gain=max(candidate.gain, SPLASH_GAIN))


def _gray(image: PageImage) -> np.ndarray:
    if image.pixels.ndim == 2:
        return image.pixels
    return np.asarray(cv2.cvtColor(image.pixels, cv2.COLOR_RGB2GRAY))


def _left_out(ground: GroundMap, chosen: list[Candidate]) -> float:
    """Share of the art that lies in no panel."""
    art = 1 - ground.mask
    total = cv2.countNonZero(art)
    rings = [np.round(c.corners).astype(np.int32) for c in chosen]
    for ring in rings:
        cv2.fillPoly(art, [ring], 0)
    return cv2.countNonZero(art) / total if total else 0.0


def _alternatives(reading: _PageReading, work: Working) -> tuple[Reading, ...]:
    """Other sets of panels, roughly measured, with their probability among those kept."""
    others = []
    for chosen, share in list(zip(reading.sets, set_shares(reading.sets), strict=True))[1:]:
        rings = [reading.candidates[k].corners for k in chosen.chosen]
        panels = tuple(Panel(Outline.of(work.source_points(r))) for r in rings)
        others.append(Reading(panels, share))
    return tuple(others)


@dataclass(frozen=True, eq=False)
class _PageReading:
    """A page under one idea of its ground."""

    ground: GroundMap
    lines: Lines
    maps: EvidenceMaps
    candidates: list[Candidate]
    sets: list[ChosenSet]


def _seen_grounds(ground: GroundMap) -> list[tuple[str, np.ndarray]]:
    """Open ground, and the same with thin gutters where those make a difference."""
    soft = flood_from_edge(ground.soft)
    more = cv2.countNonZero(soft) - cv2.countNonZero(ground.open)
    seen = [("open", ground.open)]
    return [*seen, ("soft", soft)] if more > SOFT_SHARE * soft.size else seen


def _read(
    work: Working, ground: GroundMap, learned: LearnedMaps, trace: Trace | None
) -> _PageReading:
    """Candidates and the best sets of them under one idea of the ground."""
    columns, rows = work.size
    page = np.array([[0.0, 0], [columns, 0], [columns, rows], [0, rows]])
    guarded = [(0.0, ground.open)]
    for guard in RegionSettings().guards[1:]:
        guarded.append((guard, guarded_ground(ground.mask, max(1, round(guard * work.unit_px)))))
    trees, lines = [], []
    for name, mask in _seen_grounds(ground):
        lines.append(find_lines(mask))
        trees.append(cut_tree(mask, lines[-1], page))
        keep(trace, "segments", **{f"lines_{name}": lines[-1], f"tree_{name}": trees[-1]})
    cuts = [node.cut for tree in trees for node in tree.walk() if node.cut is not None]
    maps = evidence_maps(work, ground, cuts)
    art = 1 - ground.mask
    proposed = propose(ground.open, guarded, trees)
    proposed += learned_candidates(learned, work.size, work.unit_px)
    candidates = weigh(proposed, maps, art)
    divided = divide(candidates, line_maps(work.gray))
    maps = with_lines(maps, [c.corners for c in divided])
    candidates += weigh(divided, maps, art)
    candidates = with_learned(candidates, learned)
    candidates = [_as_splash(c, ground) for c in candidates]
    keep(trace, "candidates", candidates=candidates)
    gains = np.array([c.gain for c in candidates])
    return _PageReading(
        ground,
        lines[0],
        maps,
        candidates,
        best_sets(gains, conflicts(candidates, ground.open, work.unit_px)),
    )
