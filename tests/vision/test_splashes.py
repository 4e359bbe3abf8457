"""Panels and whole pages behind others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelscan.demo.hands import TUNING_HANDS
from panelscan.demo.maker import PAGES_PER_BOOK, draw_page
from panelscan.layout.agreement import iou_table, page_exact
from panelscan.model.page import PageImage
from panelscan.vision.candidates import Candidate
from panelscan.vision.detector import find_panels
from panelscan.vision.evidence import SideEvidence
from panelscan.vision.learned import LearnedMaps, Votes
from panelscan.vision.selection import ChosenSet
from panelscan.vision.splashes import behind_insets, with_hosts_behind, with_splash

SHAPE, SCALE = (384, 256), 0.5
PAGE, INSET, LARGE = (0, 0, 512, 768), (40, 60, 300, 260), (20, 20, 490, 600)


def frame(bounds: tuple[int, ...], gain: float = 1.0, bordered: float = 1.0) -> Candidate:
    x0, y0, x1, y1 = bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
    return Candidate(corners, "net", gain=gain, bordered=bordered)


def maps_of(margin: int) -> LearnedMaps:
    """Maps in which all but a margin is a panel's inside."""
    inside = np.full(SHAPE, -4.0, np.float32)
    inside[margin : SHAPE[0] - margin, margin : SHAPE[1] - margin] = 4.0
    none = np.zeros((0, 2), np.float32)
    votes = Votes(none, np.zeros((0, 8)), np.zeros((0, 8)), np.zeros((0, 4, 2)), 16.0)
    return LearnedMaps(np.full(SHAPE, -4, np.float32), -inside, inside, SCALE, votes)


def splash_of(candidates: list[Candidate], margin: int) -> ChosenSet:
    chosen = ChosenSet(tuple(range(1, len(candidates))), 3.0)
    return with_splash(chosen, candidates, maps_of(margin))


def test_a_picture_up_to_the_pages_edges_is_a_panel_behind_its_insets() -> None:
    found = splash_of([frame(PAGE), frame(INSET)], margin=0)
    assert found.chosen == (0, 1)
    assert found.gain == 4.0


def test_panels_on_paper_have_none_behind_them() -> None:
    assert splash_of([frame(PAGE), frame(INSET)], margin=24).chosen == (1,)


@pytest.mark.parametrize("page", [frame(PAGE, gain=0.2), frame(LARGE)])
def test_a_page_that_nothing_speaks_for_is_no_panel(page: Candidate) -> None:
    assert splash_of([page, frame(INSET)], margin=0).chosen == (1,)


def test_what_covers_most_of_the_page_is_not_inset_in_it() -> None:
    assert splash_of([frame(PAGE), frame(LARGE)], margin=0).chosen == (1,)


def test_patches_without_a_border_are_parts_of_the_picture() -> None:
    patch = frame((350, 500, 420, 600), gain=0.5, bordered=0.1)
    found = splash_of([frame(PAGE), frame(INSET), patch], margin=0)
    assert found.chosen == (0, 1)
    assert found.gain == 3.5


HOST = (20, 20, 490, 300)


def hosted(*panels: Candidate, margin: int = 0, walled: float = 0.8) -> tuple[int, ...]:
    """What is chosen of a host that was left out and panels that were not."""
    walls = (SideEvidence(walled, 0.0, 0.0, 0.0, 0.0, 100.0, 0.0),) * 4
    host = replace(frame(HOST, gain=1.5), sides=walls)
    chosen = ChosenSet(tuple(range(1, len(panels) + 1)), 3.0)
    return with_hosts_behind(chosen, [host, *panels], maps_of(margin)).chosen


def test_a_frame_behind_its_insets_is_a_panel_too() -> None:
    assert hosted(frame(INSET)) == (0, 1)
    # One may stick out of it, and others lie beside it.
    assert hosted(frame((440, 60, 511, 160)), frame((20, 310, 490, 500))) == (0, 1, 2)


@pytest.mark.parametrize(
    "panels",
    [
        [(20, 20, 250, 300), (260, 20, 490, 300)],  # its parts
        [(10, 10, 500, 700)],  # a panel that it lies in itself
        [(20, 180, 490, 500)],  # one that crosses its side
        [(500, 20, 511, 300)],  # nothing lies on it
    ],
)
def test_a_frame_that_others_divide_or_cross_is_none(panels: list[tuple[int, ...]]) -> None:
    assert 0 not in hosted(*[frame(p) for p in panels])


def test_a_frame_of_paper_or_without_walls_is_none() -> None:
    assert hosted(frame(INSET), margin=120) == (1,)
    assert hosted(frame(INSET), walled=0.4) == (1,)


def test_sets_that_become_one_are_told_once_and_the_best_comes_first() -> None:
    patch = frame((350, 500, 420, 600), gain=0.5, bordered=0.1)
    lone = frame((300, 300, 500, 500), gain=4.2)
    candidates = [frame(PAGE), frame(INSET), patch, lone, frame(LARGE, gain=3.1)]
    sets = [ChosenSet((4,), 3.1), ChosenSet((1, 2), 1.5), ChosenSet((1,), 1.0)]
    found = behind_insets(sets, candidates, maps_of(0))
    assert [s.chosen for s in found] == [(4,), (0, 1)]
    found = behind_insets([*sets, ChosenSet((3,), 4.2)], candidates, maps_of(0))
    assert (found[0].chosen, found[0].gain) == ((0, 3), 5.2)


@pytest.mark.parametrize(("category", "seed"), [("bleed", 4845), ("bleed", 4846), ("inset", 4826)])
def test_a_drawn_page_with_a_panel_behind_insets(category: str, seed: int) -> None:
    # What lies behind the insets was lost. Drawn by the page maker, no outside source.
    hands = list(TUNING_HANDS)
    drawn = draw_page(category, seed, hand=hands[(seed // PAGES_PER_BOOK) % len(hands)])
    image = PageImage(drawn.pixels, drawn.pixels.shape[1], drawn.pixels.shape[0])
    overlaps = iou_table(
        [p.outline for p in drawn.truth.panels], [p.outline for p in find_panels(image).panels]
    )
    assert page_exact(overlaps, 0.9)
