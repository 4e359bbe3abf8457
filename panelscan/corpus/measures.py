"""Figures of a page that the library keeps beside its outlines, taken by ``layout``."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from panelscan.layout.notation import write_grid
from panelscan.layout.signature import grid_vector
from panelscan.model.record import PageRecord


@dataclass(frozen=True)
class PageMeasures:
    """Figures of one page.

    Parameters
    ----------
    grid_text : str
        The grid in panelscan's written notation.
    vector : tuple of float
        Vector of the grid, for searching.
    symmetry, density : float or None
        Columns of the pages table.
    """

    grid_text: str
    vector: tuple[float, ...]
    symmetry: float | None
    density: float | None


def measure_page(record: PageRecord) -> PageMeasures:
    """Figures of a page from its grid and layout."""
    density = record.layout.measures.get("density")
    if density is None:
        shapes = [p.outline.shape for p in record.grid.panels]
        density = min(1.0, float(shapely.union_all(shapes).area)) if shapes else 0.0
    return PageMeasures(
        grid_text=write_grid(record.grid),
        vector=tuple(float(v) for v in grid_vector(record.grid)),
        symmetry=record.layout.measures.get("symmetry"),
        density=density,
    )
