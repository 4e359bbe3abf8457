"""Page formats: trim, bleed, live area, board, gutters, borders; built in or from TOML.

Sizes that come from a standard say so; the others are trade practice. The printer's own
sheet always has the last word.
"""

from __future__ import annotations

from dataclasses import dataclass

from panelscan.model.units import inch_to_mm


@dataclass(frozen=True)
class PageFormat:
    """A page to draw on or print, in millimetres.

    Parameters
    ----------
    name : str
        Short name typed on the command line.
    title : str
        Name for people.
    trim_mm : tuple of float
        Width and height of the finished page.
    bleed_mm : float
        How far art must run past the trim.
    live_mm : tuple of float
        Left, top, right and bottom distance of the live area from the trim.
    tier_gutter_mm, column_gutter_mm : float
        Usual gutters between tiers and between panels in a tier.
    border_mm : float
        Usual weight of a panel border.
    board_mm : tuple of float or None
        Sheet drawn on, where it differs from the trim.
    standing : str
        ``"standard"`` or ``"practice"``, with the source.
    """

    name: str
    title: str
    trim_mm: tuple[float, float]
    bleed_mm: float
    live_mm: tuple[float, float, float, float]
    tier_gutter_mm: float
    column_gutter_mm: float
    border_mm: float
    board_mm: tuple[float, float] | None = None
    standing: str = "practice"


US_PRINT = PageFormat(
    name="us-print",
    title="US comic, print size",
    trim_mm=(inch_to_mm(6.625), inch_to_mm(10.25)),
    bleed_mm=inch_to_mm(0.125),
    live_mm=(inch_to_mm(0.3125), inch_to_mm(0.5), inch_to_mm(0.3125), inch_to_mm(0.75)),
    tier_gutter_mm=3.0,
    column_gutter_mm=3.0,
    border_mm=0.5,
    standing="practice: printers' sheets",
)
