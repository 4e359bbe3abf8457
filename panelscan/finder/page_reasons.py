"""Why a page carries its beats, and what has to give, in sentences for the artist."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from panelscan.finder.beat_match import Placement
from panelscan.finder.beats import Beat, Shape, Weight
from panelscan.finder.fit import TALL_UP_TO, WIDE_FROM, fit_terms
from panelscan.finder.plan_types import Give
from panelscan.finder.shelf import Shelf

SIZE_SPEAKS = 0.5  # octaves of size misfit from which it is mentioned
SHAPE_SPEAKS = 0.25  # octaves of shape misfit from which it is mentioned


def panel_phrase(shelf: Shelf, panel: int) -> str:
    """A panel's size and shape for a sentence: ``42 % of the page, 2.1 times as wide as high``."""
    shape, area = float(shelf.shape[panel]), float(shelf.areas[panel])
    ratio = (
        f"{shape:.1f} times as wide as high"
        if shape >= 1
        else (f"{1 / shape:.1f} times as high as wide")
    )
    return f"{100 * min(area, 1.0):.0f} % of the page, {ratio}"


def page_gives(
    scene: Sequence[Beat],
    placements: Sequence[Placement],
    shelf: Shelf,
    grid: int,
    page: int = 0,
    first_number: int = 1,
) -> tuple[Give, ...]:
    """What does not fit on one page.

    Parameters
    ----------
    scene : sequence of Beat
        Whole scene that the placements' indices count in.
    placements : sequence of Placement
        Panels of the page with their beats.
    shelf, grid : Shelf, int
        The page's grid.
    page : int
        Page number for the record.
    first_number : int
        Number that people call the first beat of the scene.
    """
    gives = []
    for placed in placements:
        panel = int(shelf.starts[grid]) + placed.panel
        numbers = [b + first_number for b in placed.beats]
        if not numbers:
            text = f"Panel {placed.panel + 1} stands without a beat: a pause, or room for one more."
            gives.append(Give("pause", text, page))
            continue
        beat = scene[placed.beats[0]]
        if len(numbers) == 2:
            beat = beat.joined(scene[placed.beats[1]])
            text = f"Beats {numbers[0]} and {numbers[1]} share panel {placed.panel + 1}."
            gives.append(Give("shared", text, page, numbers[0], beat.line))
        gives += [
            Give(kind, text, page, numbers[0], beat.line)
            for kind, text in _misfits(beat, _named(numbers), shelf, panel, placed.panel + 1)
        ]
    return tuple(gives)


def _named(numbers: list[int]) -> str:
    return f"Beat {numbers[0]}" if len(numbers) == 1 else f"Beats {numbers[0]} and {numbers[1]}"


def _misfits(beat: Beat, name: str, shelf: Shelf, panel: int, number: int) -> list[tuple[str, str]]:
    """Kind and sentence of each thing that a panel cannot give a beat."""
    terms = {k: float(v) for k, v in fit_terms(beat, shelf, np.asarray(panel)).items()}
    found = []
    want = "wants" if name.startswith("Beat ") else "want"
    if terms["over"]:
        found.append(
            (
                "words",
                f"{name} {want} {beat.words} words; this panel holds about "
                f"{int(shelf.room[panel])}.",
            )
        )
    if terms["shape"] > SHAPE_SPEAKS:
        found.append(
            (
                "shape",
                f"{name} {want} a {beat.shape.value} panel; panel {number} is "
                f"{panel_phrase(shelf, panel).split(', ')[1]}.",
            )
        )
    if terms["size"] > SIZE_SPEAKS and beat.weight is not Weight.NORMAL:
        is_are = "is" if want == "wants" else "are"
        found.append(
            (
                "size",
                f"{name} {is_are} {beat.weight.value}; panel {number} takes "
                f"{100 * min(float(shelf.areas[panel]), 1.0):.0f} % of the page.",
            )
        )
    return found


def page_reasons(
    scene: Sequence[Beat],
    placements: Sequence[Placement],
    shelf: Shelf,
    grid: int,
    first_number: int = 1,
) -> list[str]:
    """What speaks for this grid: sizes, shapes and room that suit the beats."""
    reasons = []
    panels = np.arange(shelf.starts[grid], shelf.starts[grid + 1])
    for placed in placements:
        if not placed.beats:
            continue
        beat = scene[placed.beats[0]]
        panel, number = int(panels[placed.panel]), placed.beats[0] + first_number
        area = f"{100 * min(float(shelf.areas[panel]), 1.0):.0f} % of the page"
        suits = float(fit_terms(beat, shelf, np.asarray(panel))["size"]) <= SIZE_SPEAKS
        if (
            suits
            and beat.weight is Weight.BIG
            and shelf.share[panel] >= shelf.share[panels].max() - 1e-9
        ):
            reasons.append(f"Beat {number} (big) has the largest panel, {area}.")
        if (
            suits
            and beat.weight is Weight.SMALL
            and shelf.share[panel] <= np.median(shelf.share[panels])
        ):
            reasons.append(f"Beat {number} (small) has a small panel, {area}.")
        shape = float(shelf.shape[panel])
        if beat.shape is Shape.WIDE and shape >= WIDE_FROM:
            reasons.append(
                f"Beat {number} asks for wide: panel {placed.panel + 1} is "
                f"{shape:.1f} times as wide as high."
            )
        if beat.shape is Shape.TALL and shape <= TALL_UP_TO:
            reasons.append(
                f"Beat {number} asks for tall: panel {placed.panel + 1} is "
                f"{1 / shape:.1f} times as high as wide."
            )
    told = reasons + _word_reason(scene, placements, shelf, panels)
    return told or [_plain_reason(sum(len(p.beats) for p in placements), len(panels))]


def _plain_reason(beats: int, panels: int) -> str:
    """The least that speaks for a grid."""
    takes = "Its one panel takes" if panels == 1 else f"Its {panels} panels take"
    return f"{takes} {'the beat' if beats == 1 else f'the {beats} beats in order'}."


def _word_reason(
    scene: Sequence[Beat], placements: Sequence[Placement], shelf: Shelf, panels: np.ndarray
) -> list[str]:
    """How full the fullest panel gets."""
    said = [
        (sum(scene[b].words for b in p.beats), int(shelf.room[panels[p.panel]])) for p in placements
    ]
    said = [(words, room) for words, room in said if words]
    if not said or any(words > room for words, room in said):
        return []
    words, room = max(said, key=lambda s: s[0] / max(s[1], 1))
    return [f"Words fit: the fullest panel takes {words} of about {room}."]


def clarity_reason(clarity: float) -> list[str]:
    """A word on reading order where readers may part."""
    if clarity >= 0.8:
        return []
    return [f"Mind the reading order: about {100 * clarity:.0f} % of readers would follow it."]
