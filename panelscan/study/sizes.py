"""Panel sizes, shapes and special panels."""

from __future__ import annotations

import numpy as np

from panelscan.study.estimate import page_mean, row_median, row_share
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf

WIDE = 4 / 3
TALL = 3 / 4
SYMMETRIC = 0.95


def size_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Size, contrast, shape, slants, insets, overlaps and full-tier panels."""
    rows = shelf.panel_rows
    aspect = rows.numbers("aspect")

    def share(key: str, title: str, holds: np.ndarray) -> Figure:
        return row_share(shelf, key, title, rows.sheet, holds, rows.confidence)

    def middle(key: str, title: str, values: np.ndarray, unit: str) -> Figure:
        return row_median(shelf, key, title, rows.sheet, values, unit, rows.confidence)

    symmetry = shelf.numbers("symmetry")
    symmetric = np.where(np.isfinite(symmetry), 100.0 * (symmetry > SYMMETRIC), np.nan)
    return (
        middle(
            "area_share",
            "Area of a panel, share of the page",
            100 * rows.numbers("area_share"),
            "%",
        ),
        page_mean(
            shelf,
            "contrast",
            "Largest panel against the smallest on a page",
            np.where(shelf.numbers("panel_count") > 1, shelf.numbers("contrast"), np.nan),
            "times",
        ),
        middle("aspect", "Width of a panel against its height", aspect, "times"),
        share("wide_share", "Wide panels (wider than 4:3)", aspect > WIDE),
        share("tall_share", "Tall panels (narrower than 3:4)", aspect < TALL),
        share("square_share", "Panels near square", (aspect >= TALL) & (aspect <= WIDE)),
        share("slanted_share", "Slanted panels", rows.equals("shape", "slanted")),
        share("round_share", "Round panels", rows.equals("shape", "round")),
        share("polygon_share", "Panels of other shapes", rows.equals("shape", "polygon")),
        middle("slant_deg", "Slant of the slanted panels", slants(shelf), "deg"),
        share("inset_share", "Inset panels", rows.flags("is_inset")),
        share("full_tier_share", "Full-tier panels", rows.flags("is_full_tier")),
        share("overlap_share", "Panels that lie over another", rows.numbers("depth") > 0),
        page_mean(shelf, "symmetric_share", "Pages symmetric left to right", symmetric, "%"),
    )


def slants(shelf: Shelf) -> np.ndarray:
    """Slant of each slanted panel row in degrees, NaN for the others, shape (V,)."""
    rows = shelf.panel_rows
    turned = np.abs(rows.numbers("slant_deg"))
    return np.asarray(np.where(rows.equals("shape", "slanted"), turned, np.nan))


def area_by_place(shelf: Shelf, most: int = 9) -> tuple[Figure, ...]:
    """Median area of the panel at each place in the order, share of the page."""
    rows = shelf.panel_rows
    order, area = rows.numbers("reading_order"), 100 * rows.numbers("area_share")
    found = []
    for place in range(1, most + 1):
        at = np.flatnonzero(order == place)
        found.append(
            row_median(
                shelf,
                f"area_at_{place}",
                f"Area of panel {place}",
                rows.sheet[at],
                area[at],
                "%",
                rows.confidence[at],
            )
        )
    return tuple(found)
