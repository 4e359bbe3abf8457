"""How panel counts follow each other from page to page, and what stands at page turns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelscan.study.estimate import page_mean, row_share
from panelscan.study.figures import Z_90, Figure
from panelscan.study.shelf import Shelf

LEAST_PAGES = 8
"""Pages of a book from which its counts are said to follow each other or not."""


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


def rhythm_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Spread of panel counts within a book, and how much a count is tied to the next one."""
    return (_count_spread(shelf), count_tie(shelf))


def _count_spread(shelf: Shelf) -> Figure:
    """Standard deviation of a page's panel count about its book's mean."""
    codes = shelf.book_codes
    pages = np.bincount(codes)
    free = len(shelf) / max(len(shelf) - int((pages > 0).sum()), 1)
    squares = []
    for counts in shelf.counts:
        mean = np.bincount(codes, weights=counts) / np.maximum(pages, 1)
        squares.append((counts - mean[codes]) ** 2 * free)
    title = "Spread of panel counts within a book (standard deviation)"
    square = page_mean(shelf, "count_spread", title, np.array(squares))
    value, low, high = (
        float(np.sqrt(max(v, 0.0))) for v in (square.value, square.low, square.high)
    )
    return replace(square, value=value, low=low, high=high)


def count_tie(shelf: Shelf) -> Figure:
    """Lag-one autocorrelation of panel counts, mean over books weighted by length.

    References
    ----------
    The interval is normal with variance (1 - r^2) / n for a book of n pages (Bartlett, M. S.
    1946, "On the theoretical specification and sampling properties of autocorrelated
    time-series", Supplement to the Journal of the Royal Statistical Society 8, doi
    10.2307/2983611), widened by what the readings leave open (Rubin 1987).
    """
    codes = shelf.book_codes
    starts = np.flatnonzero(np.diff(codes, prepend=-1))
    ends = np.append(starts[1:], len(codes))
    found = []
    for counts in shelf.counts:
        books = [counts[a:b] for a, b in zip(starts, ends, strict=True) if b - a >= LEAST_PAGES]
        ties = np.array([(autocorrelation(book), len(book)) for book in books]).reshape(-1, 2)
        found.append(_weighted(ties[np.isfinite(ties[:, 0])]))
    values, variances = np.array(found).T
    value = float(np.mean(values))
    between = float(np.var(values, ddof=1)) if len(values) > 1 else 0.0
    half = Z_90 * float(np.sqrt(np.mean(variances) + (1 + 1 / len(values)) * between))
    known = int(np.sum(np.maximum(ends - starts, 0)[ends - starts >= LEAST_PAGES]))
    title = "Tie of a page's panel count to the next page's (-1 to 1)"
    return Figure("count_tie", title, value, value - half, value + half, "", known)


def _weighted(ties: np.ndarray) -> tuple[float, float]:
    """Mean of autocorrelations by length, and its variance."""
    if not len(ties):
        return float("nan"), float("nan")
    share = ties[:, 1] / ties[:, 1].sum()
    variance = (share**2 * np.maximum(1 - ties[:, 0] ** 2, 0.0) / ties[:, 1]).sum()
    return float(share @ ties[:, 0]), float(variance)


def splash_neighbours(shelf: Shelf, offset: int) -> np.ndarray:
    """Panels of the page so many pages from a splash page of the same book, else NaN.

    Parameters
    ----------
    offset : int
        -1 for the page before a splash, 1 for the page after it.

    Returns
    -------
    ndarray, shape (M, P)
        At the neighbouring page's place. Splash pages themselves do not count.
    """
    counts, books = shelf.counts, shelf.book_codes
    found = np.full(counts.shape, np.nan)
    pages = len(shelf)
    here = np.arange(max(0, offset), min(pages, pages + offset))
    there = here - offset
    beside = (books[here] == books[there]) & (counts[:, there] == 1) & (counts[:, here] != 1)
    found[:, here] = np.where(beside, counts[:, here], np.nan)
    return found


def around_splashes(shelf: Shelf) -> tuple[Figure, Figure]:
    """Mean panels on the page before and on the page after a splash page of the same book."""
    return (
        page_mean(
            shelf,
            "panels_before_splash",
            "Panels on the page before a splash",
            splash_neighbours(shelf, -1),
        ),
        page_mean(
            shelf,
            "panels_after_splash",
            "Panels on the page after a splash",
            splash_neighbours(shelf, 1),
        ),
    )


def before_turn(shelf: Shelf) -> np.ndarray:
    """Whether each panel row is the last one before a page turn, bool, shape (V,).

    The page before a turn is the right-hand one in left-to-right books, the left-hand one in
    right-to-left books. Pages of a single panel are left out.
    """
    outer = np.where(shelf.pages["direction"].eq("rtl").to_numpy(dtype=bool), "left", "right")
    turns = (shelf.pages["page_side"].to_numpy(dtype=object) == outer)[shelf.page_of_sheet]
    rows = shelf.panel_rows
    count = np.bincount(rows.sheet, minlength=len(shelf.page_of_sheet))
    last = rows.numbers("reading_order") == count[rows.sheet]
    return np.asarray(last & turns[rows.sheet] & (count[rows.sheet] > 1))


def at_page_turns(shelf: Shelf) -> tuple[Figure, ...]:
    """What the last panel before a page turn is, beside the other panels."""
    rows = shelf.panel_rows
    at = before_turn(shelf)
    sheet, sure = rows.sheet, rows.confidence
    area = np.nan_to_num(rows.numbers("area_share"))
    size = len(shelf.page_of_sheet)
    mean = np.bincount(sheet, weights=area, minlength=size) / np.maximum(
        np.bincount(sheet, minlength=size), 1
    )
    largest = np.zeros(size)
    np.maximum.at(largest, sheet, area)
    ratio = np.full(size, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio[sheet[at]] = area[at] / mean[sheet[at]]
    title = "Last panel before a page turn, against the mean panel there"
    full, wide = rows.flags("is_full_tier"), rows.numbers("aspect") > 4 / 3
    several = np.bincount(sheet, minlength=size)[sheet] > 1

    def share(key: str, words: str, holds: np.ndarray, among: np.ndarray) -> Figure:
        return row_share(shelf, key, words, sheet, holds, sure, among)

    return (
        page_mean(shelf, "turn_panel_ratio", title, ratio, "times"),
        share("turn_full_tier", "Full-tier, last panel before a turn", full, at),
        share("other_full_tier", "Full-tier, other panels", full, several & ~at),
        share("turn_wide", "Wide, last panel before a turn", wide, at),
        share("other_wide", "Wide, other panels", wide, several & ~at),
        share(
            "turn_largest",
            "Largest of its page, last panel before a turn",
            area >= largest[sheet] - 1e-9,
            at,
        ),
        share(
            "other_largest",
            "Largest of its page, other panels",
            area >= largest[sheet] - 1e-9,
            several & ~at,
        ),
    )
