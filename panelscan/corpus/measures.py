"""Figures of a page that the library keeps beside its outlines, taken by ``layout``."""

from __future__ import annotations

import importlib
from dataclasses import dataclass

import shapely

from panelscan.model.record import PageRecord


@dataclass(frozen=True)
class PageMeasures:
    """Figures of one page.

    Parameters
    ----------
    grid_text : str or None
        The grid in panelscan's written notation.
    vector : tuple of float
        Vector of the grid, for searching.
    symmetry, density : float or None
        Columns of the pages table.
    """

    grid_text: str | None
    vector: tuple[float, ...]
    symmetry: float | None
    density: float | None


def measure_page(record: PageRecord) -> PageMeasures:
    """Figures of a page from its grid and layout."""
    shapes = [p.outline.shape for p in record.grid.panels]
    covered = float(shapely.union_all(shapes).area) if shapes else 0.0
    return PageMeasures(
        grid_text=_grid_text(record),
        vector=_vector(record),
        symmetry=record.layout.measures.get("symmetry"),
        density=record.layout.measures.get("density", min(1.0, covered)),
    )


def _grid_text(record: PageRecord) -> str | None:
    try:
        notation = importlib.import_module("panelscan.layout.notation")
    except ModuleNotFoundError:
        return None
    return str(notation.write_grid(record.grid))


def _vector(record: PageRecord) -> tuple[float, ...]:
    try:
        signature = importlib.import_module("panelscan.layout.signature")
    except ModuleNotFoundError:
        return ()
    return tuple(float(v) for v in signature.grid_vector(record.grid))
