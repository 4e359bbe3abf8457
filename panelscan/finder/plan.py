"""Planning a scene: which pages, which page breaks, which of the artist's grids."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from panelscan.errors import NothingFound
from panelscan.finder.beat_match import match_page
from panelscan.finder.beats import Beat, Scene
from panelscan.finder.fit import FitWeights
from panelscan.finder.page_reasons import clarity_reason, page_gives, page_reasons
from panelscan.finder.plan_candidates import Candidates, choose_candidates
from panelscan.finder.plan_search import Route, find_routes, least_cost_to_go, page_range
from panelscan.finder.plan_types import PagePlan, Plan, PlanOptions, follows_turn, page_side
from panelscan.finder.room import lettering_advice, page_advice
from panelscan.finder.shelf import Shelf

OVER_WORD = 1_000.0  # words that do not fit outweigh every wish: they come first
UNLIKE = 2  # pages in which the next plan shown has to differ at least


def plan_scene(scene: Scene, shelf: Shelf, options: PlanOptions | None = None) -> tuple[Plan, ...]:
    """Lay a scene over pages with grids of the shelf, best plan first.

    Hard rules: beats keep their order; a reveal is the first thing seen after a page turn;
    no page turn parts a beat from the one it is kept with; facing pages have the same
    proportions and line up at top and bottom; a grid does not come back within
    ``options.apart`` pages. Words fit wherever there is a plan in which they do; otherwise
    as few as possible go over, and the plan says which.

    Raises
    ------
    NothingFound
        If no plan keeps the hard rules, saying which rule stands in the way.
    """
    options = options or PlanOptions()
    beats = scene.beats
    if not len(shelf) or not beats:
        raise NothingFound("There is no grid or no beat to plan with.", "Scan pages first.")
    weights = replace(options.weights, over_word=OVER_WORD, over_panel=0.0)
    candidates = choose_candidates(beats, shelf, options, weights)
    go = least_cost_to_go(beats, candidates.least, options)
    routes = find_routes(beats, candidates, options, go) if np.isfinite(go[0, 0]) else []
    if not routes:
        raise _no_plan(beats, candidates, shelf, options, go)
    chosen = _unlike(routes, candidates, options.plans)
    bound = float(go[0, 0])
    return tuple(_told(r, scene, shelf, candidates, options, weights, bound) for r in chosen)


def _unlike(routes: list[Route], candidates: Candidates, count: int) -> list[Route]:
    """The best routes that differ from each other in some pages, not in a hair's breadth."""
    chosen = [routes[0]]
    for route in routes[1:]:
        if len(chosen) == count:
            break
        if all(_differing(route, other, candidates) >= UNLIKE for other in chosen):
            chosen.append(route)
    return chosen


def _differing(a: Route, b: Route, candidates: Candidates) -> int:
    """Pages that differ in their beats or in their grid."""
    differ = abs(len(a.pages) - len(b.pages)) * UNLIKE
    for (s, e, g), (t, f, h) in zip(a.pages, b.pages, strict=False):
        differ += (s, e) != (t, f) or not candidates.same[g, h]
    return differ


def _told(
    route: Route,
    scene: Scene,
    shelf: Shelf,
    candidates: Candidates,
    options: PlanOptions,
    weights: FitWeights,
    bound: float,
) -> Plan:
    """A route as a plan, with reasons and what gives."""
    pages: list[PagePlan] = []
    advice = lettering_advice(scene.beats)
    for k, (start, taken, candidate) in enumerate(route.pages):
        grid = int(candidates.grids[candidate])
        number = options.first_page + k
        cost, placed = match_page(scene.beats[start : start + taken], shelf, grid, weights)
        placed = tuple(
            replace(p, beats=tuple(b + start for b in p.beats), cost=p.cost) for p in placed
        )
        pages.append(
            PagePlan(
                number=number,
                side=page_side(number, bool(shelf.rtl[grid])),
                grid=grid,
                page_id=shelf.pages.id(grid),
                name=shelf.pages.name(grid),
                placements=placed,
                cost=cost,
                reasons=(
                    *_break_reasons(scene.beats, start, number),
                    *page_reasons(scene.beats, placed, shelf, grid),
                    *clarity_reason(float(shelf.clarity[grid])),
                    *_beside_reasons(route, k, candidates, number),
                    *_liking_reason(options.ranking.get(shelf.pages.id(grid), 0.0)),
                ),
                gives=page_gives(scene.beats, placed, shelf, grid, number),
                target=shelf.pages.target(grid),
            )
        )
        advice += page_advice(scene.beats[start : start + taken], f"Page {number}")
    over = sum(_words_over(scene.beats, p, shelf) for p in pages)
    return Plan(tuple(pages), route.cost, bound, over, tuple(advice))


def _words_over(beats: Sequence[Beat], page: PagePlan, shelf: Shelf) -> int:
    first = int(shelf.starts[page.grid])
    return sum(
        max(0, sum(beats[b].words for b in p.beats) - int(shelf.room[first + p.panel]))
        for p in page.placements
    )


