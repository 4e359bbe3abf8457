"""A plan: a scene laid over pages, with the reason for every choice and what has to give."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from panelscan.finder.beat_match import Placement
from panelscan.finder.fit import FitWeights


@dataclass(frozen=True, slots=True)
class PlanOptions:
    """What a plan has to keep to, and how far it looks.

    Parameters
    ----------
    pages : int or None
        Number of pages; None lets the plan choose by `pace`.
    first_page : int
        Page number on which the scene starts. Even pages come after a page turn: they are
        left-hand pages in a book read from left to right and right-hand pages in one read
        from right to left (common practice, no source).
    pace : float
        Beats a page aimed at where the number of pages is open.
    apart : int
        A grid does not come back within this many pages (0: it may).
    plans : int
        Plans wanted.
    weights : FitWeights
        What each misfit costs.
    ranking : dict of str to float
        Page id to a small cost (below 0: liked) from the artist's ratings and past choices.
    most_grids : int
        Different grids looked at; of more, those liked and read most clearly are kept.
    breadth : int
        Grids kept for each run of beats; more is slower and at best better.
    beam : int
        Histories kept for each page and beat.
    """

    pages: int | None = None
    first_page: int = 1
    pace: float = 5.0
    apart: int = 4
    plans: int = 3
    weights: FitWeights = field(default_factory=FitWeights)
    ranking: dict[str, float] = field(default_factory=dict)
    most_grids: int = 6_000
    breadth: int = 12
    beam: int = 80

    def __post_init__(self) -> None:
        if self.pages is not None and self.pages < 1:
            raise ValueError("a plan needs at least one page")
        if self.first_page < 1 or self.apart < 0 or self.plans < 1 or self.pace < 1:
            raise ValueError("page numbers, pace and plans count from 1")


def follows_turn(page_number: int) -> bool:
    """Whether a page is first seen after a page turn: an even one, in either direction."""
    return page_number % 2 == 0


def page_side(page_number: int, rtl: bool) -> str:
    """``"left"`` or ``"right"``: side of the open book.

    Examples
    --------
    >>> page_side(2, rtl=False), page_side(2, rtl=True)
    ('left', 'right')
    """
    return "left" if follows_turn(page_number) != rtl else "right"


@dataclass(frozen=True, slots=True)
class Give:
    """A wish that this plan cannot keep.

    Parameters
    ----------
    kind : str
        ``"words"``, ``"size"``, ``"shape"``, ``"shared"`` or ``"pause"``.
    text : str
        One sentence for a person.
    page : int
        Page number.
    beat : int or None
        Number of the beat from 1.
    line : int
        Line of the scene file, 0 where there is none.
    """

    kind: str
    text: str
    page: int
    beat: int | None = None
    line: int = 0

    def to_json(self) -> dict[str, Any]:
        """Plain values for a JSON file."""
        return {
            "kind": self.kind,
            "text": self.text,
            "page": self.page,
            "beat": self.beat,
            "line": self.line,
        }


@dataclass(frozen=True, slots=True)
class PagePlan:
    """One page of a plan.

    Parameters
    ----------
    number, side : int, str
        Page number and side of the open book.
    grid : int
        Index of the grid in the shelf.
    page_id, name : str
        Page that the grid was taken from.
    placements : tuple of Placement
        Panels in reading order with the beats in them (indices into the whole scene).
    cost : float
        Misfit of the page by itself.
    reasons : tuple of str
        Why this page break and this grid.
    gives : tuple of Give
        What does not fit.
    target : str
        The page as `panelscan template` wants it.
    """

    number: int
    side: str
    grid: int
    page_id: str
    name: str
    placements: tuple[Placement, ...]
    cost: float
    reasons: tuple[str, ...] = ()
    gives: tuple[Give, ...] = ()
    target: str = ""

    @property
    def beats(self) -> tuple[int, ...]:
        """Beats on the page, indices from 0."""
        return tuple(b for p in self.placements for b in p.beats)

    def to_json(self) -> dict[str, Any]:
        """Plain values for a JSON file; beats and panels count from 1."""
        return {
            "page": self.number,
            "side": self.side,
            "page_id": self.page_id,
            "grid_from": self.name,
            "target": self.target,
            "cost": round(self.cost, 4),
            "panels": [
                {"panel": p.panel + 1, "beats": [b + 1 for b in p.beats], "cost": round(p.cost, 4)}
                for p in self.placements
            ],
            "reasons": list(self.reasons),
            "gives": [g.to_json() for g in self.gives],
        }


@dataclass(frozen=True, slots=True)
class Plan:
    """A scene over pages.

    Parameters
    ----------
    pages : tuple of PagePlan
        In order.
    cost : float
        Misfit of all pages and of how they follow each other; lower is better.
    bound : float
        No plan can cost less than this.
    words_over : int
        Words that find no room.
    advice : tuple of str
        What a letterer would say of the scene itself.
    """

    pages: tuple[PagePlan, ...]
    cost: float
    bound: float
    words_over: int = 0
    advice: tuple[str, ...] = ()

    @property
    def gives(self) -> tuple[Give, ...]:
        """All that does not fit, in page order."""
        return tuple(g for p in self.pages for g in p.gives)

    def to_json(self) -> dict[str, Any]:
        """Plain values for a JSON file."""
        return {
            "cost": round(self.cost, 4),
            "bound": round(self.bound, 4),
            "words_over": self.words_over,
            "advice": list(self.advice),
            "pages": [p.to_json() for p in self.pages],
        }
