"""Panel sizes, shapes and special panels."""

from __future__ import annotations

import numpy as np

from panelscan.study.estimate import page_mean, row_median, row_share
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf

WIDE = 4 / 3
TALL = 3 / 4


def size_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Size, contrast, shape, slants, insets, overlaps and full-tier panels."""
    panels, page = shelf.panels, shelf.page_of_panel
    sure = panels["confidence"].fillna(1.0).to_numpy(dtype=float)
    aspect = panels["aspect"].to_numpy(dtype=float)
    shape = panels["shape"].to_numpy()
    slant = np.abs(panels["slant_deg"].to_numpy(dtype=float))

    def share(key: str, title: str, holds: np.ndarray) -> Figure:
        return row_share(shelf, key, title, page, np.asarray(holds, dtype=bool), sure)

    slanted = np.where(shape == "slanted", slant, np.nan)
    return (
        row_median(
            shelf,
            "area_share",
            "Area of a panel, share of the page",
            page,
            100 * panels["area_share"].to_numpy(dtype=float),
            "%",
            sure,
        ),
        page_mean(
            shelf,
            "contrast",
            "Largest panel against the smallest on a page",
            shelf.pages["contrast"].to_numpy(dtype=float),
            "times",
        ),
        share("wide_share", "Wide panels (wider than 4:3)", aspect > WIDE),
        share("tall_share", "Tall panels (narrower than 3:4)", aspect < TALL),
        share("square_share", "Panels near square", (aspect >= TALL) & (aspect <= WIDE)),
        share("slanted_share", "Slanted panels", shape == "slanted"),
        share("round_share", "Round panels", shape == "round"),
        row_median(shelf, "slant_deg", "Slant of the slanted panels", page, slanted, "deg", sure),
        share("inset_share", "Inset panels", panels["is_inset"].fillna(False).to_numpy()),
        share("full_tier_share", "Full-tier panels", panels["is_full_tier"].eq(True).to_numpy()),
        share("overlap_share", "Panels that lie over another", panels["depth"].to_numpy() > 0),
        page_mean(
            shelf,
            "symmetric_share",
            "Pages symmetric left to right",
            100.0 * (shelf.pages["symmetry"].to_numpy(dtype=float) > 0.95),
            "%",
        ),
    )


def area_by_place(shelf: Shelf, most: int = 9) -> tuple[Figure, ...]:
    """Median area of the panel at each place in the order, share of the page."""
    panels, page = shelf.panels, shelf.page_of_panel
    order = panels["reading_order"].to_numpy()
    area = 100 * panels["area_share"].to_numpy(dtype=float)
    sure = panels["confidence"].fillna(1.0).to_numpy(dtype=float)
    return tuple(
        row_median(
            shelf,
            f"area_at_{place}",
            f"Area of panel {place}",
            page,
            np.where(order == place, area, np.nan),
            "%",
            sure,
        )
        for place in range(1, most + 1)
    )
