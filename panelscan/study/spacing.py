"""Gutters, margins, bleeds and borders: the air around and between panels."""

from __future__ import annotations

import numpy as np

from panelscan.model.page import PageEdge
from panelscan.study.estimate import page_mean, row_median
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf


def gutter_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Widths between tiers and between panels in a tier, in mm and as a share of the page."""
    table, page = shelf.gutters, shelf.page_of_gutter
    kind = table["kind"].to_numpy()
    found = []
    for name, title in (("tier", "Gutter between tiers"), ("column", "Gutter within a tier")):
        mm = np.where(kind == name, table["width_mm"].to_numpy(dtype=float), np.nan)
        share = np.where(kind == name, table["width_share"].to_numpy(dtype=float), np.nan)
        found.append(row_median(shelf, f"{name}_gutter_mm", title, page, mm, "mm"))
        found.append(
            row_median(
                shelf,
                f"{name}_gutter_share",
                f"{title}, share of page width",
                page,
                100 * share,
                "%",
            )
        )
    return (*found, *_evenness(shelf))


def _evenness(shelf: Shelf) -> tuple[Figure, ...]:
    table, page = shelf.gutters, shelf.page_of_gutter
    mean = table["width_px"].to_numpy(dtype=float)
    spread = (table["width_max_px"] - table["width_min_px"]).to_numpy(dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        taper = np.where(mean > 0, 100 * spread / mean, np.nan)
        ratio = shelf.pages["tier_gutter_share"].to_numpy(dtype=float) / shelf.pages[
            "column_gutter_share"
        ].to_numpy(dtype=float)
    ratio[~np.isfinite(ratio)] = np.nan
    return (
        page_mean(
            shelf,
            "gutter_cv",
            "Unevenness of a page's gutters (coefficient of variation)",
            100 * shelf.pages["gutter_cv"].to_numpy(dtype=float),
            "%",
        ),
        page_mean(
            shelf,
            "gutter_drift",
            "A page's tier gutter off its book's usual one",
            _off_the_book(shelf),
            "%",
        ),
        row_median(shelf, "gutter_taper", "Widening along a gutter", page, taper, "%"),
        row_median(
            shelf,
            "gutter_turn",
            "Turn of a gutter from level or upright",
            page,
            np.abs(table["angle_deg"].to_numpy(dtype=float)),
            "deg",
        ),
        page_mean(shelf, "gutter_ratio", "Tier gutter against column gutter", ratio, "times"),
    )


def _off_the_book(shelf: Shelf) -> np.ndarray:
    """How far each page's tier gutter lies from its book's median, in % of that."""
    width = shelf.pages["tier_gutter_share"].astype(float)
    usual = width.groupby(shelf.pages["book"]).transform("median")
    with np.errstate(invalid="ignore", divide="ignore"):
        off = 100 * np.abs(width / usual - 1.0)
    return np.where(np.isfinite(off), off, np.nan)


def margin_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Margins by edge in mm where known, else as a share of the page."""
    found = []
    for edge in PageEdge:
        mm = shelf.pages[f"margin_{edge}_mm"].to_numpy(dtype=float)
        if np.isfinite(mm).mean() >= 0.5:
            values, unit = mm, "mm"
        else:
            values, unit = 100 * shelf.pages[f"margin_{edge}_share"].to_numpy(dtype=float), "%"
        page = np.arange(len(shelf))
        key = f"margin_{edge}"
        found.append(row_median(shelf, key, f"Margin, {edge}", page, values, unit))
    cover = 100 * shelf.pages["density"].to_numpy(dtype=float)
    found.append(page_mean(shelf, "density", "Share of the page covered by panels", cover, "%"))
    return tuple(found)


def bleed_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Share of pages with a bleed, at all, by edge, and by side of the open book."""
    flags = {e: shelf.bleeds(str(e)) for e in PageEdge}
    some = np.logical_or.reduce(list(flags.values()))
    side = shelf.pages["page_side"].to_numpy()
    found = [page_mean(shelf, "bleed_share", "Pages with a bleed", 100.0 * some, "%")]
    found += [
        page_mean(shelf, f"bleed_{e}_share", f"Pages that bleed at the {e}", 100.0 * flag, "%")
        for e, flag in flags.items()
    ]
    for name in ("left", "right"):
        values = np.where(side == name, 100.0 * some, np.nan)
        found.append(
            page_mean(shelf, f"bleed_on_{name}_page", f"Bleeds on {name}-hand pages", values, "%")
        )
    return tuple(found)


def border_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Weight and wobble of drawn borders."""
    panels, page = shelf.panels, shelf.page_of_panel
    sure = panels["confidence"].fillna(1.0).to_numpy(dtype=float)
    return (
        row_median(
            shelf,
            "border_mm",
            "Border weight",
            page,
            panels["border_mm"].to_numpy(dtype=float),
            "mm",
            sure,
        ),
        row_median(
            shelf,
            "wobble_mm",
            "Wobble of the borders",
            page,
            panels["wobble_mm"].to_numpy(dtype=float),
            "mm",
            sure,
        ),
    )


def gutter_map(shelf: Shelf, rows: int = 60, columns: int = 40) -> np.ndarray:
    """Where gutters fall: share of pages whose panels leave a cell of the page free.

    Returns
    -------
    ndarray of float, shape (rows, columns)
        0 where every page has a panel, 1 where none has.
    """
    panels, page = shelf.panels, shelf.page_of_panel
    box = panels[["x_min_share", "y_min_share", "x_max_share", "y_max_share"]]
    cells = np.clip(box.to_numpy(dtype=float), 0, 1) * [columns, rows, columns, rows]
    x0, y0, x1, y1 = np.rint(cells).astype(np.int64).T
    good = page >= 0
    # Each page's cover is the union of its boxes; summed boxes (clipped at one later) would
    # count overlaps twice, which matters only for insets: those are left out.
    good &= ~panels["is_inset"].fillna(False).to_numpy(dtype=bool)
    cover = np.zeros((rows + 1, columns + 1))
    for ys, xs, sign in ((y0, x0, 1), (y0, x1, -1), (y1, x0, -1), (y1, x1, 1)):
        np.add.at(cover, (ys[good], xs[good]), sign)
    covered = cover.cumsum(axis=0).cumsum(axis=1)[:rows, :columns] / max(len(shelf), 1)
    return np.clip(1.0 - covered, 0.0, 1.0)
