"""From values of pages, panels and gutters to figures with intervals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf
from panelscan.study.uncertainty import (
    LEVEL,
    block_histograms,
    block_sums,
    fine_edges,
    interval,
    quantile_of,
)

Some = slice | np.ndarray
Adder = Callable[[Some, float | np.ndarray], np.ndarray]


def page_mean(shelf: Shelf, key: str, title: str, values: np.ndarray, unit: str = "") -> Figure:
    """Mean over pages of a value of their sheets.

    Parameters
    ----------
    shelf : Shelf
        Pages studied.
    key, title, unit : str
        As for `Figure`.
    values : ndarray, shape (P + Q,), or (P,) where readings do not matter, or (M, P)
        Value of each sheet, or of each page in each imputed library; NaN where there is none.
    """
    if values.ndim == 2:
        return _mean_of_table(shelf, (key, title, unit), values)
    if len(values) == len(shelf):
        values = values[shelf.page_of_sheet]
    return _mean_of_rows(shelf, (key, title, unit), np.arange(len(values)), values)


def row_median(
    shelf: Shelf,
    key: str,
    title: str,
    sheet: np.ndarray,
    values: np.ndarray,
    unit: str = "",
    weights: np.ndarray | None = None,
) -> Figure:
    """Median over panels or gutters, weighted by confidence, resampled with their pages.

    Parameters
    ----------
    sheet : ndarray of int, shape (V,)
        Sheet of each value.
    values : ndarray, shape (V,)
        NaN where not known.
    weights : ndarray, shape (V,) or None
        Confidence of each.
    """
    kept = _finite(values)
    where, good = sheet[kept], values[kept]
    if not len(good):
        nothing = float("nan")
        return Figure(key, title, nothing, nothing, nothing, unit, 0)
    edges = fine_edges(good)
    count = len(edges) - 1
    bins = np.searchsorted(edges[1:-1], good, side="right").astype(np.int32)
    weight = np.ones(len(good)) if weights is None else weights[kept]

    def add(rows: Some, factor: float | np.ndarray) -> np.ndarray:
        block = shelf.block_of_sheet[where[rows]]
        return block_histograms(shelf.blocks, block, bins[rows], count, weight[rows] * factor)

    tables = imputed_tables(shelf, where, add)
    replicates, centers = [], []
    count_best = _best(shelf, where)
    for number, table in enumerate(tables):
        drawn = shelf.blocks.weights[number :: len(tables)]
        replicates.append(quantile_of(drawn @ table, edges, 0.5))
        centers.append(quantile_of(table.sum(axis=0, keepdims=True), edges, 0.5)[0])
    low, high = _ends(np.concatenate(replicates), count_best)
    return Figure(key, title, _mean_or_nan(centers), low, high, unit, count_best)


def row_share(
    shelf: Shelf,
    key: str,
    title: str,
    sheet: np.ndarray,
    holds: np.ndarray,
    weights: np.ndarray | None = None,
    among: np.ndarray | None = None,
) -> Figure:
    """Share (in %) of panels or gutters for which something holds (among some of them)."""
    kept: Some = slice(None) if among is None else np.flatnonzero(among)
    weight = None if weights is None else weights[kept]
    values = np.where(holds[kept], 100.0, 0.0)
    return _mean_of_rows(shelf, (key, title, "%"), sheet[kept], values, weight)


def imputed_tables(shelf: Shelf, sheet: np.ndarray, add: Adder) -> list[np.ndarray]:
    """Sums by block in each imputed library.

    Parameters
    ----------
    sheet : ndarray of int, shape (V,)
        Sheet of each row, rows of best readings first.
    add : callable
        Gets a choice of rows and a factor for each; returns their sums, first axis the blocks.

    Returns
    -------
    list of ndarray
        One table where nothing is open, else one for each imputed library: the best readings
        of all pages, and the difference that the readings drawn make. On a large shelf the
        difference is known for a sample of the pages and stands for the others too.

    References
    ----------
    The difference estimator of survey sampling: Särndal, C.-E., Swensson, B. and Wretman, J.
    (1992), "Model assisted survey sampling", Springer, chapter 6 (from memory).
    """
    whole = add(slice(0, _best(shelf, sheet)), 1.0)
    if not shelf.is_open:
        return [whole]
    swapped = shelf.others.chosen != 0
    page = shelf.page_of_sheet[sheet]
    loose = np.flatnonzero(swapped.any(axis=0)[page])
    is_best = sheet[loose] < len(shelf)
    tables = []
    for number in range(len(swapped)):
        out = is_best & swapped[number, page[loose]]
        into = ~is_best & (shelf.drawn[number, page[loose]] == sheet[loose])
        factor = shelf.others.scale * (into.astype(float) - out)
        changed = np.flatnonzero(factor)
        tables.append(whole + add(loose[changed], factor[changed]))
    return tables


def sheet_weights(shelf: Shelf) -> np.ndarray:
    """Expected number of pages that each sheet stands for, shape (P + Q,).

    The best reading of a page without doubt counts once; a page in doubt is shared out among
    its readings as often as each was drawn.
    """
    chosen, scale = shelf.others.chosen, shelf.others.scale
    weights = np.ones(len(shelf.page_of_sheet))
    weights[: len(shelf)] -= scale * (chosen != 0).mean(axis=0)
    pages = shelf.others.pages
    page, reading = pages["page"].to_numpy(np.int64), pages["reading"].to_numpy(np.int64)
    weights[len(shelf) :] = scale * (chosen[:, page] == reading).mean(axis=0)
    return weights


def expected_counts(shelf: Shelf, codes: np.ndarray, size: int) -> np.ndarray:
    """Expected number of pages with each code, shape (size,); codes of sheets, (P + Q,)."""
    counts = np.bincount(codes, weights=sheet_weights(shelf), minlength=size)
    return np.asarray(np.maximum(counts, 0.0))


def _mean_of_rows(
    shelf: Shelf,
    names: tuple[str, str, str],
    sheet: np.ndarray,
    values: np.ndarray,
    weights: np.ndarray | None = None,
) -> Figure:
    kept = _finite(values)
    where, good = sheet[kept], values[kept]
    weight = np.ones(len(good)) if weights is None else weights[kept]

    def add(rows: Some, factor: float | np.ndarray) -> np.ndarray:
        block, share = shelf.block_of_sheet[where[rows]], weight[rows] * factor
        total = block_sums(shelf.blocks, block, good[rows] * share)
        return np.column_stack([total, block_sums(shelf.blocks, block, share)])

    count = _best(shelf, where)
    figure = _ratio_figure(shelf, names, imputed_tables(shelf, where, add), count)
    if names[2] == "%" and figure.low == figure.high and figure.value in (0.0, 100.0):
        pages = int(np.count_nonzero(np.bincount(where[:count])))
        return _never_or_always(figure, pages)
    return figure


def _mean_of_table(shelf: Shelf, names: tuple[str, str, str], values: np.ndarray) -> Figure:
    tables = []
    for row in values:
        page = np.flatnonzero(np.isfinite(row))
        block = shelf.blocks.of_page[page]
        total = block_sums(shelf.blocks, block, row[page].astype(float))
        count = block_sums(shelf.blocks, block, np.ones(len(page)))
        tables.append(np.column_stack([total, count]))
    return _ratio_figure(shelf, names, tables, int(np.isfinite(values[0]).sum()))


def _ratio_figure(
    shelf: Shelf, names: tuple[str, str, str], tables: list[np.ndarray], count: int
) -> Figure:
    replicates, centers = [], []
    for number, table in enumerate(tables):
        drawn = shelf.blocks.weights[number :: len(tables)] @ table
        replicates.append(_ratio(drawn[:, 0], drawn[:, 1]))
        centers.append(float(_ratio(table[:, :1].sum(axis=0), table[:, 1:].sum(axis=0))[0]))
    low, high = _ends(np.concatenate(replicates), count)
    key, title, unit = names
    return Figure(key, title, _mean_or_nan(centers), low, high, unit, count)


def _ends(replicates: np.ndarray, count: int) -> tuple[float, float]:
    """Interval of the replicates; none where a single value cannot tell how much it varies."""
    return interval(replicates) if count > 1 else (float("nan"), float("nan"))


def _never_or_always(figure: Figure, pages: int) -> Figure:
    """A share of 0 or 100 % with the interval that so many pages allow.

    Resampling what was never seen never shows it; the exact interval for a proportion does
    (Clopper, C. J. and Pearson, E. S. 1934, "The use of confidence or fiducial limits
    illustrated in the case of the binomial", Biometrika 26, doi 10.1093/biomet/26.4.404).
    """
    tail = (1 - LEVEL) / 2
    room = 100 * (1 - tail ** (1 / max(pages, 1)))
    if figure.value == 0.0:
        return replace(figure, low=0.0, high=room)
    return replace(figure, low=100.0 - room, high=100.0)


def _finite(values: np.ndarray) -> Some:
    """Rows with a value; a slice where all have one, which costs no copies."""
    known = np.isfinite(values)
    return slice(None) if known.all() else np.flatnonzero(known)


def _best(shelf: Shelf, sheet: np.ndarray) -> int:
    """Rows of the best readings (they come first): what a figure rests on."""
    return int((sheet < len(shelf)).sum())


def _ratio(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(whole > 0, part / whole, np.nan)


def _mean_or_nan(values: list[float]) -> float:
    good = [v for v in values if np.isfinite(v)]
    return float(np.mean(good)) if good else float("nan")
