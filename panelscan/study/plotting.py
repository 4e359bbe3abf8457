"""What the pictures of the report share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.study.charts import Series
from panelscan.study.drawing import Picture
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf


@dataclass(frozen=True)
class Plot:
    """A picture with its name for files, its section and a sentence to read it by.

    Parameters
    ----------
    name : str
        Name of the SVG file, without its ending.
    section : str
        Heading under which it stands.
    caption : str
        What it shows, with the main figures.
    picture : Picture
        The picture.
    """

    name: str
    section: str
    caption: str
    picture: Picture


def page_aspect(shelf: Shelf) -> float:
    """Usual width of a page divided by its height."""
    aspect = shelf.numbers("aspect")[: len(shelf)]
    good = aspect[np.isfinite(aspect)]
    return float(np.clip(np.median(good), 0.2, 3.0)) if good.size else 2 / 3


def figure_series(name: str, figures: Sequence[Figure], places: Sequence[float]) -> Series:
    """Figures with their intervals as points of a chart."""
    return Series(
        name,
        list(places),
        [f.value for f in figures],
        [f.low for f in figures],
        [f.high for f in figures],
    )


def ends_of(figures: Sequence[Figure]) -> list[tuple[float, float]]:
    """Intervals of figures."""
    return [(f.low, f.high) for f in figures]


def said(names: Sequence[str], figures: Sequence[Figure], least: float = 0.5) -> str:
    """Names with their shares, as a sentence has them; shares below ``least`` left out."""
    told = [
        f"{name} {figure.value:.0f} %"
        for name, figure in zip(names, figures, strict=True)
        if figure.is_known and figure.value >= least
    ]
    return ", ".join(told) or "none"
