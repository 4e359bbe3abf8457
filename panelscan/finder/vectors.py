"""Grid vectors from rows of panels, many at once; the same as `layout.signature.grid_vector`.

A search asks for the vectors of a grid with panels joined or cut, and an index for those of
many pages; both have the rows at hand and need no grid objects. A test holds the two
together.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from panelscan.layout.fields import ROW_LENGTH
from panelscan.layout.signature import BANDWIDTH, COUNT_WEIGHT, DIRECTIONS, SEED, VECTOR_LENGTH


def vectors_of_rows(rows: np.ndarray, starts: np.ndarray) -> np.ndarray:
    """Vectors of grids given by the rows of their panels.

    Parameters
    ----------
    rows : ndarray, shape (N, 14)
        Rows of all grids side by side.
    starts : ndarray of int, shape (C + 1,)
        Where each grid's rows begin; every grid has at least one.

    Returns
    -------
    ndarray of float32, shape (C, 161)
    """
    counts = np.diff(starts)
    vectors = np.zeros((len(counts), VECTOR_LENGTH), np.float32)
    if not len(counts):
        return vectors
    directions, phases = _features()
    waves = np.cos(rows.astype(np.float32) @ directions + phases)
    total = np.add.reduceat(waves, np.asarray(starts[:-1]), axis=0)
    vectors[:, :DIRECTIONS] = total / counts[:, None] * np.sqrt(2.0 / DIRECTIONS)
    vectors[:, DIRECTIONS] = COUNT_WEIGHT * counts
    return vectors


@cache
def _features() -> tuple[np.ndarray, np.ndarray]:
    fixed = np.random.RandomState(SEED)
    directions = fixed.standard_normal((ROW_LENGTH, DIRECTIONS)) / BANDWIDTH
    phases = fixed.uniform(0.0, 2.0 * np.pi, DIRECTIONS)
    return directions.astype(np.float32), phases.astype(np.float32)
