"""The scripts that measure templates: what they cost, and how exactly they read back."""

from __future__ import annotations

import pytest

from scripts import bench_scan_back, bench_templates, measured


def test_cost_of_a_template(capsys):
    assert bench_templates.main(["--short", "--kinds", "svg"]) == 0
    line = capsys.readouterr().out.splitlines()[1]
    assert line.startswith("svg") and "MB peak" in line
    assert not bench_templates.Cost(9.0, 9.0, 50, 1).meets("svg")
    assert not bench_templates.Cost(1.0, 1.0, 50, 6).meets("ora")


def test_a_template_reads_back_and_a_miss_is_told(monkeypatch, capsys):
    assert bench_scan_back.main(["--short", "--kinds", "png"]) == 0
    assert "1 of 1 within 0.2 mm" in capsys.readouterr().out
    monkeypatch.setattr(bench_scan_back, "farthest_mm", lambda *_: 0.3)
    assert bench_scan_back.main(["--short", "--kinds", "png"]) == 1


@pytest.mark.parametrize("script", [bench_scan_back, bench_templates])
def test_help_is_told(script, capsys):
    with pytest.raises(SystemExit) as leaving:
        script.main(["--help"])
    assert leaving.value.code == 0
    assert "--short" in capsys.readouterr().out


def test_memory_of_this_process_is_plausible():
    before = measured.peak_mb()
    assert 20 < before < 50_000
    block = bytearray(64 * measured.MEBI)
    assert measured.peak_mb() >= before and len(block)
