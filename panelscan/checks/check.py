"""Looking a page over before inking: all rules in turn, their findings numbered."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace

from panelscan.checks.findings import CheckLimits, CheckReport, Finding, Weight
from panelscan.checks.page import CheckedPage
from panelscan.checks.rules_borders import (
    bleed_depth,
    crooked_borders,
    lettering_inside,
    live_area,
)
from panelscan.checks.rules_gutters import near_misses, uneven_gutters, usual_gutters
from panelscan.checks.rules_reading import lettering_room, resolution, sameness, unclear_order
from panelscan.model.formats import PRINTER_DECIDES

Rule = Callable[[CheckedPage, CheckLimits], Iterator[Finding]]
RULES: tuple[Rule, ...] = (
    bleed_depth,
    live_area,
    lettering_inside,
    resolution,
    uneven_gutters,
    crooked_borders,
    near_misses,
    unclear_order,
    lettering_room,
    sameness,
)
_RANK = {Weight.PRINT: 0, Weight.LOOK: 1, Weight.NOTE: 2}
ADVICE = "This is advice: artist, editor and printer decide."


def check_page(
    page: CheckedPage,
    limits: CheckLimits | None = None,
    silenced: Collection[str] = (),
) -> CheckReport:
    """Look a page over.

    Parameters
    ----------
    page : CheckedPage
        From `panelscan.checks.page`.
    limits : CheckLimits, optional
        When a finding is made.
    silenced : collection of str
        Keys of findings that the artist does not want to see again on this page, or names
        of rules to leave out altogether.

    Returns
    -------
    CheckReport
        Findings in order of weight, each with a number, a place and a remedy.

    Examples
    --------
    >>> from panelscan.checks.page import page_of_grid
    >>> from panelscan.model.formats import US_PRINT
    >>> from panelscan.model.grid import Grid, GridPanel
    >>> from panelscan.model.outline import Outline
    >>> grid = Grid((GridPanel(Outline.box(0.005, 0.06, 0.94, 0.9)),), 168.275 / 260.35)
    >>> report = check_page(page_of_grid(grid, US_PRINT))
    >>> report.findings[0].rule, report.is_clear
    ('touches-trim-left', False)
    """
    limits = limits or CheckLimits()
    found = [f for rule in RULES for f in rule(page, limits)]
    found.sort(key=lambda f: _RANK[f.weight])
    quiet = [f for f in found if f.key in silenced or f.rule in silenced]
    loud = [f for f in found if f not in quiet]
    numbered = tuple(replace(f, number=n + 1) for n, f in enumerate(loud))
    measures = {
        f"{kind.value}_gutter_mm": page.printed(width)
        for kind, width in usual_gutters(page).items()
    }
    if page.ppi is not None:
        measures["ppi_at_printed_size"] = page.ppi
    return CheckReport(
        page=page.name,
        format_title=page.page_format.title,
        findings=numbered,
        silenced=tuple(quiet),
        notes=(*page.notes, PRINTER_DECIDES, ADVICE),
        measures=measures,
    )
