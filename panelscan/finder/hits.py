"""What finding gives back: pages in order of merit, each with its reasons."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from panelscan.finder.beat_match import Placement
from panelscan.finder.plan_types import Give
from panelscan.layout.distance import PanelPair
from panelscan.model.grid import Grid


class Likeness(StrEnum):
    """How a found grid stands to the one asked for."""

    SAME = "same grid"
    NEAR = "near grid"
    ONE_OFF = "one panel off"
    MIRROR = "mirror image"
    FAR = "other grid"
    ASKED = "as asked"


@dataclass(frozen=True, slots=True)
class Hit:
    """A page that was found.

    Parameters
    ----------
    page : int
        Place in the index.
    page_id, name : str
        Identity of the page, and how people call it.
    score : float
        Order of merit, lower is better: the distance or the cost, moved by the artist's
        ratings and choices.
    likeness : Likeness
        How the grid stands to the one asked for.
    distance : float or None
        Distance of the grids, 0 the same; of the mirror image where that is nearer.
    pairs : tuple of PanelPair
        Panels that answer each other: of the grid asked for, and of this page.
    placements : tuple of Placement
        Panels with their beats, where a scene was given.
    reasons : tuple of str
        Why it is here, in sentences.
    gives : tuple of Give
        What does not fit.
    moved : float
        How far ratings and past choices moved the score.
    grid : Grid or None
        The page's grid, where the answer is to be drawn.
    target : str
        The page as `panelscan template` wants it.
    """

    page: int
    page_id: str
    name: str
    score: float
    likeness: Likeness = Likeness.ASKED
    distance: float | None = None
    pairs: tuple[PanelPair, ...] = ()
    placements: tuple[Placement, ...] = ()
    reasons: tuple[str, ...] = ()
    gives: tuple[Give, ...] = ()
    moved: float = 0.0
    grid: Grid | None = None
    target: str = ""

    def to_json(self) -> dict[str, Any]:
        """Plain values for a JSON file; panels and beats count from 1."""
        return {
            "page_id": self.page_id,
            "name": self.name,
            "target": self.target,
            "score": round(self.score, 5),
            "likeness": str(self.likeness),
            "distance": None if self.distance is None else round(self.distance, 5),
            "moved": round(self.moved, 5),
            "pairs": [
                {"asked": p.first + 1, "found": p.second + 1, "cost": round(p.cost, 5)}
                for p in self.pairs
            ],
            "panels": [
                {"panel": p.panel + 1, "beats": [b + 1 for b in p.beats]} for p in self.placements
            ],
            "reasons": list(self.reasons),
            "gives": [g.to_json() for g in self.gives],
        }
