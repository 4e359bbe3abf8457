"""Gutters, margins, bleeds and borders: the air around and between panels."""

from __future__ import annotations

import numpy as np

from panelscan.model.page import PageEdge
from panelscan.study.estimate import page_mean, row_median
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf


def gutter_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Widths between tiers and between panels in a tier, in mm and as a share of the page."""
    rows = shelf.gutter_rows
    widths = {"mm": rows.numbers("width_mm"), "share": 100 * rows.numbers("width_share")}
    found = []
    for name, title in (("tier", "Gutter between tiers"), ("column", "Gutter within a tier")):
        own = np.flatnonzero(rows.equals("kind", name))
        for unit, words, sign in (("mm", title, "mm"), ("share", f"{title}, of page width", "%")):
            key = f"{name}_gutter_{unit}"
            values = widths[unit][own]
            sure = shelf.gutter_confidence[own]
            found.append(row_median(shelf, key, words, rows.sheet[own], values, sign, sure))
    return (*found, *_evenness(shelf))


def _evenness(shelf: Shelf) -> tuple[Figure, ...]:
    rows = shelf.gutter_rows
    mean = rows.numbers("width_px")
    spread = rows.numbers("width_max_px") - rows.numbers("width_min_px")
    with np.errstate(invalid="ignore", divide="ignore"):
        taper = np.where(mean > 0, 100 * spread / mean, np.nan)
        ratio = shelf.numbers("tier_gutter_share") / shelf.numbers("column_gutter_share")
    ratio[~np.isfinite(ratio)] = np.nan
    turn = np.abs(rows.numbers("angle_deg"))
    title = "Unevenness of a page's gutters (coefficient of variation)"
    off = "A page's tier gutter off its book's usual one"
    straight, sure = "Turn of a gutter from level or upright", shelf.gutter_confidence
    return (
        page_mean(shelf, "gutter_cv", title, 100 * shelf.numbers("gutter_cv"), "%"),
        page_mean(shelf, "gutter_drift", off, _off_the_book(shelf), "%"),
        row_median(shelf, "gutter_taper", "Widening along a gutter", rows.sheet, taper, "%", sure),
        row_median(shelf, "gutter_turn", straight, rows.sheet, turn, "deg", sure),
        page_mean(shelf, "gutter_ratio", "Tier gutter against column gutter", ratio, "times"),
    )


def _off_the_book(shelf: Shelf) -> np.ndarray:
    """How far each sheet's tier gutter lies from its book's median, in % of that."""
    import pandas as pd

    width = shelf.numbers("tier_gutter_share")
    best = pd.Series(width[: len(shelf)])
    usual = best.groupby(shelf.book_codes).transform("median").to_numpy()
    with np.errstate(invalid="ignore", divide="ignore"):
        off = 100 * np.abs(width / usual[shelf.page_of_sheet] - 1.0)
    return np.where(np.isfinite(off), off, np.nan)


def margin_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Margins by edge in mm where known, else as a share of the page; use of the live area."""
    found = []
    sheet = np.arange(len(shelf.page_of_sheet))
    for edge in PageEdge:
        values, unit = shelf.numbers(f"margin_{edge}_mm"), "mm"
        if np.isfinite(values).mean() < 0.5:
            values, unit = 100 * shelf.numbers(f"margin_{edge}_share"), "%"
        found.append(row_median(shelf, f"margin_{edge}", f"Margin, {edge}", sheet, values, unit))
    cover = 100 * shelf.numbers("density")
    shares = [shelf.numbers(f"margin_{edge}_share") for edge in PageEdge]
    within = (1 - shares[0] - shares[2]) * (1 - shares[1] - shares[3])
    with np.errstate(invalid="ignore", divide="ignore"):
        live = np.where(within > 0.05, np.minimum(cover / within, 100.0), np.nan)
    title = "Share of the area within a page's own margins that panels take"
    return (
        *found,
        page_mean(shelf, "density", "Share of the page covered by panels", cover, "%"),
        page_mean(shelf, "live_use", title, live, "%"),
    )


def bleed_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Share of pages with a bleed, at all, by edge, and by side of the open book."""
    flags = {e: shelf.numbers(f"bleed_{e}") == 1.0 for e in PageEdge}
    some = np.logical_or.reduce(list(flags.values()))
    side = shelf.words("page_side")[: len(shelf)][shelf.page_of_sheet]
    found = [page_mean(shelf, "bleed_share", "Pages with a bleed", 100.0 * some, "%")]
    found += [
        page_mean(shelf, f"bleed_{e}_share", f"Pages that bleed at the {e}", 100.0 * flag, "%")
        for e, flag in flags.items()
    ]
    for name in ("left", "right"):
        title = f"Bleeds on {name}-hand pages"
        values = np.where(side == name, 100.0 * some, np.nan)
        found.append(page_mean(shelf, f"bleed_on_{name}_page", title, values, "%"))
        for e, flag in flags.items():
            values = np.where(side == name, 100.0 * flag, np.nan)
            key = f"bleed_{e}_on_{name}_page"
            found.append(page_mean(shelf, key, f"{title}, at the {e}", values, "%"))
    return tuple(found)


def border_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Weight and wobble of drawn borders."""
    rows = shelf.panel_rows
    wanted = (("border_mm", "Border weight"), ("wobble_mm", "Wobble of the borders"))
    return tuple(
        row_median(shelf, key, title, rows.sheet, rows.numbers(key), "mm", rows.confidence)
        for key, title in wanted
    )
