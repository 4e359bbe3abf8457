"""Room for lettering, quiet and full panels, and reading clarity."""

from __future__ import annotations

import numpy as np

from panelscan.study.estimate import page_mean, row_median, row_share
from panelscan.study.figures import Figure
from panelscan.study.shelf import Shelf

QUIET, FULL = 0.1, 0.35
"""Ink density up to which a panel is called quiet, and from which full (our own bounds)."""


def lettering_figures(shelf: Shelf) -> tuple[Figure, ...]:
    """Free height at the top, share covered by lettering (approximate), ink density."""
    rows = shelf.panel_rows
    wanted = (
        ("free_top_share", "Calm strip at the top of a panel (approximate)"),
        ("lettered_share", "Covered by balloons and captions (approximate)"),
        ("ink_density", "Ink density of a panel"),
    )
    medians = tuple(
        row_median(shelf, key, title, rows.sheet, 100 * rows.numbers(key), "%", rows.confidence)
        for key, title in wanted
    )
    ink, lettered = rows.numbers("ink_density"), rows.numbers("lettered_share")

    def share(key: str, title: str, holds: np.ndarray, known: np.ndarray) -> Figure:
        return row_share(shelf, key, title, rows.sheet, holds, rows.confidence, known)

    known = np.isfinite(ink)
    return (
        *medians,
        share(
            "wordless_share",
            "Panels without balloon or caption found (approximate)",
            lettered < 0.005,
            np.isfinite(lettered),
        ),
        share("quiet_share", "Quiet panels (ink density up to 10 %)", ink <= QUIET, known),
        share("full_share", "Full panels (ink density from 35 %)", ink >= FULL, known),
    )


def clarity_figure(shelf: Shelf) -> Figure:
    """Mean reading clarity of the pages."""
    return page_mean(shelf, "clarity", "Reading clarity", 100 * shelf.numbers("clarity"), "%")


def least_clear(shelf: Shelf, most: int = 6) -> tuple[str, ...]:
    """Page ids of the least clear pages that have more than one panel, worst first."""
    clarity = shelf.numbers("clarity")[: len(shelf)]
    count = shelf.numbers("panel_count")[: len(shelf)]
    clarity[(count <= 1) | ~np.isfinite(clarity)] = np.inf
    ranked = np.argsort(clarity, kind="stable")[:most]
    return tuple(shelf.pages["page_id"].iloc[ranked[np.isfinite(clarity[ranked])]])
