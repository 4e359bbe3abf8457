"""What labels say: shot variety, scenes against panel counts and sizes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelscan.study.rhythm import before_turn
from panelscan.study.shelf import Shelf


@dataclass(frozen=True, eq=False)
class ShotHabits:
    """Shots of the labelled panels, in reading order over the pages.

    Parameters
    ----------
    shares : Series
        Share of each shot, 0..1, largest first.
    transitions : DataFrame
        Row: a shot; column: the next panel's shot; shares of each row.
    runs : ndarray of int
        Lengths of runs of the same shot.
    variety : float
        Gini-Simpson index 1 - sum p^2: the chance that two panels drawn at random differ.
    labelled : int
        Panels with a shot.
    before_turn : Series
        Share of each shot among the last panels before a page turn, 0..1; empty where none
        of them is labelled.
    """

    shares: pd.Series
    transitions: pd.DataFrame
    runs: np.ndarray
    variety: float
    labelled: int
    before_turn: pd.Series


def shot_habits(shelf: Shelf) -> ShotHabits | None:
    """Shot habits, or None where no panel is labelled with its shot.

    References
    ----------
    Simpson, E. H. (1949), "Measurement of diversity", Nature 163, doi 10.1038/163688a0.
    """
    panels = shelf.panels
    if "shot" not in panels or panels["shot"].notna().sum() == 0:
        return None
    known = panels["shot"].notna().to_numpy()
    panels = panels[known]
    shots = panels["shot"].astype(str).to_numpy()
    books = shelf.book_codes[panels["page"].to_numpy()]
    same_book = books[1:] == books[:-1]
    pairs = pd.crosstab(
        pd.Series(shots[:-1][same_book], name="shot"),
        pd.Series(shots[1:][same_book], name="next"),
        normalize="index",
    )
    shares = pd.Series(shots).value_counts(normalize=True)
    breaks = np.flatnonzero((shots[1:] != shots[:-1]) | ~same_book) + 1
    runs = np.diff(np.concatenate([[0], breaks, [len(shots)]]))
    last = pd.Series(shots[before_turn(shelf)[: len(shelf.panels)][known]])
    turns = last.value_counts(normalize=True)
    return ShotHabits(shares, pairs, runs, simpson(shares.to_numpy()), len(shots), turns)


def simpson(shares: np.ndarray) -> float:
    """Gini-Simpson index of shares that add up to one.

    Examples
    --------
    >>> round(simpson(np.array([0.5, 0.5])), 3)
    0.5
    """
    return float(1.0 - np.sum(np.square(np.asarray(shares, dtype=float))))


def scene_table(shelf: Shelf) -> pd.DataFrame | None:
    """Pages, panels a page and median panel size of each labelled scene, in page order."""
    if "scene" not in shelf.pages or shelf.pages["scene"].notna().sum() == 0:
        return None
    pages = shelf.pages[shelf.pages["scene"].notna()]
    areas = shelf.panels.groupby("page")["area_share"].median()
    pages = pages.assign(median_area=areas.reindex(pages.index))
    table = pages.groupby("scene", sort=False).agg(
        pages=("page_id", "size"),
        panels_a_page=("panel_count", "mean"),
        median_area=("median_area", "median"),
    )
    return table.reset_index()
