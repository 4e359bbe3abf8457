"""A grid as one short vector, for a first, fast search among many pages.

Each panel's row of numbers (`fields.panel_rows`) is turned into cosines along fixed random
directions and the mean over the panels is taken: grids whose panels answer each other have
nearby means, however the panels are numbered and many there are. The number of panels
stands beside. What the vector finds is then ranked by `distance.grid_distance`.

References
----------
A. Rahimi and B. Recht, "Random features for large-scale kernel machines", NIPS 2007; the
mean of such features compares whole sets (A. Gretton et al., "A kernel two-sample test",
Journal of Machine Learning Research 13, 2012). Both cited from memory.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from panelscan.layout.fields import ROW_LENGTH, panel_rows
from panelscan.model.grid import Grid

DIRECTIONS = 160
VECTOR_LENGTH = DIRECTIONS + 1
BANDWIDTH = 0.15
COUNT_WEIGHT = 0.12
SEED = 7
VECTOR_VERSION = 1
"""Goes up with any change that makes stored vectors incomparable with new ones."""


def grid_vector(grid: Grid) -> np.ndarray:
    """Fixed-length vector of a grid.

    Parameters
    ----------
    grid : Grid
        In page-relative units.

    Returns
    -------
    ndarray of float32, shape (161,)
        Euclidean distances between such vectors rank grids nearly as `grid_distance` does:
        good enough to keep the best few hundred of many thousands. All zero for an empty
        grid.

    Examples
    --------
    >>> grid_vector(Grid(())).shape
    (161,)
    """
    vector = np.zeros(VECTOR_LENGTH, dtype=np.float32)
    rows = panel_rows(grid)
    if len(rows):
        directions, phases = _features()
        waves = np.cos(rows @ directions + phases).mean(axis=0)
        vector[:DIRECTIONS] = waves * np.sqrt(2.0 / DIRECTIONS)
        vector[DIRECTIONS] = COUNT_WEIGHT * len(rows)
    return vector


@cache
def _features() -> tuple[np.ndarray, np.ndarray]:
    """Fixed directions and phases; the legacy generator's stream is frozen by NumPy's policy."""
    fixed = np.random.RandomState(SEED)
    directions = fixed.standard_normal((ROW_LENGTH, DIRECTIONS)) / BANDWIDTH
    return directions, fixed.uniform(0.0, 2.0 * np.pi, DIRECTIONS)
