"""The record of a thumbnail sheet: which grid lies in which cell, kept as a small JSON file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from panelscan.errors import InputError, NothingFound
from panelscan.model.grid import Grid, GridPanel
from panelscan.model.outline import Outline
from panelscan.model.page import PageEdge, ReadingDirection
from panelscan.model.thumbnail_sheet import ID_BITS

FOLDER_NAME = "sheets"


@dataclass(frozen=True)
class SheetEntry:
    """One cell of a sheet.

    Parameters
    ----------
    grid : Grid
        The grid printed there.
    caption : str
        Printed below it.
    link : str
        What it belongs to: a page's id, a family, a page of a plan; the artist's own word.
    """

    grid: Grid
    caption: str = ""
    link: str = ""


@dataclass(frozen=True)
class SheetRecord:
    """All cells of a sheet, and the sheet's id."""

    sheet_id: int
    entries: tuple[SheetEntry, ...]

    @property
    def name(self) -> str:
        """The id as printed on the sheet."""
        return f"{self.sheet_id:09x}"


def record_of(entries: Sequence[SheetEntry]) -> SheetRecord:
    """A record whose id follows from what is in it: the same cells, the same id."""
    text = json.dumps([_entry_data(e) for e in entries], sort_keys=True)
    digest = hashlib.sha256(text.encode()).digest()
    return SheetRecord(int.from_bytes(digest[:8], "big") >> (64 - ID_BITS), tuple(entries))


def record_text(record: SheetRecord) -> str:
    """The record as JSON text."""
    data = {
        "sheet": record.name,
        "version": 1,
        "cells": [_entry_data(e) for e in record.entries],
    }
    return json.dumps(data, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def record_path(folder: Path, name: str) -> Path:
    """Where the record of a sheet lies in a library (or any folder)."""
    return folder / FOLDER_NAME / f"{name}.json"


def read_record(path: Path) -> SheetRecord:
    """A record from its file.

    Raises
    ------
    NothingFound
        If there is no such file.
    InputError
        If it cannot be understood.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        entries = tuple(_entry(cell) for cell in data["cells"])
        return SheetRecord(int(data["sheet"], 16), entries)
    except FileNotFoundError as error:
        raise NothingFound(
            f"{path}: there is no record of that thumbnail sheet.",
            "It lies in the library for which the sheet was made.",
        ) from error
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(f"{path}: is not the record of a thumbnail sheet ({error}).") from error


def _entry_data(entry: SheetEntry) -> dict[str, Any]:
    grid = entry.grid
    return {
        "caption": entry.caption,
        "link": entry.link,
        "aspect": grid.aspect,
        "direction": grid.direction.value,
        "fold": grid.fold,
        "panels": [
            {
                "corners": [list(p) for p in panel.outline.points],
                "bleed": sorted(e.value for e in panel.bleed),
                "host": panel.host,
                "depth": panel.depth,
            }
            for panel in grid.panels
        ],
    }


def _entry(data: dict[str, Any]) -> SheetEntry:
    panels = tuple(
        GridPanel(
            Outline.of(p["corners"]),
            frozenset(PageEdge(e) for e in p["bleed"]),
            p["host"],
            p["depth"],
        )
        for p in data["panels"]
    )
    grid = Grid(panels, data["aspect"], ReadingDirection(data["direction"]), data["fold"])
    return SheetEntry(grid, data["caption"], data["link"])
