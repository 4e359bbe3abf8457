"""Drift over time and between books: trends, change points, what is new in the last book."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.study.shelf import Shelf
from panelscan.study.uncertainty import RESAMPLES, interval

TRACKED = {
    "panel_count": "panels a page",
    "tier_count": "tiers a page",
    "tier_gutter_mm": "gutter between tiers, mm",
    "column_gutter_mm": "gutter within a tier, mm",
    "clarity": "reading clarity",
    "contrast": "largest panel against the smallest",
}
LEAST_BOOKS_FOR_TREND = 4
PENALTY = 3.0


@dataclass(frozen=True, slots=True)
class Trend:
    """Change of a page measure from book to book.

    Parameters
    ----------
    measure, title : str
        Column of the pages table and its words.
    slope, low, high : float
        Change a book with its 90 % interval (bootstrap over books).
    books : int
        Number of books.
    """

    measure: str
    title: str
    slope: float
    low: float
    high: float
    books: int

    @property
    def stands_out(self) -> bool:
        """Whether the interval leaves zero out."""
        return bool(np.isfinite(self.low) and (self.low > 0 or self.high < 0))


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """A book after which a measure's level is another."""

    measure: str
    title: str
    after_book: str
    before: float
    after: float


@dataclass(frozen=True, eq=False)
class BookMeans:
    """Mean of a page measure in each book.

    Parameters
    ----------
    books : list of str
        In order.
    means, errors : ndarray, shape (B,)
        Mean and its standard error: pages sampled and readings left open together.
    imputed : ndarray, shape (M, B)
        Mean in each imputed library.
    """

    books: list[str]
    means: np.ndarray
    errors: np.ndarray
    imputed: np.ndarray

    @property
    def known(self) -> np.ndarray:
        """Which books have the measure."""
        return np.asarray(np.isfinite(self.means))


def book_means(shelf: Shelf, measure: str) -> BookMeans:
    """Mean of a column of pages in each book.

    References
    ----------
    Standard errors add by Rubin's rule: within + (1 + 1/M) between (Rubin, D. B. 1987,
    "Multiple imputation for nonresponse in surveys", Wiley; from memory).
    """
    names = shelf.books
    codes = shelf.book_codes
    means, within = [], []
    for values in shelf.spread(shelf.numbers(measure)):
        good = np.isfinite(values)
        mean, variance = _moments(codes[good], values[good], len(names))
        means.append(mean)
        within.append(variance)
    imputed = np.array(means)
    between = imputed.var(axis=0, ddof=1) if len(imputed) > 1 else np.zeros(len(names))
    errors = np.sqrt(np.mean(within, axis=0) + (1 + 1 / len(imputed)) * between)
    return BookMeans(list(names), imputed.mean(axis=0), errors, imputed)


