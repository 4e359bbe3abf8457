"""What a look over a page turns up: a finding has a number, a place and a remedy."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from panelscan.model.outline import Point


class Weight(StrEnum):
    """How much hangs on a finding; the artist decides in every case."""

    PRINT = "print"
    LOOK = "look"
    NOTE = "note"


WEIGHT_WORDS = {
    Weight.PRINT: "may go wrong in print",
    Weight.LOOK: "worth a look",
    Weight.NOTE: "for your information",
}


@dataclass(frozen=True)
class Finding:
    """One thing worth a look before inking.

    Parameters
    ----------
    rule : str
        Short name of the rule, e.g. ``"uneven-gutter"``.
    weight : Weight
        How much hangs on it.
    text : str
        What it is, with its figure.
    remedy : str
        What can be done.
    place : tuple of float or None
        Where, in mm of the trim's frame; None for the page as a whole.
    marks : tuple of tuple of (x, y)
        Lines to draw on the page, in mm of the trim's frame.
    panels : tuple of int
        Places in the order, from 0.
    value, limit : float or None
        The figure found and the one wanted.
    unit : str
        Of both.
    number : int
        From 1, in the report.
    """

    rule: str
    weight: Weight
    text: str
    remedy: str
    place: Point | None = None
    marks: tuple[tuple[Point, ...], ...] = ()
    panels: tuple[int, ...] = ()
    value: float | None = None
    limit: float | None = None
    unit: str = "mm"
    number: int = 0

    @property
    def key(self) -> str:
        """Name by which the finding can be silenced on its page: the rule and the panels.

        It stays the same when the page is scanned again or a figure changes a little.

        Examples
        --------
        >>> Finding("uneven-gutter", Weight.LOOK, "", "", panels=(2, 0)).key
        'uneven-gutter:1-3'
        """
        panels = "-".join(str(p + 1) for p in sorted(self.panels))
        return f"{self.rule}:{panels or 'page'}"


@dataclass(frozen=True)
class CheckLimits:
    """When a finding is made; lengths in mm of the printed page.

    Common practice, no source, except where said.

    Parameters
    ----------
    gutter_mm : float
        A gutter may differ by this from the page's usual one.
    thin_gutter_mm : float
        A gutter thinner than this closes up in print.
    taper_mm : float
        A gutter may narrow by this along its length.
    tilt_deg, tilt_mm : float
        A side off level or upright by less than the angle, but by more than the length
        between its ends, is meant to be straight and is not.
    wobble_mm : float
        RMS wobble of a drawn border.
    near_mm, line_mm : float
        Sides in line to within `line_mm` are in line; up to `near_mm` they nearly are.
    outside_mm : float
        How far a panel may reach out of the live area.
    trim_mm : float
        A border this near the trim may be cut into: 1/16 in, a printer's cut tolerance.
    bleed_mm : float
        How much of the bleed may be missing.
    unclear_share : float
        A parting of which at least this share of readers goes the other way.
    page_words : int
        Words on a page: 210, a ceiling ascribed to an editor of the 1960s.
    balloon_room_share : float
        Share of a panel that its lettering may take.
    line_art_ppi : float
        Usual for black and white line art.
    same_grid : float
        Distance of grids up to which two pages look the same.
    """

    gutter_mm: float = 0.5
    thin_gutter_mm: float = 1.2
    taper_mm: float = 0.6
    tilt_deg: float = 2.0
    tilt_mm: float = 0.4
    wobble_mm: float = 0.25
    near_mm: float = 2.0
    line_mm: float = 0.3
    outside_mm: float = 0.4
    trim_mm: float = 1.59
    bleed_mm: float = 0.3
    unclear_share: float = 0.2
    page_words: int = 210
    balloon_room_share: float = 0.45
    line_art_ppi: float = 600.0
    same_grid: float = 0.03


@dataclass(frozen=True)
class CheckReport:
    """All findings on one page.

    Parameters
    ----------
    page : str
        Name of the page.
    format_title : str
        Page format it was checked against.
    findings : tuple of Finding
        Numbered from 1, those that may go wrong in print first.
    silenced : tuple of Finding
        Left out because the artist said so.
    notes : tuple of str
        What was assumed, and who decides.
    measures : dict of str to float
        Figures that were looked at, e.g. ``"tier_gutter_mm"``.
    """

    page: str
    format_title: str
    findings: tuple[Finding, ...]
    silenced: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    measures: dict[str, float] = field(default_factory=dict)

    @property
    def is_clear(self) -> bool:
        """Whether nothing that matters is left: notes alone do not count."""
        return all(f.weight is Weight.NOTE for f in self.findings)
