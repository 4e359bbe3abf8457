"""A first, fast look through many vectors: their main directions, exactly scanned.

Vectors are projected on the directions in which they vary most (principal components;
Pearson 1901, Hotelling 1933), which never makes two of them farther apart. The whole short
table is scanned; the best few thousand are compared by their full vectors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SHORT_LENGTH = 32
SAMPLE = 20_000
SECOND_LOOK = 3_000


@dataclass(frozen=True, eq=False)
class Coarse:
    """Short vectors of G pages.

    Parameters
    ----------
    mean : ndarray of float32, shape (D,)
    basis : ndarray of float32, shape (D, C)
        Orthonormal columns.
    short : ndarray of float32, shape (G, C)
    half_squares : ndarray of float32, shape (G,)
        Half the squared length of each short vector.
    """

    mean: np.ndarray
    basis: np.ndarray
    short: np.ndarray
    half_squares: np.ndarray

    @classmethod
    def of(cls, vectors: np.ndarray) -> Coarse:
        """Main directions from a sample of the vectors, and all vectors projected."""
        count, length = vectors.shape
        step = max(1, count // SAMPLE)
        sample = vectors[::step].astype(np.float64)
        mean = sample.mean(axis=0) if len(sample) else np.zeros(length)
        centred = sample - mean
        _, directions = np.linalg.eigh(centred.T @ centred)
        basis = directions[:, ::-1][:, :SHORT_LENGTH].astype(np.float32)
        short = np.empty((count, basis.shape[1]), np.float32)
        for start in range(0, count, SAMPLE):
            part = vectors[start : start + SAMPLE].astype(np.float32)
            short[start : start + SAMPLE] = (part - mean.astype(np.float32)) @ basis
        halves = np.einsum("ij,ij->i", short, short) / 2
        return cls(mean.astype(np.float32), basis, short, halves.astype(np.float32))

    def nearest(
        self,
        vectors: np.ndarray,
        query: np.ndarray,
        count: int,
        among: np.ndarray | None = None,
    ) -> np.ndarray:
        """Pages whose full vectors are nearest to `query`, nearest first.

        Parameters
        ----------
        vectors : ndarray, shape (G, D)
            Full vectors.
        query : ndarray, shape (D,)
        count : int
            Pages wanted.
        among : ndarray of bool, shape (G,), or None
            Pages that may be found.
        """
        # Half the squared distance, but for the query's own part, which is the same for all.
        score = self.half_squares - self.short @ ((query - self.mean) @ self.basis)
        if among is not None:
            score = np.where(among, score, np.inf)
        first = _lowest(score, max(SECOND_LOOK, 4 * count))
        if among is not None:
            first = first[among[first]]
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
