"""A shelf of pages from a library, only the columns that the study needs."""

from __future__ import annotations

from pathlib import Path

from panelscan.corpus.query import load_gutters, load_pages, load_panels
from panelscan.corpus.store import Library
from panelscan.study.shelf import Shelf

PANEL_COLUMNS = (
    "page_id", "book", "reading_order", "confidence", "area_share", "aspect", "shape",
    "slant_deg",
    "is_inset", "is_full_tier", "depth", "border_mm", "wobble_mm", "free_top_share",
    "lettered_share", "ink_density", "x_min_share", "y_min_share", "x_max_share", "y_max_share",
    "geometry_page",
)
GUTTER_COLUMNS = (
    "page_id", "kind", "width_px", "width_mm", "width_share", "width_min_px", "width_max_px",
    "angle_deg",
)
PAGE_COLUMNS = (
    "page_id", "book", "page_number", "page_side", "source_path", "width_px", "height_px",
    "aspect", "direction", "confidence", "panel_count", "tier_count", "tier_pattern", "clarity",
    "symmetry", "density", "contrast", "gutter_cv", "tier_gutter_mm", "tier_gutter_share",
    "column_gutter_mm", "column_gutter_share", "bleed_left", "bleed_top", "bleed_right",
    "bleed_bottom", "margin_left_mm", "margin_top_mm", "margin_right_mm", "margin_bottom_mm",
    "margin_left_share", "margin_top_share", "margin_right_share", "margin_bottom_share",
    "readings", "reviewed",
)


def shelf_of(
    folder: Path | Library, where: str | None = None, *, every_stage: bool = False
) -> Shelf:
    """Shelf of the pages of a library for which a filter holds.

    Parameters
    ----------
    folder : Path or Library
        The library.
    where : str or None
        Filter, all pages for None.
    every_stage : bool
        Whether a page scanned twice or in two stages stands for each time; otherwise once.

    Raises
    ------
    NothingFound
        If no page is left.
    NotationError
        If the filter cannot be understood.
    """
    library = folder if isinstance(folder, Library) else Library.open(folder)
    pages = load_pages(library, where, columns=PAGE_COLUMNS, duplicates=every_stage)
    panels = load_panels(library, where, columns=PANEL_COLUMNS, duplicates=every_stage)
    gutters = load_gutters(library, where, columns=GUTTER_COLUMNS, duplicates=every_stage)
    return Shelf.of(pages, panels, gutters)
