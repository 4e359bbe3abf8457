"""Which grids are used, how many different ones, and how soon one comes back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf
from panelscan.study.uncertainty import entropy_of, interval

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class GridUse:
    """A tier pattern, how often it is used, and pages that show it."""

    pattern: str
    pages: int
    share: float
    examples: tuple[str, ...]


def grid_uses(shelf: Shelf, most: int = 12) -> tuple[GridUse, ...]:
    """Most used tier patterns, most frequent first; ties in the pattern's own order."""
    patterns = shelf.pages["tier_pattern"].fillna("?")
    table = patterns.value_counts().sort_index().sort_values(ascending=False, kind="stable")
    uses = []
    for pattern, count in table.head(most).items():
        of_it = shelf.pages.loc[patterns == pattern].sort_values("confidence", ascending=False)
        examples = tuple(of_it["page_id"].head(3))
        uses.append(GridUse(str(pattern), int(count), count / len(shelf), examples))
    return tuple(uses)


def effective_grids(shelf: Shelf) -> Figure:
    """Effective number of different tier patterns: exp of the Shannon entropy.

    Notes
    -----
    The plain plug-in entropy of a sample is too low; the Miller-Madow term (K - 1) / 2n is
    added (Miller, G. A. 1955, "Note on the bias of information estimates"; from memory).
    Hill, M. O. (1973), "Diversity and evenness", Ecology 54, doi 10.2307/1934352: exp(H) is
    the number of equally common kinds with the same entropy.
    """
    codes, count = _codes(shelf.pages["tier_pattern"].fillna("?"))
    blocks = shelf.blocks
    flat = blocks.of_page * count + codes
    table = np.bincount(flat, minlength=blocks.count * count).reshape(blocks.count, count)
    # More kinds than pages cannot have been used on them, whatever the correction says.
    value = min(_hill(table.sum(axis=0, keepdims=True).astype(float))[0], float(len(shelf)))
    replicates = _hill(blocks.weights @ table)
    # Resampling loses rare kinds, so the replicates lie too low as a body: move them back.
    shift = np.log(value) - np.nanmean(np.log(replicates))
    low, high = interval(np.minimum(np.exp(np.log(replicates) + shift), len(shelf)))
    return Figure(
        "effective_grids",
        "Different grids in effect (exp of entropy)",
        float(value),
        low,
        high,
        "",
        len(shelf),
    )


def _hill(histograms: np.ndarray) -> np.ndarray:
    seen = (histograms > 0).sum(axis=-1)
    total = histograms.sum(axis=-1)
    return np.asarray(np.exp(entropy_of(histograms) + (seen - 1) / (2 * np.maximum(total, 1))))


def _codes(patterns: pd.Series) -> tuple[np.ndarray, int]:
    categories = patterns.astype("category")
    return categories.cat.codes.to_numpy(dtype=np.int64), len(categories.cat.categories)


def returns(shelf: Shelf) -> np.ndarray:
    """Pages until the same tier pattern comes back in the same book, for each page that has one.

    Returns
    -------
    ndarray of int
        1 means the very next page.
    """
    codes, _ = _codes(shelf.pages["tier_pattern"].fillna("?"))
    books = shelf.pages["book"].astype("category").cat.codes.to_numpy()
    place = np.arange(len(codes))
    order = np.lexsort((place, codes, books))
    same = (codes[order][1:] == codes[order][:-1]) & (books[order][1:] == books[order][:-1])
    return np.asarray(np.diff(place[order])[same])


def runs(shelf: Shelf) -> np.ndarray:
    """Lengths of runs of the same tier pattern on consecutive pages of a book."""
    codes, _ = _codes(shelf.pages["tier_pattern"].fillna("?"))
    books = shelf.pages["book"].astype("category").cat.codes.to_numpy()
    breaks = np.flatnonzero((np.diff(codes) != 0) | (np.diff(books) != 0)) + 1
    return np.diff(np.concatenate([[0], breaks, [len(codes)]]))
