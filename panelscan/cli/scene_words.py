"""Words of lettering in each panel, from a scene whose beats are laid into a grid."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.errors import NothingFound, UsageError

if TYPE_CHECKING:
    from panelscan.finder.beats import Beat
    from panelscan.model.grid import Grid


def words_of_scene(path: Path, which: str | None, grid: Grid) -> tuple[int, ...]:
    """Words in each panel of a grid, in reading order.

    Parameters
    ----------
    path : Path
        The scene file.
    which : str or None
        Beats meant, ``4-8`` or ``4``; all for None.
    grid : Grid
        Its panels take the beats in order, as `panelscan plan` lays them.

    Raises
    ------
    UsageError
        If there are no such beats.
    NothingFound
        If the beats do not go on this one page.
    """
    from panelscan.finder.beat_match import match_page
    from panelscan.finder.scene import read_scene
    from panelscan.finder.shelf import Shelf

    beats = chosen_beats(read_scene(path).beats, which)
    _, placed = match_page(beats, Shelf.from_grids([grid]), 0)
    if not placed:
        raise NothingFound(
            f"{path}: {len(beats)} beats do not go into {len(grid)} panels on one page.",
            "Name fewer with --beats, such as --beats 1-4, or a grid with more panels.",
        )
    return tuple(sum(beats[b].words for b in p.beats) for p in placed)


def chosen_beats(beats: tuple[Beat, ...], which: str | None) -> tuple[Beat, ...]:
    """Beats of a range counted from 1.

    Raises
    ------
    UsageError
        If the text is no range, or the scene has no such beats.
    """
    if which is None:
        return beats
    first, dash, last = which.partition("-")
    if not (first.strip().isdigit() and (not dash or last.strip().isdigit())):
        raise UsageError(f"--beats {which}: no range of beats.", "Write 4-8, or 4.")
    low, high = int(first), int(last if dash else first)
    if not 1 <= low <= high <= len(beats):
        raise UsageError(
            f"--beats {which}: there are no such beats.", f"The scene has {len(beats)}."
        )
    return beats[low - 1 : high]
