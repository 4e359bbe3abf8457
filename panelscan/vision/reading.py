"""One reading of a page: its lines, candidates and best sets under one idea of its ground."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from panelscan.model.panel import GroundKind
from panelscan.vision.beneath import framed
from panelscan.vision.candidates import Candidate, divide, large_marks, propose, weigh
from panelscan.vision.conflicts import conflicts
from panelscan.vision.cuts import CutNode, cut_tree
from panelscan.vision.dividers import LineMap
from panelscan.vision.enclosures import enclosed_candidates, with_borders
from panelscan.vision.evidence import EvidenceMaps, evidence_maps, with_lines
from panelscan.vision.flood import flood_from_edge
from panelscan.vision.ground import GroundMap
from panelscan.vision.inset_sides import with_own_sides
from panelscan.vision.insets import enclosed_insets
from panelscan.vision.learned import LearnedMaps
from panelscan.vision.learned_evidence import learned_candidates, with_learned
from panelscan.vision.left_out import BordersLeft, borders_left_out
from panelscan.vision.notches import stepped_back
from panelscan.vision.overlaps import run_on
from panelscan.vision.regions import RegionSettings, guarded_ground
from panelscan.vision.segments import Lines, find_lines
from panelscan.vision.selection import ChosenSet, best_sets
from panelscan.vision.splashes import behind_insets
from panelscan.vision.tilings import no_better_than_parts
from panelscan.vision.twins import distinct, finest
from panelscan.vision.vote_weights import Agreement, agreement, stacked, with_votes
from panelscan.vision.votes import on_lines
from panelscan.vision.working import Working


@dataclass(frozen=True, slots=True)
class ReadingSettings:
    """When thin gutters are looked for apart, and what a splash page gains.

    Parameters
    ----------
    soft_share : float
        Share of the page that ground must gain by counting thin, blurred gutters.
    splash_score : float
        A coloured or black ground that scores less is hardly paper.
    splash_gain : float
        What the whole page as one panel then gains at least, in page lengths.
    """

    soft_share: float = 0.004
    splash_score: float = 1.2
    splash_gain: float = 0.8


@dataclass(frozen=True, eq=False)
class PageReading:
    """A page under one idea of its ground.

    Parameters
    ----------
    ground : GroundMap
    lines : dict of str to Lines
        Straight edges of the ground: ``"open"``, and ``"soft"`` with thin gutters.
    trees : dict of str to CutNode
        The page cut along its gutters, by the same names.
    maps : EvidenceMaps
    candidates : list of Candidate
        Weighed.
    sets : list of ChosenSet
        Best sets of candidates, best first.
    disputed : float
        Share of the net's votes that are for no panel of the best set.
    borders_left : BordersLeft
        Borders that are no panel's of the best set.
    """

    ground: GroundMap
    lines: dict[str, Lines]
    trees: dict[str, CutNode]
    maps: EvidenceMaps
    candidates: list[Candidate]
    sets: list[ChosenSet] = field(default_factory=list)
    disputed: float = 0.0
    borders_left: BordersLeft = field(default_factory=BordersLeft)

    @property
    def chosen(self) -> list[Candidate]:
        """Candidates of the best set."""
        return [self.candidates[k] for k in self.sets[0].chosen]


def read_page(
    work: Working,
    ground: GroundMap,
    learned: LearnedMaps,
    dividing: list[LineMap],
    voted: list[Candidate],
    settings: ReadingSettings | None = None,
) -> PageReading:
    """Candidates and the best sets of them under one idea of the ground.

    Parameters
    ----------
    work : Working
        The page at working size.
    ground : GroundMap
        The idea of the ground.
    learned : LearnedMaps
        What the net says of the page.
    dividing : list of LineMap
        Thin lines that may divide frames.
    voted : list of Candidate
        Frames that the net's votes agree on.
    settings : ReadingSettings or None

    Returns
    -------
    PageReading
    """
    s = settings or ReadingSettings()
    columns, rows = work.size
    page = np.array([[0.0, 0], [columns, 0], [columns, rows], [0, rows]])
    masks = _seen_grounds(ground, s)
    lines = {name: find_lines(mask) for name, mask in masks.items()}
    trees = {name: cut_tree(mask, lines[name], page) for name, mask in masks.items()}
    cuts = [node.cut for tree in trees.values() for node in tree.walk() if node.cut is not None]
    maps = evidence_maps(work, ground, cuts)
    proposed = propose(ground.open, _guarded(ground, work.unit_px), list(trees.values()))
    proposed += learned_candidates(learned, work.size, work.unit_px)
    finer = [on_lines(c.corners, lines["open"], work.unit_px) for c in voted]
    proposed += voted + [Candidate(ring, "lined") for ring in finer if ring is not None]
    every, maps = _weighed(proposed, maps, work, ground, learned, dividing, s)
    agreed = agreement(every, learned.votes, work.unit_px)
    closed = _closed(every, ground)
    every = with_votes(every, agreed, 1000.0 * work.unit_px, closed)
    every = no_better_than_parts(every, agreed, closed)
    kept = distinct(every)
    candidates, agreed = [every[k] for k in kept], agreed.of(kept)
    sets = _best_sets(candidates, agreed, ground, work.unit_px)
    sets = behind_insets(sets, candidates, learned)
    for k in {k for chosen in sets for k in chosen.chosen}:
        candidates[k] = finest(candidates[k], every, work.unit_px)
    best = sets[0].chosen
    panels = with_own_sides([candidates[k] for k in best], dividing, learned, work.unit_px)
    panels = stepped_back(panels, every, work.gray, work.unit_px)
    panels = framed(panels, every, work.gray, work.unit_px)
    panels = run_on(panels, ground.open, work.unit_px)
    for k, panel in zip(best, panels, strict=True):
        candidates[k] = panel
    disputed = agreed.disputed(list(best))
    left = borders_left_out(learned, [candidates[k] for k in best])
    return PageReading(ground, lines, trees, maps, candidates, sets, disputed, left)


def _weighed(
    proposed: list[Candidate], maps: EvidenceMaps, work: Working, ground: GroundMap,
    learned: LearnedMaps, dividing: list[LineMap], s: ReadingSettings,
) -> tuple[list[Candidate], EvidenceMaps]:  # fmt: skip
    """Candidates with all evidence but the votes, parts of divided frames among them."""
    art = 1 - ground.mask
    marks = large_marks(art, work.unit_px)
    candidates = weigh(proposed, maps, art, marks=marks)
    divided = divide(candidates, dividing)
    maps = with_lines(maps, [c.corners for c in divided])
    divided += enclosed_candidates(learned, work.size, work.unit_px)
    candidates += weigh(divided, maps, art, marks=marks)
    candidates = [_as_splash(c, ground, s) for c in with_learned(candidates, learned)]
    return with_borders(candidates, learned), maps


def _best_sets(
    candidates: list[Candidate], agreed: Agreement, ground: GroundMap, unit: float
) -> list[ChosenSet]:
    """Best sets of candidates, each with the insets that only borders show."""
    # A place that borders enclose is a panel by itself only where something else says so.
    gains = np.array([0.0 if c.source == "enclosed" else c.gain for c in candidates])
    clash = conflicts(candidates, ground.open, unit) & ~stacked(candidates, agreed)
    sets = []
    for found in best_sets(gains, clash):
        more = enclosed_insets(candidates, found.chosen, ground.open, unit)
        sets.append(ChosenSet(tuple(sorted((*found.chosen, *more))), found.gain))
    return sets


def _closed(candidates: list[Candidate], ground: GroundMap) -> list[bool]:
    """Which frames are walled all round and hold no open ground: panels without a doubt.

    An empty frame may hold nothing that the net knows.
    """
    closed = []
    for candidate in candidates:
        shaped = len(candidate.corners) > 4 and _share(candidate, ground) <= 0.3
        least = 0.9 if shaped else 0.97
        sure = candidate.source.startswith("region") and candidate.walled >= least
        if sure:
            low = np.maximum(np.floor(candidate.corners.min(axis=0)).astype(int), 0)
            high = np.ceil(candidate.corners.max(axis=0)).astype(int)
            window = ground.open[low[1] : high[1], low[0] : high[0]]
            stencil = np.zeros(window.shape, np.uint8)
            cv2.fillPoly(stencil, [np.round(candidate.corners - low).astype(np.int32)], 1)
            inside = cv2.countNonZero(stencil)
            sure = cv2.countNonZero(cv2.bitwise_and(stencil, window)) <= 0.02 * inside
        closed.append(sure)
    return closed


def _share(candidate: Candidate, ground: GroundMap) -> float:
    """Share of the page that a candidate takes."""
    return cv2.contourArea(candidate.corners.astype(np.float32)) / ground.open.size


def _guarded(ground: GroundMap, unit: float) -> list[tuple[float, np.ndarray]]:
    """Ground open to the page's edge at every leak guard."""
    seen = [(0.0, ground.open)]
    for guard in RegionSettings().guards[1:]:
        seen.append((guard, guarded_ground(ground.mask, max(1, round(guard * unit)))))
    return seen


def _seen_grounds(ground: GroundMap, s: ReadingSettings) -> dict[str, np.ndarray]:
    """Open ground, and the same with thin gutters where those make a difference."""
    seen = {"open": ground.open}
    soft = flood_from_edge(ground.soft)
    more = cv2.countNonZero(soft) - cv2.countNonZero(ground.open)
    if more > s.soft_share * soft.size:
        seen["soft"] = soft
    return seen


def _as_splash(candidate: Candidate, ground: GroundMap, s: ReadingSettings) -> Candidate:
    """Candidate; the whole page gains where the ground's colour is hardly paper.

    A coloured or black ground without straight sides is a splash page's sky or night.
    """
    paper = ground.ground.kind in (GroundKind.WHITE, GroundKind.TINTED)
    if candidate.source != "page" or paper or ground.score >= s.splash_score:
        return candidate
    return replace(candidate, gain=max(candidate.gain, s.splash_gain))