def _break_reasons(beats: Sequence[Beat], start: int, number: int) -> list[str]:
    """Why the page begins where it does."""
    reasons = []
    if beats[start].reveal:
        reasons.append(f"Opens with beat {start + 1}, the reveal, after the page turn.")
    if start and beats[start - 1].keep_with_next:
        reasons.append(f"Beat {start + 1} faces beat {start}, with which it is kept.")
    return reasons


def _beside_reasons(route: Route, k: int, candidates: Candidates, number: int) -> list[str]:
    """How the page goes with the one before, and with its own grid's last use."""
    here, reasons = route.pages[k][2], []
    if k and not follows_turn(number):
        cost = candidates.facing[route.pages[k - 1][2], here]
        reasons.append(
            f"Goes with facing page {number - 1}: same proportions, tops and feet line up"
            + ("." if cost == 0 else ", though tier lines nearly meet at the fold.")
        )
    back = [b for b in range(1, k + 1) if candidates.same[route.pages[k - b][2], here]]
    if back:
        reasons.append(f"The same grid was last used {back[0]} pages before.")
    return reasons


def _liking_reason(liking: float) -> list[str]:
    if not liking:
        return []
    return [
        "Moved up by your ratings and past choices."
        if liking < 0
        else "Moved down by your ratings and past choices."
    ]


def _no_plan(
    beats: Sequence[Beat],
    candidates: Candidates,
    shelf: Shelf,
    options: PlanOptions,
    go: np.ndarray,
) -> NothingFound:
    """Say which hard rule stands in the way, by dropping them one at a time."""
    if options.pages is not None and options.pages > len(beats):
        return NothingFound(
            f"{len(beats)} beats cannot fill {options.pages} pages.",
            "Ask for fewer pages, or write more beats.",
        )
    trials: list[tuple[str, str, Callable[[], bool]]] = [
        (
            f"a grid may not come back within {options.apart} pages",
            "Ask for a smaller distance, or give more different grids.",
            lambda: _goes(beats, candidates, replace(options, apart=0), candidates.facing),
        ),
        (
            "facing pages have to go together",
            "Give grids of one page format.",
            lambda: _goes(beats, candidates, options, np.zeros_like(candidates.facing)),
        ),
    ]
    if np.isfinite(go[0, 0]):
        found = [(rule, remedy) for rule, remedy, works in trials if works()]
        if found:
            return NothingFound(
                f"No plan keeps every rule: {', and '.join(rule for rule, _ in found)}.",
                " Or: ".join(remedy for _, remedy in found),
            )
        return NothingFound(
            "No plan keeps every rule: grids that go together on facing pages come back too soon.",
            "Give more different grids of one page format, or a smaller distance.",
        )
    return _unreachable(beats, candidates, shelf, options)


def _goes(
    beats: Sequence[Beat], candidates: Candidates, options: PlanOptions, facing: np.ndarray
) -> bool:
    go = least_cost_to_go(beats, candidates.least, options)
    relaxed = replace(candidates, facing=facing)
    return bool(find_routes(beats, relaxed, replace(options, beam=20), go))


def _unreachable(
    beats: Sequence[Beat], candidates: Candidates, shelf: Shelf, options: PlanOptions
) -> NothingFound:
    """Beats and pages that do not meet, whatever the grids."""
    if beats[0].reveal and not follows_turn(options.first_page):
        where = f" (line {beats[0].line})" if beats[0].line else ""
        return NothingFound(
            f"Beat 1{where} is a reveal after a page turn, but page {options.first_page} does not "
            "follow one.",
            f"Start on page {options.first_page + 1}, or let a beat go before it.",
        )
    fewest, most = page_range(len(beats), options)
    for other in (*range(most + 1, most + 9), *range(fewest - 1, 0, -1)):
        go = least_cost_to_go(beats, candidates.least, replace(options, pages=other))
        if np.isfinite(go[0, 0]):
            return NothingFound(
                f"{len(beats)} beats do not go on {_pages(fewest, most)} with these grids and "
                "page turns.",
                f"With {other} pages there is a plan.",
            )
    free = [replace(b, reveal=False, keep_with_next=False) for b in beats]
    marks = [
        f"beat {n}" + (f" (line {b.line})" if b.line else "")
        for n, b in enumerate(beats, 1)
        if b.reveal or b.keep_with_next
    ]
    free_go = least_cost_to_go(
        free, choose_candidates(free, shelf, options, options.weights).least, options
    )
    if marks and np.isfinite(free_go[0, 0]):
        return NothingFound(
            f"Reveals and kept beats contradict the page turns: {', '.join(marks)}.",
            "Take a mark away, add a beat between two reveals, or start on another page.",
        )
    return NothingFound(
        f"{len(beats)} beats do not go on {_pages(fewest, most)} with these grids.",
        "Ask for more pages, or give grids with more panels.",
    )


def _pages(fewest: int, most: int) -> str:
    if fewest == most:
        return f"{most} page{'s' if most > 1 else ''}"
    return f"{fewest} to {most} pages"
