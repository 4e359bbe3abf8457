"""Tables and pages of the report that need labels: shots, scenes, stages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from panelscan.study.habits import Habits
from panelscan.study.markup import minis, number_table
from panelscan.study.pages_shown import PagesShown


def label_bodies(habits: Habits, plots: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Heading and HTML of each section that labels make possible.

    Parameters
    ----------
    habits : Habits
        What was worked out.
    plots : mapping of str to str
        Pictures by section.
    """
    if habits.shots is not None:
        table = number_table(100 * habits.shots.transitions, "What follows each shot, %")
        yield "Shots", plots.get("Shots", "") + table
    if habits.scenes is not None:
        told = habits.scenes.set_index("scene")
        told = told.assign(median_area=100 * told["median_area"].to_numpy())
        names = {"panels_a_page": "panels a page", "median_area": "median panel, % of page"}
        yield "Scenes", plots.get("Scenes", "") + number_table(told.rename(columns=names), "Scenes")


def stage_words(habits: Habits, pages: PagesShown) -> str:
    """What a reader should know of rough against final, and the pages that changed most."""
    stages = habits.stages
    if stages is None:
        return ""
    kept = (
        f"{stages.pages} pages are known in two stages; {stages.same_count} of them kept their "
        "number of panels. Panels are matched by their boxes."
    )
    items = [
        pages.mini(page_id, words)
        for early, late in stages.changed_most
        for page_id, words in ((early, "early"), (late, "late"))
    ]
    return f"<p>{kept}</p>{minis('Pages that changed most', items)}"
