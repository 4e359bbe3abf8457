"""How panel counts follow each other from page to page, and what stands at page turns."""

from __future__ import annotations

import numpy as np

from panelscan.study.estimate import page_mean
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf


def autocorrelation(values: np.ndarray, lag: int = 1) -> float:
    """Autocorrelation of a series at a lag (deviations from the common mean).

    References
    ----------
    Box, G. E. P. and Jenkins, G. M. (1976), "Time series analysis": r_k = c_k / c_0.

    Examples
    --------
    >>> autocorrelation(np.array([1.0, -1.0, 1.0, -1.0]))
    -0.75
    """
    centered = np.asarray(values, dtype=float) - np.mean(values)
    power = float(centered @ centered)
    if power == 0 or len(centered) <= lag:
        return float("nan")
    return float(centered[lag:] @ centered[:-lag] / power)


def count_rhythm(shelf: Shelf) -> float:
    """Lag-one autocorrelation of panel counts, mean over books weighted by length."""
    total, weight = 0.0, 0
    for _, book in shelf.pages.groupby("book", sort=True):
        counts = book["panel_count"].to_numpy(dtype=float)
        value = autocorrelation(counts) if len(counts) >= 8 else float("nan")
        if np.isfinite(value):
            total += value * len(counts)
            weight += len(counts)
    return total / weight if weight else float("nan")


def around_splashes(shelf: Shelf) -> tuple[Figure, Figure]:
    """Mean panels on the page before and on the page after a splash page of the same book."""
    counts = shelf.counts.astype(float)
    books = shelf.pages["book"].astype("category").cat.codes.to_numpy()
    splash = shelf.pages["panel_count"].to_numpy() == 1
    before = np.append(splash[1:] & (books[1:] == books[:-1]), False)
    after = np.insert(splash[:-1] & (books[1:] == books[:-1]), 0, False)
    return (
        page_mean(
            shelf,
            "panels_before_splash",
            "Panels on the page before a splash",
            np.where(before, counts, np.nan),
        ),
        page_mean(
            shelf,
            "panels_after_splash",
            "Panels on the page after a splash",
            np.where(after, counts, np.nan),
        ),
    )


def at_page_turns(shelf: Shelf) -> Figure:
    """Area of the last panel before a page turn, as a multiple of the mean panel there.

    The page before a turn is the right-hand one in left-to-right books, the left-hand one in
    right-to-left books.
    """
    pages = shelf.pages
    outer = np.where(pages["direction"].to_numpy() == "rtl", "left", "right")
    turns = pages["page_side"].to_numpy() == outer
    panels, page = shelf.panels, shelf.page_of_panel
    order = panels["reading_order"].to_numpy()
    last = (page >= 0) & (order == pages["panel_count"].to_numpy()[np.maximum(page, 0)])
    area = panels["area_share"].to_numpy(dtype=float)
    sums = np.bincount(page[page >= 0], weights=area[page >= 0], minlength=len(pages))
    count = np.bincount(page[page >= 0], minlength=len(pages))
    ratio = np.full(len(pages), np.nan)
    at = page[last]
    ratio[at] = area[last] / (sums[at] / count[at])
    ratio[~turns | (count < 2)] = np.nan
    return page_mean(
        shelf,
        "turn_panel_ratio",
        "Last panel before a page turn, against the mean panel there",
        ratio,
        "times",
    )
