"""A first, fast look through many vectors: their main directions, exactly scanned.

Vectors are projected on the directions in which they vary most (principal components;
Pearson 1901, Hotelling 1933), which never makes two of them farther apart. The short table
is kept by number of panels, so that a question about grids of one number reads only those;
the best of it are compared by their full vectors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SHORT_LENGTH = 32
SAMPLE = 20_000
ABOUT = 0.6  # a page with fewer than this share of panels, or more than its inverse, is far off
BLOCK = 16_384  # rows scored at a time, so that scores stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Coarse:
    """Short vectors of G pages, ordered by number of panels.

    Parameters
    ----------
    mean : ndarray of float32, shape (D,)
    basis : ndarray of float32, shape (D, C)
        Orthonormal columns.
    page : ndarray of int32, shape (G,)
        Page of each row.
    count_starts : ndarray of int32
        Pages of n panels have rows ``count_starts[n]`` up to ``count_starts[n + 1]``.
    short : ndarray of float32, shape (G, C)
    half_squares : ndarray of float32, shape (G,)
        Half the squared length of each short vector.
    """

    mean: np.ndarray
    basis: np.ndarray
    page: np.ndarray
    count_starts: np.ndarray
    short: np.ndarray
    half_squares: np.ndarray

    @classmethod
    def of(cls, vectors: np.ndarray, panel_count: np.ndarray) -> Coarse:
        """Main directions from a sample of the vectors, and all vectors projected.

        Parameters
        ----------
        vectors : ndarray, shape (G, D)
        panel_count : ndarray of int, shape (G,)
        """
        count, length = vectors.shape
        sample = vectors[:: max(1, count // SAMPLE)].astype(np.float64)
        mean = sample.mean(axis=0) if len(sample) else np.zeros(length)
        _, directions = np.linalg.eigh((sample - mean).T @ (sample - mean))
        basis = directions[:, ::-1][:, :SHORT_LENGTH].astype(np.float32)
        mean = mean.astype(np.float32)
        page = np.argsort(panel_count, kind="stable").astype(np.int32)
        short = np.empty((count, basis.shape[1]), np.float32)
        for start in range(0, count, BLOCK):
            part = vectors[page[start : start + BLOCK]].astype(np.float32)
            short[start : start + BLOCK] = (part - mean) @ basis
        halves = (np.einsum("ij,ij->i", short, short) / 2).astype(np.float32)
        starts = np.concatenate([[0], np.cumsum(np.bincount(panel_count.astype(int)))])
        return cls(mean, basis, page, starts.astype(np.int32), short, halves)

    def rows_of_count(self, count: int) -> slice:
        """Rows of the pages with `count` panels."""
        if not 0 <= count < len(self.count_starts) - 1:
            return slice(0, 0)
        return slice(int(self.count_starts[count]), int(self.count_starts[count + 1]))

    def _rows_near(self, panels: int | None, enough: int) -> slice:
        """Rows of pages with about as many panels; all rows where those are too few."""
        if panels is not None:
            top = len(self.count_starts) - 1
            least, most = min(int(ABOUT * panels), top), min(int(panels / ABOUT) + 1, top)
            rows = slice(int(self.count_starts[least]), int(self.count_starts[most]))
            if rows.stop - rows.start >= enough:
                return rows
        return slice(0, len(self.page))

    def scan(
        self, queries: np.ndarray, count: int, rows: slice, among: np.ndarray | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Pages nearest to any of several short queries.

        Parameters
        ----------
        queries : ndarray of float32, shape (Q, D)
            Full vectors.
        count : int
            Pages wanted.
        rows : slice
            Rows of the short table that are looked through.
        among : ndarray of bool, shape (G,), or None
            Pages that may be found.

        Returns
        -------
        pages : ndarray of int, shape (N,)
            In no particular order.
        which : ndarray of int, shape (N,)
            Query that each is nearest to.
        """
        short, halves = self.short[rows], self.half_squares[rows]
        asked = np.ascontiguousarray((queries - self.mean) @ self.basis)
        # Half the squared distance but for the row's own part, which `halves` adds.
        offset = (asked * asked).sum(axis=1, keepdims=True) / 2
        score = np.empty(len(short), np.float32)
        for start in range(0, len(short), BLOCK):
            part = offset - asked @ short[start : start + BLOCK].T
            part.min(axis=0, out=score[start : start + BLOCK])
        score += halves
        if among is not None:
            score[~among[self.page[rows]]] = np.inf
        best = _lowest(score, count)
        best = best[np.isfinite(score[best])]
        which = (offset - asked @ short[best].T).argmin(axis=0)
        return self.page[rows][best].astype(int), which

    def nearest(
        self,
        vectors: np.ndarray,
        query: np.ndarray,
        count: int,
        among: np.ndarray | None = None,
        panels: int | None = None,
    ) -> np.ndarray:
        """Pages whose full vectors are nearest to `query`, nearest first.

        Parameters
        ----------
        vectors : ndarray, shape (G, D)
            Full vectors.
        query : ndarray of float32, shape (D,)
        count : int
            Pages wanted.
        among : ndarray of bool, shape (G,), or None
            Pages that may be found.
        panels : int, optional
            Panels of the grid asked for: pages with far more or fewer, which are far off for
            that alone, are passed over where there are enough others.
        """
        rows = self._rows_near(panels, 20 * count)
        first, _ = self.scan(query[None, :], 4 * count, rows, among)
        gaps = vectors[first].astype(np.float32) - query
        order = np.argsort(np.einsum("ij,ij->i", gaps, gaps), kind="stable")[:count]
        found: np.ndarray = first[order]
        return found


def _lowest(score: np.ndarray, count: int) -> np.ndarray:
    """Indices of the lowest values, in index order."""
    if count >= len(score):
        return np.arange(len(score))
    lowest: np.ndarray = np.sort(np.argpartition(score, count)[:count])
    return lowest
