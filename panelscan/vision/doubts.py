"""What a person should look at, and which panel lies in which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from panelscan.model.panel import Doubt, Panel, SideState
from panelscan.vision.confidence import CLEAR_GAP
from panelscan.vision.left_out import BordersLeft
from panelscan.vision.selection import ChosenSet
from panelscan.vision.working import Working

UNSURE = 0.6
INSIDE_SHARE = 0.9
MUCH_BORDER = 0.4
"""Of drawn tuning pages three quarters of the wrong ones, a tenth of the right have as much."""


def with_hosts(panels: Sequence[Panel]) -> list[Panel]:
    """Panels with host and depth set where one lies in another.

    A panel that lies to nine tenths in a larger one is inset in it; the smallest such panel
    is its host. Panels laid over one another keep depth by size: the smaller lies in front.
    """
    shapes = [p.outline.shape for p in panels]
    found = []
    for i, panel in enumerate(panels):
        hosts = [
            j
            for j in range(len(panels))
            if j != i
            and shapes[j].area > shapes[i].area
            and shapes[i].intersection(shapes[j]).area >= INSIDE_SHARE * shapes[i].area
        ]
        host = min(hosts, key=lambda j: shapes[j].area) if hosts else None
        found.append(replace(panel, host=host, depth=len(hosts)))
    return found


def border_doubts(left: BordersLeft, work: Working) -> tuple[Doubt, ...]:
    """A doubt where much of a border was seen that is no panel's."""
    if left.middle is None or left.length < MUCH_BORDER:
        return ()
    x, y = work.source_points(np.array([left.middle]))[0]
    return (
        Doubt(
            "border-left-out",
            "Here is what looks like a border, but no panel has it: one may be missing.",
            (float(x), float(y)),
        ),
    )


def page_doubts(
    panels: Sequence[Panel], confidence: float, sets: Sequence[ChosenSet]
) -> tuple[Doubt, ...]:
    """Doubts about a page's panels, in the order of the panels."""
    if not panels:
        return (Doubt("no-panels", "No panels were found on this page."),)
    doubts = []
    for panel in panels:
        place = panel.outline.centroid
        if panel.confidence < UNSURE:
            doubts.append(Doubt("unsure-panel", "The outline of this panel is a guess.", place))
        guessed = sum(s.state is SideState.INFERRED for s in panel.sides)
        if guessed and len(panel.sides) <= 8:
            sides = "one side is" if guessed == 1 else f"{guessed} sides are"
            text = f"No line or edge of tone was seen where {sides} drawn here."
            doubts.append(Doubt("inferred-side", text, place))
    if len(sets) > 1 and sets[0].gain - sets[1].gain < 0.25 * CLEAR_GAP and confidence < UNSURE:
        doubts.append(Doubt("close-second", "Another set of panels is nearly as likely."))
    return tuple(doubts)
