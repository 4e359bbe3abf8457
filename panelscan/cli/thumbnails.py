"""Sheets of small empty grids to print and rough on: of chosen grids, or of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.cli.console import print_json, say
from panelscan.cli.pages import NamedGrid

if TYPE_CHECKING:
    from panelscan.finder.plan_types import PagePlan, Plan
    from panelscan.model.grid import Grid
    from panelscan.templates.options import TemplateOptions
    from panelscan.templates.sheet import SheetReport


def write_thumbnails(
    named: Sequence[NamedGrid],
    out: Path,
    paper: str,
    library: Path | None,
    options: TemplateOptions,
    as_json: bool,
) -> None:
    """Write the sheet, and tell where its record lies.

    Parameters
    ----------
    named : sequence of NamedGrid
        4 to 16 grids.
    out : Path
        The sheet.
    paper : str
        ``a4`` or ``letter``.
    library : Path or None
        Takes the record, by which ``scan`` links the roughs to their grids.
    options : TemplateOptions
        Resolution, overwriting.
    as_json : bool
        Tell it as JSON.
    """
    from panelscan.model.sheet_record import SheetEntry
    from panelscan.templates.sheet import write_sheet

    entries = [SheetEntry(n.grid, _short(n.name), n.page_id or n.name) for n in named]
    report = write_sheet(entries, out, paper, library, options)
    _tell(report, as_json)


def _short(name: str) -> str:
    """A family by its number alone; its most typical page is what the sheet links to."""
    return name.partition(", as ")[0] if name.startswith("family ") else name


def _tell(report: SheetReport, as_json: bool) -> None:
    if as_json:
        print_json(
            {"file": str(report.path), "sheet": report.plan.name, "cells": report.plan.count,
             "paper": report.plan.paper, "record": str(report.record_path)}
        )  # fmt: skip
        return
    say(f"{report.path}: thumbnail sheet {report.plan.name} with {report.plan.count} grids")
    say(f"Its record: {report.record_path}. Scan the sheet into that library to link the roughs.")


def write_plan_thumbnails(
    plan: Plan, grids: Sequence[Grid], out: Path, paper: str, library: Path, overwrite: bool
) -> None:
    """Write a plan's pages as a sheet; a short plan's pages come several times, to try them.

    Parameters
    ----------
    plan : Plan
        Of 16 pages at most.
    grids : sequence of Grid
        The grid of each of its pages.
    out, paper, library, overwrite
        As for `write_thumbnails`.
    """
    from panelscan.model.sheet_record import SheetEntry
    from panelscan.model.thumbnail_sheet import LEAST_CELLS
    from panelscan.templates.options import TemplateOptions
    from panelscan.templates.sheet import write_sheet

    times = -(-LEAST_CELLS // len(plan.pages))
    entries = [
        SheetEntry(grid, _plan_caption(page, again), page.page_id)
        for again in range(times)
        for page, grid in zip(plan.pages, grids, strict=True)
    ]
    _tell(write_sheet(entries, out, paper, library, TemplateOptions(overwrite=overwrite)), False)


def _plan_caption(page: PagePlan, again: int) -> str:
    beats = page.beats
    range_ = f"{beats[0] + 1}-{beats[-1] + 1}" if len(beats) > 1 else f"{beats[0] + 1}"
    told = f"page {page.number}, beat{'s' if len(beats) > 1 else ''} {range_}"
    return f"{told}, try {again + 1}" if again else told
