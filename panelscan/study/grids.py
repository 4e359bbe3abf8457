"""Which grids are used, how many different ones, and how soon one comes back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelscan.study.estimate import Some, expected_counts, imputed_tables, page_mean
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf
from panelscan.study.uncertainty import block_histograms, entropy_of, interval


@dataclass(frozen=True, slots=True)
class GridUse:
    """A tier pattern, how often it is used, and pages that show it.

    Parameters
    ----------
    pattern : str
        Panels in each tier from the top.
    pages : float
        Expected number of pages with it, other readings counted by their probability.
    share : float
        Of all pages, 0..1.
    examples : tuple of str
        Page ids, surest first.
    """

    pattern: str
    pages: float
    share: float
    examples: tuple[str, ...]


def pattern_codes(shelf: Shelf) -> tuple[np.ndarray, list[str]]:
    """Code of each sheet's tier pattern, shape (P + Q,), and the patterns."""
    import pandas as pd

    codes, names = pd.factorize(shelf.words("tier_pattern"), sort=True)
    return np.asarray(codes, dtype=np.int64), [str(n) for n in names]


def grid_uses(shelf: Shelf, most: int = 12) -> tuple[GridUse, ...]:
    """Most used tier patterns, most frequent first; ties in the pattern's own order."""
    codes, names = pattern_codes(shelf)
    pages = expected_counts(shelf, codes, len(names))
    confidence = np.nan_to_num(shelf.numbers("confidence")[: len(shelf)])
    uses = []
    for code in np.argsort(-pages, kind="stable")[:most].tolist():
        of_it = np.flatnonzero(codes[: len(shelf)] == code)
        if len(of_it):
            ranked = of_it[np.argsort(-confidence[of_it], kind="stable")[:3]]
            examples = tuple(shelf.pages["page_id"].iloc[ranked])
            share = float(pages[code]) / len(shelf)
            uses.append(GridUse(names[code], float(pages[code]), share, examples))
    return tuple(uses)


def grid_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """How many different grids, how often one is used twice in a row, how soon it returns."""
    gaps = np.array([_gaps(shelf, codes) for codes in shelf.spread(pattern_codes(shelf)[0])])
    seen = gaps >= 0
    same = np.where(seen, 100.0 * (gaps == 1), np.nan)
    soon = np.where(seen & (gaps > 0), gaps, np.nan)
    return (
        effective_grids(shelf),
        page_mean(shelf, "repeat_share", "Pages with the same grid as the page before", same, "%"),
        page_mean(shelf, "return_pages", "Pages until a grid comes back, mean", soon, "pages"),
    )


def effective_grids(shelf: Shelf) -> Figure:
    """Effective number of different tier patterns: exp of the Shannon entropy.

    Notes
    -----
    The plain plug-in entropy of a sample is too low; the Miller-Madow term (K - 1) / 2n is
    added (Miller, G. A. 1955, "Note on the bias of information estimates"; from memory).
    Hill, M. O. (1973), "Diversity and evenness", Ecology 54, doi 10.2307/1934352: exp(H) is
    the number of equally common kinds with the same entropy.
    """
    codes, names = pattern_codes(shelf)
    size, blocks = len(names), shelf.blocks

    def add(rows: Some, factor: float | np.ndarray) -> np.ndarray:
        block = shelf.block_of_sheet[rows]
        weights = np.ones(len(block)) * factor
        return block_histograms(blocks, block, codes[rows], size, weights)

    tables = imputed_tables(shelf, np.arange(len(codes)), add)
    values, replicates = [], []
    for number, table in enumerate(tables):
        whole = np.maximum(table.sum(axis=0, keepdims=True), 0.0)
        drawn = np.maximum(blocks.weights[number :: len(tables)] @ table, 0.0)
        values.append(float(np.log(_hill(whole)[0])))
        replicates.append(np.log(_hill(drawn)))
    # More kinds than pages cannot have been used on them, whatever the correction says.
    value = min(float(np.exp(np.mean(values))), float(len(shelf)))
    logs = np.concatenate(replicates)
    # Resampling loses rare kinds, so the replicates lie too low as a body: move them back.
    low, high = interval(np.minimum(np.exp(logs + np.log(value) - np.nanmean(logs)), len(shelf)))
    title = "Different grids in effect (exp of entropy)"
    return Figure("effective_grids", title, value, low, high, "", len(shelf))


def _hill(histograms: np.ndarray) -> np.ndarray:
    seen = (histograms > 0).sum(axis=-1)
    total = histograms.sum(axis=-1)
    return np.asarray(np.exp(entropy_of(histograms) + (seen - 1) / (2 * np.maximum(total, 1))))


def _gaps(shelf: Shelf, codes: np.ndarray) -> np.ndarray:
    """Pages since a page's pattern was last used in its book; 0 for never, -1 for a first page."""
    books = shelf.book_codes
    place = np.arange(len(codes))
    order = np.lexsort((place, codes, books))
    same = (codes[order][1:] == codes[order][:-1]) & (books[order][1:] == books[order][:-1])
    gaps = np.zeros(len(codes), dtype=np.int64)
    gaps[order[1:][same]] = np.diff(place[order])[same]
    gaps[np.diff(books, prepend=-1) != 0] = -1
    return gaps


def returns(shelf: Shelf) -> np.ndarray:
    """Pages until the same tier pattern comes back in the same book, for each page that has one.

    Returns
    -------
    ndarray of int
        1 means the very next page. By the best readings.
    """
    gaps = _gaps(shelf, pattern_codes(shelf)[0][: len(shelf)])
    return np.asarray(gaps[gaps > 0])


def runs(shelf: Shelf) -> np.ndarray:
    """Lengths of runs of the same tier pattern on consecutive pages of a book."""
    codes, books = pattern_codes(shelf)[0][: len(shelf)], shelf.book_codes
    breaks = np.flatnonzero((np.diff(codes) != 0) | (np.diff(books) != 0)) + 1
    return np.diff(np.concatenate([[0], breaks, [len(codes)]]))
