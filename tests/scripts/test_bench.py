"""The timing script: it runs, and what it says of a page is sound."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

import bench


def test_a_short_run_writes_sound_figures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(bench.SHEETS, "300 dpi A4", ("grid", 900, 300.0))
    monkeypatch.setattr(bench, "KINDS", ("png",))
    out = tmp_path / "bench.json"
    assert bench.main(["--short", "--profile", "--out", str(out)]) == 0
    timings = json.loads(out.read_text(encoding="utf-8"))["timings"]
    assert [t["name"] for t in timings] == ["300 dpi A4, PNG"]
    for t in timings:
        assert t["page_s"] > 0
        assert t["ratio"] == pytest.approx(t["page_s"] / t["decode_s"])
        assert t["peak_mb"] >= t["base_mb"] > 20
    assert "function calls" in capsys.readouterr().out
