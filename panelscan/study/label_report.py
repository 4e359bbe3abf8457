"""Sections of the report that need labels: shots, scenes, stages."""

from __future__ import annotations

from html import escape

import numpy as np
import pandas as pd

from panelscan.study.charts import bars
from panelscan.study.habits import Habits
from panelscan.study.shots import ShotHabits
from panelscan.study.stages import StageChange


def label_sections(habits: Habits) -> str:
    """HTML of the sections that labels make possible; empty where nothing is labelled."""
    parts = []
    if habits.shots is not None:
        parts.append(_shots(habits.shots))
    if habits.scenes is not None:
        parts.append(_scenes(habits.scenes))
    if habits.stages is not None:
        parts.append(_stages(habits.stages))
    return "\n".join(parts)


def _shots(shots: ShotHabits) -> str:
    said = ", ".join(f"{name} {100 * share:.0f} %" for name, share in shots.shares.items())
    picture = bars(
        "Shots",
        said,
        [str(n) for n in shots.shares.index],
        (100 * shots.shares).tolist(),
        "",
        "share of panels, %",
    )
    longest = int(shots.runs.max()) if len(shots.runs) else 0
    return (
        '<section id="shots"><h2>Shots</h2>'
        f"<figure>{picture.source()}<figcaption>{escape(said)}. From {shots.labelled} labelled "
        f"panels. Two panels drawn at random differ in {100 * shots.variety:.0f} % of cases; the "
        f"longest run of one shot is {longest}.</figcaption></figure>"
        f"{_table(100 * shots.transitions, 'What follows each shot, %')}</section>"
    )


def _scenes(scenes: pd.DataFrame) -> str:
    table = scenes.set_index("scene").assign(median_area=100 * scenes["median_area"].to_numpy())
    table = table.rename(
        columns={"panels_a_page": "panels a page", "median_area": "median panel, % of page"}
    )
    return f'<section id="scenes"><h2>Scenes</h2>{_table(table, "Scenes")}</section>'


def _stages(stages: StageChange) -> str:
    lines = [
        f"{stages.pages} pages are known in two stages; {stages.same_count} kept their number of "
        "panels."
    ]
    if np.isfinite(stages.median_growth):
        lines.append(f"The median panel changes its area by {100 * stages.median_growth:+.1f} %.")
    if stages.grew_most_place is not None:
        lines.append(f"Panel {stages.grew_most_place} gains most.")
    for name, change in (
        ("tiers", stages.tier_gutter_change_mm),
        ("panels in a tier", stages.column_gutter_change_mm),
    ):
        if np.isfinite(change):
            lines.append(f"Gutters between {name} change by {change:+.2f} mm.")
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f'<section id="stages"><h2>Rough against final</h2><ul>{items}</ul></section>'


def _table(table: pd.DataFrame, name: str) -> str:
    head = "".join(f'<th scope="col" class="number">{escape(str(c))}</th>' for c in table.columns)
    rows = "".join(
        f'<tr><th scope="row">{escape(str(index))}</th>'
        + "".join(f'<td class="number">{value:.3g}</td>' for value in row)
        + "</tr>"
        for index, row in zip(table.index, table.to_numpy(dtype=float), strict=True)
    )
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(name)}"><table>'
        f"<caption>{escape(name)}</caption><thead><tr><td></td>{head}</tr></thead>"
        f"<tbody>{rows}</tbody></table></div>"
    )
