"""How well a panel carries a beat: a cost per pair, built from terms that can be named.

Size is judged in octaves (doublings of area) outside the range that suits the beat's weight,
shape in octaves outside the range that suits what was asked. The ranges are common practice,
no source; what counts is their order, and the artist's own ratings move the ranking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from panelscan.finder.beats import Beat, Shape, Shot, Weight
from panelscan.finder.shelf import Shelf

# Share of the page's panel area, and the same as a multiple of the page's mean panel.
SHARE_RANGE = {Weight.SMALL: (0.03, 0.14), Weight.NORMAL: (0.08, 0.34), Weight.BIG: (0.25, 1.0)}
MULTIPLE_RANGE = {Weight.SMALL: (0.2, 0.9), Weight.NORMAL: (0.6, 1.6), Weight.BIG: (1.3, 16.0)}
WIDE_FROM = 1.6  # width over height
TALL_UP_TO = 0.75
COMFORT = 0.7  # share of the room up to which lettering sits easily


@dataclass(frozen=True, slots=True)
class FitWeights:
    """What each misfit costs; an octave too small or one page's full unclearness costs 1.

    Parameters
    ----------
    size, shape, shot, tight : float
        Per octave of misfit; for `tight`, per panel filled to the last word.
    over_word, over_panel : float
        Per word that finds no room, and once per panel that is overfull.
    idle, shared : float
        A panel without a beat; two beats in one panel.
    unclear : float
        Times one minus the page's clarity.
    """

    size: float = 0.6
    shape: float = 1.0
    shot: float = 0.4
    tight: float = 0.4
    over_word: float = 0.1
    over_panel: float = 1.0
    idle: float = 1.2
    shared: float = 1.5
    unclear: float = 1.0


def fit_terms(beat: Beat, shelf: Shelf, panels: np.ndarray) -> dict[str, np.ndarray]:
    """Misfit of a beat in each of `panels`, by name, in octaves or words.

    Parameters
    ----------
    beat : Beat
    shelf : Shelf
    panels : ndarray of int, any shape S
        Indices of panels of the shelf.

    Returns
    -------
    dict of str to ndarray of float, shape S
        ``size``, ``shape``, ``shot``, ``tight`` and ``over`` (words without room).
    """
    share, shape, room = shelf.share[panels], shelf.shape[panels], shelf.room[panels]
    count = np.maximum(shelf.panel_count[shelf.owner[panels]], 3)  # a splash is big by itself
    size = 0.5 * _outside(share, *SHARE_RANGE[beat.weight])
    size += 0.5 * _outside(share * count, *MULTIPLE_RANGE[beat.weight])
    if beat.shape is Shape.WIDE:
        shape_misfit = _below(shape, WIDE_FROM)
    elif beat.shape is Shape.TALL:
        shape_misfit = _above(shape, TALL_UP_TO)
    else:
        shape_misfit = np.zeros(np.shape(panels))
    filled = beat.words / np.maximum(room, 1.0)
    return {
        "size": size,
        "shape": shape_misfit,
        "shot": _shot_misfit(beat.shot, share, shape),
        "tight": np.clip((filled - COMFORT) / (1 - COMFORT), 0.0, 1.0),
        "over": np.maximum(beat.words - room, 0.0),
    }


def fit_cost(
    beat: Beat, shelf: Shelf, panels: np.ndarray, weights: FitWeights | None = None
) -> np.ndarray:
    """Cost of a beat in each of `panels` (never negative), shape as `panels`."""
    w = weights or FitWeights()
    t = fit_terms(beat, shelf, panels)
    cost: np.ndarray = (
        w.size * t["size"]
        + w.shape * t["shape"]
        + w.shot * t["shot"]
        + w.tight * t["tight"]
        + w.over_word * t["over"]
        + w.over_panel * (t["over"] > 0)
    )
    return cost


def cost_table(
    beats: Sequence[Beat], shelf: Shelf, panels: np.ndarray, weights: FitWeights | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Costs of every beat, and of every two neighbouring beats together, in each panel.

    Returns
    -------
    single : ndarray of float, shape (*S, B)
    shared : ndarray of float, shape (*S, B - 1)
        The cost of sharing a panel is included. S is the shape of `panels`.
    """
    w = weights or FitWeights()
    single = [fit_cost(b, shelf, panels, w) for b in beats]
    pairs = [a.joined(b) for a, b in pairwise(beats)]
    shared = [w.shared + fit_cost(b, shelf, panels, w) for b in pairs]
    none = np.zeros((*np.shape(panels), 0))
    return np.stack(single, axis=-1), np.stack(shared, axis=-1) if shared else none


def _below(value: np.ndarray, least: float) -> np.ndarray:
    octaves: np.ndarray = np.maximum(np.log2(least / np.maximum(value, 1e-6)), 0.0)
    return octaves


def _above(value: np.ndarray, most: float) -> np.ndarray:
    octaves: np.ndarray = np.maximum(np.log2(np.maximum(value, 1e-6) / most), 0.0)
    return octaves


def _outside(value: np.ndarray, least: float, most: float) -> np.ndarray:
    octaves: np.ndarray = _below(value, least) + _above(value, most)
    return octaves


def _shot_misfit(shot: Shot, share: np.ndarray, shape: np.ndarray) -> np.ndarray:
    """Octaves by which a panel's size or shape works against the view asked for."""
    if shot is Shot.ESTABLISHING:  # a place is shown wide, or large
        return np.asarray(np.minimum(_below(share, 0.25), _below(shape, WIDE_FROM)))
    if shot is Shot.LONG:
        return _below(share, 0.12)
    if shot is Shot.CLOSE_UP:
        return np.asarray((_above(share, 0.25) + _above(shape, 2.0)) / 2)
    if shot is Shot.DETAIL:
        return _above(share, 0.12)
    return np.zeros_like(share)
