"""Pictures of the steps between: ground, segments, candidates, selection, sides.

Everything a trace holds is in working pixels; `scale` is canvas pixels per working pixel.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import cv2
import numpy as np

from panelscan.vision.drawing import (
    BLUE,
    GRAY,
    GREEN,
    INK,
    ORANGE,
    PURPLE,
    SKY,
    VERMILION,
    Color,
    Drawing,
)
from panelscan.vision.legend import Sample
from panelscan.vision.trace import STEPS, Trace

MOST_CANDIDATES = 60


def paint_step(drawing: Drawing, trace: Trace, step: str, scale: float) -> list[Sample]:
    """Draw a step's evidence and say what it means.

    Parameters
    ----------
    drawing : Drawing
        The pale page at working size or a multiple of it.
    trace : Trace
        What the steps kept.
    step : str
        One of `STEPS`.
    scale : float
        Canvas pixels per working pixel.

    Returns
    -------
    list of Sample
        For the legend.

    Raises
    ------
    ValueError
        If there is no such step.
    """
    if step not in STEPS:
        raise ValueError(f"no step is called {step!r}; steps are {', '.join(STEPS)}")
    painters: dict[str, Callable[[Drawing, dict[str, Any], float], list[Sample]]] = {
        "ground": _ground,
        "segments": _segments,
        "candidates": _candidates,
        "sides": _sides,
    }
    if step == "selection":
        every = trace.evidence("candidates").get("candidates", [])
        return _selection(drawing, trace.evidence("selection"), scale, every)
    painter = painters.get(step)
    return painter(drawing, trace.evidence(step), scale) if painter else []


def _ground(drawing: Drawing, kept: dict[str, Any], scale: float) -> list[Sample]:
    ground = kept.get("map")
    if ground is None:
        return []
    rows, columns = drawing.pixels.shape[:2]
    size = (columns, rows)
    mask = cv2.resize(ground.mask, size, interpolation=cv2.INTER_NEAREST) > 0
    opened = cv2.resize(ground.open, size, interpolation=cv2.INTER_NEAREST) > 0
    drawing.wash(mask & ~opened, ORANGE, 0.45)
    drawing.wash(opened, SKY, 0.6)
    color = ground.ground.rgb
    return [
        Sample(f"ground ({ground.ground.kind.value})", color, 10.0),
        Sample("joined to the page's edge", SKY, 10.0, (), 0.6),
        Sample("looks like ground, shut in", ORANGE, 10.0, (), 0.45),
    ]


def _segments(drawing: Drawing, kept: dict[str, Any], scale: float) -> list[Sample]:
    samples: list[Sample] = []
    rows, columns = drawing.pixels.shape[:2]
    far = 2.0 * max(rows, columns)
    for name, color, label in (
        ("lines_open", BLUE, "edge of the ground"),
        ("lines_soft", PURPLE, "edge of a faint gutter"),
    ):
        lines = kept.get(name)
        if lines is None:
            continue
        for point, along in zip(lines.point, lines.along, strict=True):
            ends = np.array([point * scale - along * far, point * scale + along * far])
            drawing.line(ends, color, 0.6, (3, 9), halo=0)
        for piece in lines.pieces:
            drawing.line(piece.reshape(2, 2) * scale, color, 3.0, halo=1.0)
        samples.append(Sample(label, color, 3.0))
    for name in ("tree_open", "tree_soft"):
        tree = kept.get(name)
        for node in tree.walk() if tree is not None else []:
            drawing.line(node.polygon * scale, VERMILION, 1.4, (10, 5), halo=0, closed=True)
    if any(kept.get(n) is not None for n in ("tree_open", "tree_soft")):
        samples.append(Sample("part cut along gutters", VERMILION, 1.4, (10, 5)))
    return samples


def _candidates(drawing: Drawing, kept: dict[str, Any], scale: float) -> list[Sample]:
    every = sorted(kept.get("candidates", []), key=lambda c: c.gain)
    weak = [c for c in every if c.gain <= 0]
    strong = [c for c in every if c.gain > 0][-MOST_CANDIDATES:]
    _rings(drawing, weak[-MOST_CANDIDATES:], scale, GRAY, 1.0, (4, 5))
    _rings(drawing, strong, scale, BLUE, 2.2, ())
    for candidate in strong:
        place = candidate.corners.mean(axis=0) * scale
        drawing.words(f"{candidate.gain:.2f}", place, 15 * drawing.unit)
    return [
        Sample("possible panel, with its worth", BLUE, 2.2),
        Sample("too little speaks for it", GRAY, 1.0, (4, 5)),
    ]


def _rings(
    drawing: Drawing,
    candidates: Iterable[Any],
    scale: float,
    color: Color,
    width: float,
    dash: tuple[float, ...],
) -> None:
    for candidate in candidates:
        drawing.line(candidate.corners * scale, color, width, dash, halo=1.0, closed=True)


def _selection(
    drawing: Drawing, kept: dict[str, Any], scale: float, every: list[Any]
) -> list[Sample]:
    sets = kept.get("sets", [])
    if not sets or not every:
        return []
    best = set(sets[0].chosen)
    samples = [Sample(f"best set (worth {sets[0].gain:.2f})", BLUE, 4.0)]
    if len(sets) > 1:
        others = [i for i in sets[1].chosen if i not in best]
        _rings(drawing, [every[i] for i in others], scale, VERMILION, 2.5, (12, 7))
        samples.append(Sample(f"second set ({sets[1].gain:.2f})", VERMILION, 2.5, (12, 7)))
    _rings(drawing, [every[i] for i in sorted(best)], scale, BLUE, 4.0, ())
    for i in sorted(best):
        place = every[i].corners.mean(axis=0) * scale
        drawing.words(f"{every[i].gain:.2f}", place, 16 * drawing.unit)
    return samples


def _sides(drawing: Drawing, kept: dict[str, Any], scale: float) -> list[Sample]:
    names = ("wall", "shared", "bleed", "open")
    colors = {"wall": BLUE, "shared": PURPLE, "bleed": GREEN, "open": ORANGE}
    for panel in kept.get("panels", []):
        ends = np.roll(panel.corners, -1, axis=0)
        for a, b, side in zip(panel.corners, ends, panel.sides, strict=False):
            shares = {name: float(getattr(side, name, 0.0)) for name in names}
            most = max(names, key=lambda n: shares[n])
            strong = shares[most] >= 0.5
            color = colors[most] if strong else VERMILION
            drawing.line(np.array([a, b]) * scale, color, 4.0, () if strong else (10, 6))
            text = f"{100 * shares[most]:.0f}"
            drawing.words(text, (a + b) / 2 * scale, 14 * drawing.unit, INK)
    return [
        Sample("wall of art along the side (% of length)", BLUE, 4.0),
        Sample("shared line", PURPLE, 4.0),
        Sample("bleed", GREEN, 4.0),
        Sample("open", ORANGE, 4.0),
        Sample("nothing speaks for most of it", VERMILION, 4.0, (10, 6)),
    ]
