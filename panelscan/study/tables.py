"""What the plots show, as tables: one frame for each, to be read without panelscan."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pandas as pd

from panelscan.study.drift import TRACKED, book_means
from panelscan.study.figures import Z_90
from panelscan.study.habits import Habits
from panelscan.study.norms import NORMS
from panelscan.study.shelf import Shelf


def all_tables(shelf: Shelf, habits: Habits) -> dict[str, pd.DataFrame]:
    """Tables by name; those that hold nothing are left out.

    Parameters
    ----------
    shelf : Shelf
        The pages studied.
    habits : Habits
        Their habits.
    """
    found = {
        "panel-counts": _counted(habits.panel_counts, "panels"),
        "tier-counts": _counted(habits.tier_counts, "tiers"),
        "panels-along-books": _along_books(shelf),
        "grids": _grids(habits),
        "grid-returns": _lengths(habits.returns, "pages_later"),
        "grid-runs": _lengths(habits.runs, "pages_in_a_row"),
        "gutter-map": _cells(habits.gutter_map),
        "average-page": _cells(habits.average_page),
        "books": _books(shelf),
        "trends": pd.DataFrame([asdict(t) | {"stands_out": t.stands_out} for t in habits.trends]),
        "change-points": pd.DataFrame([asdict(c) for c in habits.changes]),
        "new-grids": pd.DataFrame([asdict(n) for n in habits.new_patterns]),
        "published": pd.DataFrame([asdict(n) for n in NORMS]),
        **_labelled(habits),
    }
    return {name: table for name, table in found.items() if len(table)}


def _labelled(habits: Habits) -> dict[str, pd.DataFrame]:
    found: dict[str, pd.DataFrame] = {}
    if habits.shots is not None:
        shares = habits.shots.shares
        turns = habits.shots.before_turn.reindex(shares.index).fillna(0.0).to_numpy()
        found["shots"] = pd.DataFrame(
            {
                "shot": shares.index.astype(str),
                "share": shares.to_numpy(),
                "share_before_a_turn": turns,
            }
        )
        found["shot-transitions"] = habits.shots.transitions.reset_index()
        found["shot-runs"] = _lengths(habits.shots.runs, "panels_in_a_row")
    if habits.scenes is not None:
        found["scenes"] = habits.scenes
    return found


def _counted(counts: dict[int, float], name: str) -> pd.DataFrame:
    return pd.DataFrame({name: list(counts), "pages": list(counts.values())})


def _along_books(shelf: Shelf) -> pd.DataFrame:
    """Every page with its expected number of panels."""
    frame = shelf.pages[["book", "page_number", "page_id"]].copy()
    return frame.assign(book=frame["book"].astype(str), panels=shelf.counts.mean(axis=0))


def _grids(habits: Habits) -> pd.DataFrame:
    rows = [asdict(u) | {"examples": " ".join(u.examples)} for u in habits.grids]
    return pd.DataFrame(rows)


def _lengths(lengths: np.ndarray, name: str) -> pd.DataFrame:
    values, times = np.unique(lengths, return_counts=True)
    return pd.DataFrame({name: values, "times": times})


def _cells(cells: np.ndarray) -> pd.DataFrame:
    """Cells of the page, each with its middle in shares of the page."""
    rows, columns = np.indices(cells.shape)
    return pd.DataFrame(
        {
            "x_share": ((columns + 0.5) / cells.shape[1]).ravel(),
            "y_share": ((rows + 0.5) / cells.shape[0]).ravel(),
            "share_of_pages": cells.ravel(),
        }
    )


def _books(shelf: Shelf) -> pd.DataFrame:
    """Mean of each tracked measure in each book, with its 90 % interval."""
    parts = []
    for measure in TRACKED:
        told = book_means(shelf, measure)
        half = Z_90 * told.errors
        parts.append(
            pd.DataFrame(
                {
                    "book": told.books,
                    "measure": measure,
                    "mean": told.means,
                    "low": told.means - half,
                    "high": told.means + half,
                }
            )
        )
    return pd.concat(parts, ignore_index=True).dropna(subset=["mean"])