def _moments(codes: np.ndarray, values: np.ndarray, books: int) -> tuple[np.ndarray, np.ndarray]:
    """Mean of each book and the variance of that mean (NaN for a book without values)."""
    count = np.bincount(codes, minlength=books).astype(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(codes, weights=values, minlength=books) / count
        squares = np.bincount(codes, weights=(values - mean[codes]) ** 2, minlength=books)
        variance = np.where(count > 1, squares / np.maximum(count - 1, 1), 0.0) / count
    return mean, variance


def trends(shelf: Shelf, seed: int = 0) -> tuple[Trend, ...]:
    """Straight-line trend of each tracked measure over the books, in their order.

    Each resampled library takes the books' means from one of the imputed libraries.
    """
    rng = np.random.default_rng(seed)
    found = []
    for measure, title in TRACKED.items():
        told = book_means(shelf, measure)
        books = np.flatnonzero(told.known)
        if len(books) < LEAST_BOOKS_FOR_TREND:
            continue
        x, y = books.astype(float), told.imputed[:, books]
        draws = rng.integers(0, len(x), size=(RESAMPLES, len(x)))
        library = (np.arange(RESAMPLES) % len(y))[:, None]
        low, high = interval(_slopes(x[draws], y[library, draws]))
        slope = float(_slopes(x[None], told.means[None, books])[0])
        found.append(Trend(measure, title, slope, low, high, len(books)))
    return tuple(found)


def _slopes(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    xc = x - x.mean(axis=1, keepdims=True)
    yc = y - y.mean(axis=1, keepdims=True)
    power = (xc**2).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(power > 0, (xc * yc).sum(axis=1) / power, np.nan)


def change_points(values: np.ndarray, errors: np.ndarray | None = None) -> list[int]:
    """Places where the level of a series changes (index of the first value of a new level).

    Parameters
    ----------
    values : ndarray, shape (N,)
        A series, e.g. book means.
    errors : ndarray, shape (N,) or None
        Standard errors; where None the spread is taken from successive differences.

    Notes
    -----
    Optimal partitioning under squared error with a penalty of ``3 log N`` in units of the
    noise variance (Jackson, B. et al. 2005, "An algorithm for optimal partitioning of data
    on an interval", IEEE Signal Processing Letters 12, doi 10.1109/LSP.2001.838216).

    Examples
    --------
    >>> change_points(np.array([1.0, 1.1, 0.9, 1.0, 3.0, 3.1, 2.9, 3.0]))
    [4]
    """
    y = np.asarray(values, dtype=float)
    count = len(y)
    if count < 4:
        return []
    noise = _noise(y, errors)
    sums = np.concatenate([[0.0], np.cumsum(y)])
    squares = np.concatenate([[0.0], np.cumsum(y**2)])
    price = PENALTY * np.log(count) * noise
    best, back = np.full(count + 1, np.inf), np.zeros(count + 1, dtype=int)
    best[0] = -price
    for end in range(1, count + 1):
        start = np.arange(end)
        level = (sums[end] - sums[start]) ** 2 / (end - start)
        costs = best[start] + squares[end] - squares[start] - level + price
        back[end] = int(np.argmin(costs))
        best[end] = costs[back[end]]
    points, end = [], count
    while end > 0:
        end = int(back[end])
        if end:
            points.append(end)
    return points[::-1]


def _noise(y: np.ndarray, errors: np.ndarray | None) -> float:
    """Variance of the noise: from the errors, else robustly from successive differences."""
    steps = np.diff(y)
    robust = (np.median(np.abs(steps)) / 0.6745) ** 2 / 2
    stated = float(np.mean(np.square(errors))) if errors is not None else 0.0
    return float(max(robust, stated, 1e-12))


def book_changes(shelf: Shelf) -> tuple[ChangePoint, ...]:
    """Change points of each tracked measure over the books."""
    found = []
    for measure, title in TRACKED.items():
        told = book_means(shelf, measure)
        kept = [b for b, g in zip(told.books, told.known, strict=True) if g]
        y = told.means[told.known]
        starts = [0, *change_points(y, told.errors[told.known]), len(y)]
        for first, at, end in zip(starts, starts[1:], starts[2:], strict=False):
            before, after = float(y[first:at].mean()), float(y[at:end].mean())
            found.append(ChangePoint(measure, title, kept[at - 1], before, after))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class NewPattern:
    """A tier pattern that the last book uses and no book before it.

    Parameters
    ----------
    pattern : str
        Panels in each tier from the top.
    pages : int
        Pages of the last book with it.
    example : str
        Id of the surest of them.
    """

    pattern: str
    pages: int
    example: str


def new_in_last_book(shelf: Shelf) -> tuple[NewPattern, ...]:
    """Tier patterns used in the last book and in none before, most used first."""
    if len(shelf.books) < 2:
        return ()
    last = shelf.book_codes == len(shelf.books) - 1
    old = set(shelf.pages.loc[~last, "tier_pattern"].dropna())
    pages = shelf.pages[last & ~shelf.pages["tier_pattern"].isin(old).to_numpy()]
    pages = pages[pages["tier_pattern"].notna()]
    found = []
    for pattern, rows in pages.groupby("tier_pattern", sort=True, observed=True):
        best = int(np.argmax(np.nan_to_num(rows["confidence"].to_numpy(dtype=float))))
        found.append(NewPattern(str(pattern), len(rows), str(rows["page_id"].iloc[best])))
    return tuple(sorted(found, key=lambda n: (-n.pages, n.pattern)))
