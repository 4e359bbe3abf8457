"""The strip below a picture that says what its lines and colours mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.vision.drawing import INK, PAPER, Color, Drawing, text_width


@dataclass(frozen=True, slots=True)
class Sample:
    """One line of a legend.

    Parameters
    ----------
    label : str
        What it means.
    color : tuple of int
        RGB.
    width : float
        Width of the sample line in hair's widths; above 8 a filled patch is drawn.
    dash : sequence of float
        Pattern of the line (on, off ...).
    strength : float
        Opacity of a patch.
    """

    label: str
    color: Color
    width: float = 3.0
    dash: Sequence[float] = ()
    strength: float = 1.0


def with_legend(drawing: Drawing, samples: Sequence[Sample]) -> np.ndarray:
    """Picture with a legend strip below, as RGB; the bare picture if there is nothing to say."""
    if not samples:
        return drawing.pixels
    unit = drawing.unit
    columns = drawing.pixels.shape[1]
    size, pad, swatch = 17 * unit, 14 * unit, 46 * unit
    rows: list[list[tuple[Sample, float]]] = [[]]
    x = pad
    for sample in samples:
        width = swatch + 0.6 * pad + text_width(sample.label, size) + 1.6 * pad
        if rows[-1] and x + width > columns:
            rows.append([])
            x = pad
        rows[-1].append((sample, x))
        x += width
    height = round(2 * pad + len(rows) * 1.7 * size - 0.7 * size)
    strip = Drawing(np.full((height, columns, 3), PAPER, np.uint8), unit)
    strip.pixels[: max(1, round(unit))] = INK
    for k, row in enumerate(rows):
        y = pad + size / 2 + k * 1.7 * size
        for sample, left in row:
            _draw_sample(strip, sample, left, y, swatch)
            strip.words(sample.label, (left + swatch + 0.6 * pad, y), size, anchor="lm")
    return np.vstack([drawing.pixels, strip.pixels])


def _draw_sample(strip: Drawing, sample: Sample, left: float, y: float, swatch: float) -> None:
    if sample.width > 8:
        half = 7 * strip.unit
        box = np.array([[left, y - half], [left + swatch, y - half]])
        ring = np.vstack([box, box[::-1] + np.array([0, 2 * half])])
        strip.fill(ring, sample.color, sample.strength)
        strip.line(ring, INK, 1.0, halo=0, closed=True)
        return
    ends = np.array([[left, y], [left + swatch, y]])
    strip.line(ends, sample.color, sample.width, sample.dash, halo=0)
