"""The script that measures finding and planning: small runs of each part, held to its goals."""

from __future__ import annotations

import re

import pytest

from scripts import bench_find


def figures(capsys) -> dict[str, str]:
    lines = capsys.readouterr().out.splitlines()
    return {line[:58].strip(): line[58:].strip() for line in lines}


def percent(text: str) -> float:
    return float(re.match(r"([\d.]+) %", text).group(1))


def test_quality_on_few_pages(capsys):
    bench_find.quality(150, 15)
    told = figures(capsys)
    assert percent(told["same grid, 1 % jitter, first of 150 (15 asked)"]) == 100.0
    for name in ("merged", "split"):
        assert percent(next(v for k, v in told.items() if f"one panel {name}" in k)) >= 97.0
    assert float(next(v for k, v in told.items() if k.startswith("nDCG"))) > 0.95


def test_planning_and_matching_reach_the_optimum(capsys):
    bench_find.planning(60, 1)
    bench_find.matching(2)
    told = figures(capsys)
    assert percent(told["1 small plans, worst over SciPy's MILP optimum"]) <= 1.0
    assert percent(told["2 scenes of 12 to 30 beats, worst over SciPy's MILP"]) <= 1.0
    assert "goal 5 s" in told["60 beats, 12 pages, 60 grids"]


def test_speed_is_measured_and_the_index_is_small(capsys):
    bench_find.speed(400, 2)
    told = figures(capsys)
    assert int(told["400 pages: index"].split()[0]) <= 1024
    assert told["400 pages: cold start and first answer"].startswith(("0.", "1.", "2.", "3.", "4."))


def test_short_runs_what_is_named(monkeypatch, capsys):
    asked = []
    for name in ("quality", "same_book", "speed", "matching", "planning"):
        monkeypatch.setattr(bench_find, name, lambda *a, name=name: asked.append((name, a[0])))
    bench_find.main(["--short"])
    assert asked == [("quality", 2_000), ("same_book", 6), ("speed", 20_000), ("matching", 4),
                     ("planning", 1_000)]  # fmt: skip
    with pytest.raises(SystemExit):
        bench_find.main(["--only", "nonsense"])
