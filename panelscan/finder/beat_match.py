"""Beats laid into panels in order: which panel carries which beat, at the least cost.

A panel carries one beat, two neighbouring beats, or none (a pause). The order of beats is
the order of panels, so the best way is a shortest path through beats x panels, found by
dynamic programming (Bellman 1957); the same recurrence is run for one page, with the way
kept, and for many pages and many first beats at once, with the cost only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from panelscan.finder.beats import Beat
from panelscan.finder.fit import FitWeights, cost_table
from panelscan.finder.shelf import Shelf


@dataclass(frozen=True, slots=True)
class Placement:
    """A panel (place in its page's order, from 0) and the beats in it (indices, from 0)."""

    panel: int
    beats: tuple[int, ...]
    cost: float


def match_costs(
    single: np.ndarray,
    shared: np.ndarray,
    idle: float,
    opens: Sequence[bool] | np.ndarray = (),
) -> tuple[float, tuple[tuple[int, ...], ...]]:
    """Least cost of laying all beats into all panels, and the beats of each panel.

    Parameters
    ----------
    single : ndarray of float, shape (N, B)
        Cost of beat b alone in panel n.
    shared : ndarray of float, shape (N, B - 1)
        Cost of beats b and b + 1 together in panel n.
    idle : float
        Cost of a panel without a beat.
    opens : sequence of bool, length B
        Beats that have to be the first thing seen on the page.

    Returns
    -------
    cost : float
        Infinite where the beats cannot all be placed.
    beats : tuple of tuple of int
        For each panel the indices of its beats.

    Examples
    --------
    >>> match_costs(np.array([[0.0, 9.0], [9.0, 0.0]]), np.array([[5.0], [5.0]]), 1.0)
    (0.0, ((0,), (1,)))
    """
    panel_count, beat_count = single.shape
    if any(opens[1:]):
        return float("inf"), ()
    best = np.full((panel_count + 1, beat_count + 1), np.inf)
    taken = np.zeros((panel_count + 1, beat_count + 1), dtype=int)
    best[0, 0] = 0.0
    for n in range(panel_count):
        may_idle = not (n == 0 and len(opens) and opens[0])
        ways = np.full((3, beat_count + 1), np.inf)
        if may_idle:
            ways[0] = best[n] + idle
        ways[1, 1:] = best[n, :-1] + single[n]
        ways[2, 2:] = best[n, :-2] + shared[n]
        taken[n + 1] = ways.argmin(axis=0)
        best[n + 1] = ways.min(axis=0)
    cost = float(best[panel_count, beat_count])
    if not np.isfinite(cost):
        return cost, ()
    beats: list[tuple[int, ...]] = []
    b = beat_count
    for n in range(panel_count, 0, -1):
        step = int(taken[n, b])
        beats.append(tuple(range(b - step, b)))
        b -= step
    return cost, tuple(reversed(beats))


def match_page(
    beats: Sequence[Beat], shelf: Shelf, grid: int, weights: FitWeights | None = None
) -> tuple[float, tuple[Placement, ...]]:
    """Lay all `beats` on one page of the shelf; the page's unclearness is part of the cost."""
    w = weights or FitWeights()
    panels = np.arange(shelf.starts[grid], shelf.starts[grid + 1])
    single, shared = cost_table(beats, shelf, panels, w)
    cost, placed = match_costs(single, shared, w.idle, [b.reveal for b in beats])
    placements = tuple(
        Placement(n, which, _panel_cost(n, which, single, shared, w.idle))
        for n, which in enumerate(placed)
    )
    return cost + w.unclear * (1.0 - float(shelf.clarity[grid])), placements


def _panel_cost(
    n: int, beats: tuple[int, ...], single: np.ndarray, shared: np.ndarray, idle: float
) -> float:
    if not beats:
        return idle
    return float(single[n, beats[0]] if len(beats) == 1 else shared[n, beats[0]])


def page_costs(
    beats: Sequence[Beat],
    shelf: Shelf,
    grids: np.ndarray,
    weights: FitWeights | None = None,
    most_beats: int | None = None,
) -> np.ndarray:
    """Least cost of beats s .. s + e - 1 on each of `grids`, for every s and e at once.

    Parameters
    ----------
    beats : sequence of Beat
        B beats.
    shelf : Shelf
    grids : ndarray of int, shape (G,)
        Grids that all have the same number N of panels.
    most_beats : int, optional
        Largest e wanted; 2 N at most.

    Returns
    -------
    ndarray of float, shape (G, B, E + 1)
        Infinite where a reveal would not open the page, or beats run out. ``[:, :, 0]`` is
        infinite too: a page without beats is no page of the scene.
    """
    w = weights or FitWeights()
    panels = shelf.panels_of(grids)
    count = panels.shape[1]
    most = min(2 * count, len(beats), most_beats if most_beats is not None else 2 * count)
    single, shared = cost_table(beats, shelf, panels, w)
    reveal = np.array([b.reveal for b in beats])
    best = np.full((len(grids), len(beats), most + 1), np.inf)
    best[:, :, 0] = 0.0
    for n in range(count):
        following = best + w.idle
        if n == 0:
            following[:, reveal, 0] = np.inf
        one = _windows(single[:, n], most)
        np.minimum(following[:, :, 1:], best[:, :, :-1] + one, out=following[:, :, 1:])
        if most >= 2:
            two = _windows(shared[:, n], most - 1)
            two = np.concatenate([two, np.full((len(grids), 1, most - 1), np.inf)], axis=1)
            np.minimum(following[:, :, 2:], best[:, :, :-2] + two, out=following[:, :, 2:])
        best = following
    best += w.unclear * (1.0 - shelf.clarity[grids])[:, None, None]
    best[:, :, 0] = np.inf
    best[:, _passes_reveal(reveal, most)] = np.inf
    return best


def scene_costs(
    beats: Sequence[Beat], shelf: Shelf, grids: np.ndarray, weights: FitWeights | None = None
) -> np.ndarray:
    """Least cost of all beats on one page, for each of `grids`; shape (G,).

    Parameters
    ----------
    beats : sequence of Beat
    shelf : Shelf
    grids : ndarray of int, shape (G,)
        Grids that all have the same number of panels.
    """
    w = weights or FitWeights()
    panels = shelf.panels_of(grids)
    single, shared = cost_table(beats, shelf, panels, w)
    best = np.full((len(grids), len(beats) + 1), np.inf)
    best[:, 0] = 0.0
    for n in range(panels.shape[1]):
        following = best + w.idle
        if n == 0 and beats[0].reveal:
            following[:, 0] = np.inf
        np.minimum(following[:, 1:], best[:, :-1] + single[:, n], out=following[:, 1:])
        np.minimum(following[:, 2:], best[:, :-2] + shared[:, n], out=following[:, 2:])
        best = following
    costs: np.ndarray = best[:, -1] + w.unclear * (1.0 - shelf.clarity[grids])
    return np.full(len(grids), np.inf) if any(b.reveal for b in beats[1:]) else costs


def _windows(costs: np.ndarray, length: int) -> np.ndarray:
    """``out[g, s, e] = costs[g, s + e]``, infinite past the end; shape (G, B, length)."""
    padded = np.pad(costs, ((0, 0), (0, length - 1)), constant_values=np.inf)
    return np.lib.stride_tricks.sliding_window_view(padded, length, axis=1)


def _passes_reveal(reveal: np.ndarray, most: int) -> np.ndarray:
    """Whether beats s .. s + e - 1 hold a reveal that is not the first; shape (B, most + 1)."""
    passed = np.zeros((len(reveal), most + 1), dtype=bool)
    for e in range(2, most + 1):
        later = np.zeros(len(reveal), dtype=bool)
        later[: len(reveal) - e + 1] = reveal[e - 1 :]
        passed[:, e] = passed[:, e - 1] | later
    return passed
