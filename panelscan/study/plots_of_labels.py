"""Pictures that labels make possible: shots, scenes, rough against final."""

from __future__ import annotations

import numpy as np

from panelscan.study.charts import bars
from panelscan.study.habits import Habits
from panelscan.study.plotting import Plot, ends_of
from panelscan.study.row_charts import rows
from panelscan.study.shelf import Shelf

MOST_SCENES = 30


def label_plots(shelf: Shelf, habits: Habits) -> list[Plot]:
    """Pictures of the sections Shots, Scenes and Rough against final."""
    plots: list[Plot] = []
    if habits.shots is not None:
        plots += _shots(habits)
    if habits.scenes is not None:
        plots.append(_scenes(habits))
    if habits.stages is not None and habits.stages.by_place:
        plots.append(_growth(habits))
    return plots


def _shots(habits: Habits) -> list[Plot]:
    shots = habits.shots
    if shots is None:
        return []
    names = [str(n) for n in shots.shares.index]
    values = (100 * shots.shares).tolist()
    told = ", ".join(f"{n} {v:.0f} %" for n, v in zip(names, values, strict=True))
    words = (
        f"{told}. From {shots.labelled} labelled panels. Two panels drawn at random differ in "
        f"{100 * shots.variety:.0f} % of cases."
    )
    groups = {"all panels": values}
    if len(shots.before_turn):
        turns = shots.before_turn.reindex(shots.shares.index).fillna(0.0)
        groups["last before a page turn"] = (100 * turns).tolist()
        words += f" Before a page turn stands most often: {shots.before_turn.index[0]}."
    picture = rows("Shots", words, names, groups, "share of labelled panels, %")
    longest = int(shots.runs.max())
    shown = min(max(longest, 4), 12)
    counts = np.bincount(np.minimum(shots.runs, shown), minlength=shown + 1)[1:]
    run_names = [*(str(n) for n in range(1, shown)), f"{shown}{'+' if longest > shown else ''}"]
    said = f"The longest run of one shot is {longest} panels."
    runs = bars(
        "Runs of the same shot", said, run_names, counts.astype(float).tolist(),
        "panels in a row with one shot", "times",
    )  # fmt: skip
    return [Plot("shots", "Shots", words, picture), Plot("shot-runs", "Shots", said, runs)]


def _scenes(habits: Habits) -> Plot:
    table = habits.scenes.head(MOST_SCENES) if habits.scenes is not None else None
    assert table is not None  # noqa: S101 - asked only where there are scenes
    names = [str(n)[:18] for n in table["scene"]]
    values = table["panels_a_page"].astype(float).tolist()
    words = "Panels a page in each scene, in the order of the pages."
    picture = rows("Scenes", words, names, {"pages": values}, "panels a page")
    return Plot("scenes", "Scenes", words, picture)


def _growth(habits: Habits) -> Plot:
    stages = habits.stages
    assert stages is not None  # noqa: S101 - asked only where there are stages
    figures = stages.by_place
    names = [f"panel {f.key.removeprefix('growth_at_')}" for f in figures]
    words = (
        f"How much the panels at each place change their area from rough to final, over "
        f"{stages.pages} pages; all panels together {stages.figure('growth').text()}."
    )
    picture = rows(
        "What grows when inking", words, names, {"panels": [f.value for f in figures]},
        "change of area, %", {"panels": ends_of(figures)},
    )  # fmt: skip
    return Plot("stages-growth", "Rough against final", words, picture)
