"""``panelscan template --sheet``: a sheet of small empty grids to print and rough on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.cli.console import print_json, say
from panelscan.cli.pages import NamedGrid

if TYPE_CHECKING:
    from panelscan.templates.options import TemplateOptions


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

    entries = [SheetEntry(n.grid, n.name, n.page_id or n.name) for n in named]
    report = write_sheet(entries, out, paper, library, options)
    if as_json:
        print_json(
            {"file": str(report.path), "sheet": report.plan.name, "cells": report.plan.count,
             "paper": report.plan.paper, "record": str(report.record_path)}
        )  # fmt: skip
        return
    say(f"{report.path}: thumbnail sheet {report.plan.name} with {report.plan.count} grids")
    say(f"Its record: {report.record_path}. Scan the sheet into that library to link the roughs.")
