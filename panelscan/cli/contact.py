"""Contact sheets from the command line: the pages' own pictures beside their grids."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from panelscan.cli.console import say

if TYPE_CHECKING:
    from panelscan.corpus.store import Library
    from panelscan.finder.beats import Scene
    from panelscan.finder.index import GridIndex
    from panelscan.finder.plan_types import Plan
    from panelscan.finder.query import Answer


def write_answer(answer: Answer, shelf: Library, out: Path, overwrite: bool) -> None:
    """Draw the pages that were found."""
    from panelscan.finder.contact import write_contact_sheet

    write_contact_sheet(answer, out, thumbs_of(shelf), overwrite=overwrite)
    say(f"Contact sheet: {out}")


def write_plan(
    plan: Plan, scene: Scene, index: GridIndex, places: list[int] | None, shelf: Library,
    out: Path, overwrite: bool,
) -> None:
    """Draw a plan; `places` maps grids of the plan to the index where only some were used."""
    from panelscan.finder.contact import write_plan_sheet

    def grid_of(grid: int) -> object:
        return index.grid(grid if places is None else places[grid])

    write_plan_sheet(
        plan, scene, grid_of, out, thumbs_of(shelf), overwrite=overwrite  # type: ignore[arg-type]
    )
    say(f"Contact sheet: {out}")


def thumbs_of(shelf: Library) -> Callable[[str], bytes | None]:
    """Small picture of a page by its id; None where its file is no longer there."""
    from panelscan.errors import PanelscanError
    from panelscan.review.pictures import Sources, small_folder_of, small_jpeg

    folder, sources = small_folder_of(shelf), Sources(shelf)

    def thumb(page_id: str) -> bytes | None:
        try:
            return small_jpeg(folder, page_id, sources.of(page_id))
        except PanelscanError:
            return None

    return thumb
