"""From values on pages to figures with intervals."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf
from panelscan.study.uncertainty import block_histograms, block_sums, interval, quantile_of

FINE_BINS = 512


def page_mean(shelf: Shelf, key: str, title: str, values: np.ndarray, unit: str = "") -> Figure:
    """Mean over pages of a value that may differ between imputed libraries.

    Parameters
    ----------
    shelf : Shelf
        Pages studied.
    key, title, unit : str
        As for `Figure`.
    values : ndarray, shape (P,) or (M, P)
        Value of each page (in each imputed library); NaN where there is none.
    """
    table = np.atleast_2d(values).astype(float)
    pages = np.arange(table.shape[1])
    replicates, centers = [], []
    for imputed, weights in _shared_out(shelf, table):
        good = np.isfinite(imputed)
        total = block_sums(shelf.blocks, pages[good], imputed[good])
        count = block_sums(shelf.blocks, pages[good], np.ones(int(good.sum())))
        replicates.append(_ratio(weights @ total, weights @ count))
        centers.append(_ratio(np.array([total.sum()]), np.array([count.sum()]))[0])
    low, high = interval(np.concatenate(replicates))
    known = int(np.isfinite(table[0]).sum())
    return Figure(key, title, _mean_or_nan(centers), low, high, unit, known)


def row_median(
    shelf: Shelf,
    key: str,
    title: str,
    page: np.ndarray,
    values: np.ndarray,
    unit: str = "",
    weights: np.ndarray | None = None,
) -> Figure:
    """Median over panels or gutters, weighted by confidence, resampled with their pages.

    Parameters
    ----------
    page : ndarray of int, shape (V,)
        Row in ``shelf.pages`` of each value.
    values : ndarray, shape (V,)
        NaN where not known.
    weights : ndarray, shape (V,) or None
        Confidence of each.
    """

    def statistic(histograms: np.ndarray, edges: np.ndarray) -> np.ndarray:
        return quantile_of(histograms, edges, 0.5)

    return _row_statistic(shelf, (key, title, unit), page, values, weights, statistic)


def row_share(
    shelf: Shelf,
    key: str,
    title: str,
    page: np.ndarray,
    holds: np.ndarray,
    weights: np.ndarray | None = None,
) -> Figure:
    """Share (in %) of panels or gutters for which something holds."""
    good = page >= 0
    weight = np.ones(len(page)) if weights is None else weights
    yes = np.where(holds, weight, 0.0)
    replicates, centers = [], []
    for number, drawn in _imputations(shelf):
        rows = good & shelf.in_library(number, page)
        part = block_sums(shelf.blocks, page[rows], yes[rows])
        whole = block_sums(shelf.blocks, page[rows], weight[rows])
        replicates.append(_ratio(drawn @ part, drawn @ whole))
        centers.append(_ratio(np.array([part.sum()]), np.array([whole.sum()]))[0])
    low, high = interval(np.concatenate(replicates))
    value = _mean_or_nan(centers)
    return Figure(key, title, 100 * value, 100 * low, 100 * high, "%", int(good.sum()))


def _row_statistic(
    shelf: Shelf,
    names: tuple[str, str, str],
    page: np.ndarray,
    values: np.ndarray,
    weights: np.ndarray | None,
    statistic: Callable[[np.ndarray, np.ndarray], np.ndarray],
) -> Figure:
    key, title, unit = names
    values = np.asarray(values, dtype=float)
    good = np.isfinite(values) & (page >= 0)
    if not good.any():
        return Figure(key, title, float("nan"), float("nan"), float("nan"), unit, 0)
    edges = _edges(values[good])
    bins = np.clip(np.searchsorted(edges, values, side="right") - 1, 0, len(edges) - 2)
    weight = np.ones(len(values)) if weights is None else np.asarray(weights, dtype=float)
    replicates, centers = [], []
    for number, drawn in _imputations(shelf):
        rows = good & shelf.in_library(number, page)
        table = block_histograms(shelf.blocks, page[rows], bins[rows], len(edges) - 1, weight[rows])
        replicates.append(statistic(drawn @ table, edges))
        centers.append(statistic(table.sum(axis=0, keepdims=True), edges)[0])
    low, high = interval(np.concatenate(replicates))
    return Figure(key, title, _mean_or_nan(centers), low, high, unit, int(good.sum()))


def _edges(values: np.ndarray) -> np.ndarray:
    """Bin edges, finer where values are dense; robust to a few far-off values."""
    low, high = np.quantile(values, [0.0, 1.0])
    if high - low < 1e-12:
        return np.array([low - 0.5e-6, low + 0.5e-6])
    inner = np.quantile(values, np.linspace(0, 1, FINE_BINS // 2 + 1))
    even = np.linspace(low, high, FINE_BINS // 2 + 1)
    return np.unique(np.concatenate([inner, even]))


def _imputations(shelf: Shelf) -> list[tuple[int, np.ndarray]]:
    """Number of each imputed library with its share of the resampling weights."""
    count = len(shelf.chosen) if shelf.chosen.any() else 1
    return [(i, shelf.blocks.weights[i::count]) for i in range(count)]


def _shared_out(shelf: Shelf, table: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    count = len(table)
    return [(table[i], shelf.blocks.weights[i::count]) for i in range(count)]


def _ratio(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(whole > 0, part / whole, np.nan)


def _mean_or_nan(values: list[float]) -> float:
    good = [v for v in values if np.isfinite(v)]
    return float(np.mean(good)) if good else float("nan")
