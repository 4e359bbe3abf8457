"""How grids stand beside each other: the same grid, a near one, pages that face each other."""

from __future__ import annotations

import numpy as np

from panelscan.finder.shelf import Shelf

SAME_WITHIN = 0.03  # no panel side farther apart than this share of the page: the same grid
NEAR_WITHIN = 0.12  # mean distance of sides below which two pages in a row look alike
PROPORTION_WITHIN = 0.05  # of facing pages' width over height
LIVE_WITHIN = 0.03  # of the height at which facing pages' panels begin and end
LINE_SAME, LINE_CLEAR = 0.01, 0.05  # tier lines of facing pages: agree, or clearly differ
MOST_LINES = 6
LINE_COST = 0.25
NEAR_COST = 1.0


def families(shelf: Shelf, within: float = SAME_WITHIN) -> np.ndarray:
    """Number of the family of each grid: grids within `within` of the family's first grid.

    Returns
    -------
    ndarray of int, shape (G,)
        Families are numbered in order of their first grid.
    """
    family = np.full(len(shelf), -1)
    following = 0
    for count in np.unique(shelf.panel_count):
        grids = shelf.of_count(int(count))
        sides = shelf.boxes[shelf.panels_of(grids)].reshape(len(grids), -1)
        open_ = np.arange(len(grids))
        while len(open_):
            far = np.abs(sides[open_] - sides[open_[0]]).max(axis=1, initial=0.0) > within
            family[grids[open_[~far]]] = following
            following += 1
            open_ = open_[far]
    return family


def side_distances(shelf: Shelf) -> tuple[np.ndarray, np.ndarray]:
    """Largest and mean distance between the sides of every two grids, shape (G, G) each.

    Panels are paired by their place in the order; infinite where the numbers of panels
    differ or the pages are read in different directions.
    """
    size = len(shelf)
    largest = np.full((size, size), np.inf, dtype=np.float32)
    mean = np.full((size, size), np.inf, dtype=np.float32)
    for count in np.unique(shelf.panel_count):
        grids = shelf.of_count(int(count))
        sides = shelf.boxes[shelf.panels_of(grids)].reshape(len(grids), -1).astype(np.float32)
        for row, grid in enumerate(grids):
            apart = np.abs(sides - sides[row])
            largest[grid, grids] = apart.max(axis=1, initial=0.0)
            mean[grid, grids] = apart.mean(axis=1) if apart.shape[1] else 0.0
    differ = shelf.rtl[:, None] != shelf.rtl[None, :]
    largest[differ] = np.inf
    mean[differ] = np.inf
    return largest, mean


def live_span(shelf: Shelf) -> np.ndarray:
    """Height at which each page's panels begin and end; NaN at a bleed. Shape (G, 2)."""
    top = np.full(len(shelf), np.inf)
    bottom = np.full(len(shelf), -np.inf)
    np.minimum.at(top, shelf.owner, shelf.boxes[:, 1])
    np.maximum.at(bottom, shelf.owner, shelf.boxes[:, 3])
    for place, span in ((1, top), (3, bottom)):
        bled = np.zeros(len(shelf), dtype=bool)
        np.logical_or.at(bled, shelf.owner, shelf.bleeds[:, place])
        span[bled] = np.nan
    return np.stack([top, bottom], axis=1)


def tier_lines(shelf: Shelf) -> np.ndarray:
    """Heights of the gutters that cross the whole page; NaN-filled, shape (G, MOST_LINES)."""
    lines = np.full((len(shelf), MOST_LINES), np.nan)
    for grid in range(len(shelf)):
        boxes = shelf.boxes[shelf.starts[grid] : shelf.starts[grid + 1]]
        boxes = boxes[np.argsort(boxes[:, 1])]
        reach, found = -np.inf, 0
        for y_min, y_max in boxes[:, (1, 3)]:
            if np.isfinite(reach) and y_min >= reach - 1e-6 and found < MOST_LINES:
                lines[grid, found] = (y_min + reach) / 2
                found += 1
            reach = max(reach, y_max)
    return lines


def facing_costs(shelf: Shelf) -> np.ndarray:
    """Cost of two grids on facing pages, infinite where they do not go together; (G, G).

    Facing pages have to have the same proportions and direction, and panels that begin and
    end at the same height unless they bleed there. Tier lines that nearly meet at the fold
    look like a slip, so each costs a little. Common practice, no source.
    """
    apart = np.abs(np.log(shelf.aspect[:, None] / shelf.aspect[None, :])) > PROPORTION_WITHIN
    apart |= shelf.rtl[:, None] != shelf.rtl[None, :]
    span = live_span(shelf)
    with np.errstate(invalid="ignore"):
        for k in range(2):
            apart |= np.abs(span[:, None, k] - span[None, :, k]) > LIVE_WITHIN
    lines = tier_lines(shelf)
    slips = np.zeros((len(shelf), len(shelf)), dtype=np.float32)
    for k in range(MOST_LINES):
        has = ~np.isnan(lines[:, k])
        nearest = np.full((int(has.sum()), len(shelf)), np.inf)
        for m in range(MOST_LINES):
            gap = np.abs(lines[has, k, None] - lines[None, :, m])
            nearest = np.fmin(nearest, gap)
        slips[has] += (nearest > LINE_SAME) & (nearest < LINE_CLEAR)
    cost = LINE_COST * (slips + slips.T) / 2
    cost[apart] = np.inf
    return cost


def following_costs(mean_distance: np.ndarray) -> np.ndarray:
    """Cost of two grids on pages in a row, from their mean side distance: none if they differ."""
    cost: np.ndarray = NEAR_COST * np.clip(1 - mean_distance / NEAR_WITHIN, 0.0, 1.0)
    return cost
