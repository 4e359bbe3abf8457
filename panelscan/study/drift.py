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


def book_means(shelf: Shelf, measure: str) -> tuple[list[str], np.ndarray, np.ndarray]:
    """Books in order, mean of a page measure in each, and the mean's standard error."""
    grouped = shelf.pages.groupby("book", sort=True)[measure]
    means = grouped.mean().to_numpy(dtype=float)
    counts = np.maximum(grouped.count().to_numpy(), 1)
    spread = grouped.std().fillna(0.0).to_numpy(dtype=float)
    return [str(b) for b in grouped.mean().index], means, spread / np.sqrt(counts)


def trends(shelf: Shelf, seed: int = 0) -> tuple[Trend, ...]:
    """Straight-line trend of each tracked measure over the books, in their order."""
    rng = np.random.default_rng(seed)
    found = []
    for measure, title in TRACKED.items():
        _, means, _ = book_means(shelf, measure)
        good = np.isfinite(means)
        if good.sum() < LEAST_BOOKS_FOR_TREND:
            continue
        x, y = np.flatnonzero(good).astype(float), means[good]
        draws = rng.integers(0, len(x), size=(RESAMPLES, len(x)))
        low, high = interval(_slopes(x[draws], y[draws]))
        slope = float(_slopes(x[None], y[None])[0])
        found.append(Trend(measure, title, slope, low, high, int(good.sum())))
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
        books, means, errors = book_means(shelf, measure)
        good = np.isfinite(means)
        kept = [b for b, g in zip(books, good, strict=True) if g]
        y = means[good]
        starts = [0, *change_points(y, errors[good]), len(y)]
        for first, at, end in zip(starts, starts[1:], starts[2:], strict=False):
            found.append(
                ChangePoint(
                    measure,
                    title,
                    kept[at - 1],
                    float(y[first:at].mean()),
                    float(y[at:end].mean()),
                )
            )
    return tuple(found)


def new_in_last_book(shelf: Shelf) -> tuple[str, ...]:
    """Tier patterns used in the last book and in none before."""
    books = sorted(shelf.pages["book"].unique())
    if len(books) < 2:
        return ()
    last = shelf.pages["book"] == books[-1]
    old = set(shelf.pages.loc[~last, "tier_pattern"].dropna())
    return tuple(sorted(set(shelf.pages.loc[last, "tier_pattern"].dropna()) - old))
