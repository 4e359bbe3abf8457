"""Contact sheets as data: one card a page, with its coloured panels and its sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from panelscan.finder.beats import Beat, Scene
from panelscan.finder.colours import PLAIN, beat_colour
from panelscan.finder.hits import Hit, Likeness
from panelscan.finder.plan_types import Plan
from panelscan.finder.query import Answer
from panelscan.model.grid import Grid

Thumbs = Callable[[str], bytes | None]
LONGEST_BEAT = 44


@dataclass(frozen=True)
class CardPanel:
    """A panel as drawn on a card.

    Parameters
    ----------
    points : tuple of (x, y)
        Corners in page-relative units.
    fill : str
        Colour.
    label : str
        Number or numbers written in it.
    """

    points: tuple[tuple[float, float], ...]
    fill: str
    label: str


@dataclass(frozen=True)
class Card:
    """One page on a contact sheet.

    Parameters
    ----------
    title : str
        Name of the page.
    under : str
        A few words under the title.
    aspect : float
        Page width divided by its height.
    panels : tuple of CardPanel
        Back to front.
    reasons, gives : tuple of str
        Sentences.
    legend : tuple of (label, colour, text)
        Beats on the page.
    picture : bytes or None
        The page's own picture, PNG or JPEG.
    joins_next : bool
        The next card is the facing page.
    """

    title: str
    under: str
    aspect: float
    panels: tuple[CardPanel, ...]
    reasons: tuple[str, ...] = ()
    gives: tuple[str, ...] = ()
    legend: tuple[tuple[str, str, str], ...] = ()
    picture: bytes | None = None
    joins_next: bool = False

    def __post_init__(self) -> None:
        # "14 %" is one word where lines are broken.
        for name in ("reasons", "gives"):
            tidy = tuple(s.replace(" %", "\u00a0%") for s in getattr(self, name))
            object.__setattr__(self, name, tidy)

    @property
    def description(self) -> str:
        """What the drawing shows, for those who cannot see it."""
        count = len(self.panels)
        return f"{self.title}: a page of {count} panel{'s' if count != 1 else ''}. {self.under}"


@dataclass(frozen=True)
class CardSheet:
    """A contact sheet: heading, cards, remarks."""

    heading: str
    cards: tuple[Card, ...]
    remarks: tuple[str, ...] = field(default=())


def sheet_of_answer(answer: Answer, thumbs: Thumbs | None = None) -> CardSheet:
    """Cards of an answer; the example asked for comes first, in the same colours.

    Parameters
    ----------
    answer : Answer
    thumbs : callable, optional
        Gives the picture of a page by its id, PNG or JPEG, or None.
    """
    scene, cards = answer.query.scene, []
    if answer.query.like is not None and scene is None:
        cards.append(_asked_card(answer.query.like))
    for place, hit in enumerate(answer.hits, start=1):
        if hit.grid is not None:
            cards.append(_hit_card(place, hit, hit.grid, scene, thumbs))
    count = len(answer.hits)
    heading = f"{count} page{'s' if count != 1 else ''} of {answer.looked_at}"
    remarks = (*answer.notes, *((answer.why_empty,) if answer.why_empty else ()))
    return CardSheet(heading, tuple(cards), remarks)


def sheet_of_plan(
    plan: Plan,
    scene: Scene,
    grid_of: Callable[[int], Grid],
    thumbs: Thumbs | None = None,
    heading: str = "",
) -> CardSheet:
    """Cards of a plan's pages, facing pages side by side.

    Parameters
    ----------
    plan : Plan
    scene : Scene
    grid_of : callable
        Grid of a place in the shelf or index that the plan was made with.
    thumbs, heading
        As for `sheet_of_answer`; heading of the sheet.
    """
    cards: list[Card] = []
    for k, page in enumerate(plan.pages):
        grid = grid_of(page.grid)
        labels = {p.panel: p.beats for p in page.placements}
        cards.append(
            Card(
                title=f"Page {page.number}",
                under=f"{page.side}-hand page; grid of {page.name}",
                aspect=grid.aspect,
                panels=_beat_panels(grid, labels),
                reasons=page.reasons,
                gives=tuple(g.text for g in page.gives),
                legend=_legend(scene.beats, page.beats),
                picture=thumbs(page.page_id) if thumbs else None,
            )
        )
        if k and page.number % 2 == 1:  # faces the page before; the left-hand one comes first
            left, right = cards[-2:] if page.side == "right" else cards[:-3:-1]
            cards[-2:] = [replace(left, joins_next=True), replace(right, joins_next=False)]
    over = f", {plan.words_over} words over" if plan.words_over else ""
    return CardSheet(
        heading or f"{scene.source}: {len(scene)} beats on {len(plan.pages)} pages{over}",
        tuple(cards),
        plan.advice,
    )


def _hit_card(place: int, hit: Hit, grid: Grid, scene: Scene | None, thumbs: Thumbs | None) -> Card:
    if hit.placements and scene is not None:
        beats = tuple(b for p in hit.placements for b in p.beats)
        panels = _beat_panels(grid, {p.panel: p.beats for p in hit.placements})
        legend = _legend(scene.beats, beats)
    else:
        answers = {p.second: p.first for p in hit.pairs}
        panels, legend = _pair_panels(grid, answers), ()
    return Card(
        title=f"{place}. {hit.name}",
        under=_under(hit),
        aspect=grid.aspect,
        panels=panels,
        reasons=hit.reasons,
        gives=tuple(g.text for g in hit.gives),
        legend=legend,
        picture=thumbs(hit.page_id) if thumbs else None,
    )


def _under(hit: Hit) -> str:
    if hit.distance is None:
        return "" if hit.likeness is Likeness.ASKED else str(hit.likeness)
    return f"{hit.likeness}, distance {hit.distance:.3f}"


def _asked_card(grid: Grid) -> Card:
    return Card("Asked for", "", grid.aspect, _pair_panels(grid, {k: k for k in range(len(grid))}))


def _pair_panels(grid: Grid, answers: dict[int, int]) -> tuple[CardPanel, ...]:
    """Panels in the colour of the panel asked for that each answers to."""
    return _drawn(
        grid,
        lambda k: beat_colour(answers[k]) if k in answers else PLAIN,
        lambda k: str(k + 1),
    )


def _beat_panels(grid: Grid, beats: dict[int, tuple[int, ...]]) -> tuple[CardPanel, ...]:
    """Panels in the colour of their (first) beat, labelled with the beats' numbers."""
    return _drawn(
        grid,
        lambda k: beat_colour(beats[k][0]) if beats.get(k) else PLAIN,
        lambda k: "+".join(str(b + 1) for b in beats.get(k, ())) or "–",
    )


def _drawn(
    grid: Grid, fill: Callable[[int], str], label: Callable[[int], str]
) -> tuple[CardPanel, ...]:
    order = sorted(range(len(grid)), key=lambda k: grid.panels[k].depth)
    return tuple(CardPanel(grid.panels[k].outline.points, fill(k), label(k)) for k in order)


def _legend(beats: Sequence[Beat], chosen: tuple[int, ...]) -> tuple[tuple[str, str, str], ...]:
    told = []
    for b in chosen:
        beat = beats[b]
        text = beat.text if len(beat.text) <= LONGEST_BEAT else beat.text[: LONGEST_BEAT - 1] + "…"
        words = f" ({beat.words} word{'s' if beat.words > 1 else ''})" if beat.words else ""
        told.append((str(b + 1), beat_colour(b), text + words))
    return tuple(told)
