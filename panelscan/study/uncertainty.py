"""Intervals that hold both what the sample leaves open and what detection leaves open.

Each figure is worked out on many resampled libraries. A resampled library draws blocks of
pages with replacement (a block is a book where there are enough books, else a page, else a
bundle of pages) and, for every page, one of the readings that the detector kept, with its
probability (multiple imputation). Values are kept as histograms for each block, so that
resampling costs the same for a hundred pages and for a million.

References
----------
Efron, B. (1979), "Bootstrap methods: another look at the jackknife", Annals of Statistics 7,
doi 10.1214/aos/1176344552. Rubin, D. B. (1987), "Multiple imputation for nonresponse in
surveys", Wiley (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

IMPUTATIONS = 8
RESAMPLES = 400
LEAST_BOOKS = 12
MOST_BLOCKS = 1000
LEVEL = 0.90
FINE_BINS = 512
EDGE_SAMPLE = 100_000

Statistic = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Blocks:
    """Which block each page belongs to, and the resampling weights of the blocks.

    Parameters
    ----------
    of_page : ndarray of int, shape (P,)
        Block of each page.
    weights : ndarray of float, shape (R, K)
        How often block k stands in resampled library r.
    unit : str
        ``"book"`` or ``"page"``: what was resampled.
    """

    of_page: np.ndarray
    weights: np.ndarray
    unit: str

    @classmethod
    def draw(cls, books: np.ndarray, seed: int = 0, resamples: int = RESAMPLES) -> Blocks:
        """Blocks for pages of the given books.

        Parameters
        ----------
        books : ndarray of int, shape (P,)
            Code of each page's book.
        seed : int
            The same seed gives the same intervals.
        resamples : int
            Number of resampled libraries.
        """
        rng = np.random.default_rng(seed)
        names, codes = np.unique(books, return_inverse=True)
        pages = len(books)
        if len(names) >= LEAST_BOOKS:
            of_page, unit = codes % MOST_BLOCKS if len(names) > MOST_BLOCKS else codes, "book"
        else:
            shuffled = rng.permutation(pages)
            of_page = np.empty(pages, dtype=np.int64)
            of_page[shuffled] = np.arange(pages) % MOST_BLOCKS
            unit = "page"
        count = int(of_page.max()) + 1 if pages else 0
        if count == 0:
            return cls(of_page, np.zeros((resamples, 0)), unit)
        weights = rng.multinomial(count, np.full(count, 1.0 / count), size=resamples)
        return cls(of_page, weights.astype(np.float64), unit)

    @property
    def count(self) -> int:
        """Number of blocks."""
        return int(self.weights.shape[1])


def block_sums(blocks: Blocks, block: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Sum of values by block, shape (K,); ``block`` names the block of each value."""
    return np.bincount(block, weights=values, minlength=blocks.count)


def block_histograms(
    blocks: Blocks, block: np.ndarray, bins: np.ndarray, count: int, weights: np.ndarray
) -> np.ndarray:
    """Weighted histogram of each block.

    Parameters
    ----------
    blocks : Blocks
        The blocks of pages.
    block : ndarray of int, shape (V,)
        Block of each value.
    bins : ndarray of int, shape (V,)
        Bin of each value.
    count : int
        Number of bins, B.
    weights : ndarray of float, shape (V,)
        Weight of each value.

    Returns
    -------
    ndarray, shape (K, B)
    """
    flat = block * count + bins
    size = blocks.count * count
    return np.bincount(flat, weights=weights, minlength=size).reshape(blocks.count, count)


def fine_edges(values: np.ndarray) -> np.ndarray:
    """Bin edges, finer where values are dense; robust to a few far-off values."""
    low, high = float(values.min()), float(values.max())
    if high - low < 1e-12:
        return np.array([low - 0.5e-6, low + 0.5e-6])
    some = values[:: max(len(values) // EDGE_SAMPLE, 1)]
    inner = np.quantile(some, np.linspace(0, 1, FINE_BINS // 2 + 1))
    even = np.linspace(low, high, FINE_BINS // 2 + 1)
    return np.unique(np.concatenate([[low, high], inner, even]))


def interval(replicates: np.ndarray, level: float = LEVEL) -> tuple[float, float]:
    """Percentile interval of replicates; NaN where there are none."""
    good = replicates[np.isfinite(replicates)]
    if good.size < 2:
        return float("nan"), float("nan")
    tail = (1 - level) / 2
    low, high = np.quantile(good, [tail, 1 - tail])
    return float(low), float(high)


def mean_of(histograms: np.ndarray, centers: np.ndarray) -> np.ndarray:
    """Mean of each histogram (last axis = bins)."""
    total = histograms.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(histograms @ centers / total)


def quantile_of(histograms: np.ndarray, edges: np.ndarray, share: float) -> np.ndarray:
    """Quantile of each histogram, straight within its bin.

    Parameters
    ----------
    histograms : ndarray, shape (R, B)
        Weights in each bin.
    edges : ndarray, shape (B + 1,)
        Edges of the bins.
    share : float
        0.5 for the median.

    Notes
    -----
    A bin may hold a little less than nothing where readings of a sample of pages stand for
    all pages; the running sum never falls for that.
    """
    running = np.maximum.accumulate(np.cumsum(histograms, axis=-1), axis=-1)
    total = running[:, -1:]
    target = share * total
    at = np.minimum((running < target).sum(axis=-1), histograms.shape[-1] - 1)
    rows = np.arange(len(histograms))
    before = np.where(at > 0, running[rows, np.maximum(at - 1, 0)], 0.0)
    inside = running[rows, at] - before
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(inside > 0, (target[:, 0] - before) / inside, 0.0)
    value = edges[at] + part * (edges[at + 1] - edges[at])
    return np.where(total[:, 0] > 0, value, np.nan)


def entropy_of(histograms: np.ndarray) -> np.ndarray:
    """Shannon entropy (natural logarithm) of each histogram."""
    total = histograms.sum(axis=-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        p = histograms / total
        terms = np.where(p > 0, -p * np.log(p), 0.0)
    return np.where(total[..., 0] > 0, terms.sum(axis=-1), np.nan)
