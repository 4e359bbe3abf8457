from __future__ import annotations

from pathlib import Path

import pytest

from scripts import fuzz_intake


def test_three_hundred_damaged_files_are_answered_without_a_fault():
    # The full run of 10,000 is scripts/fuzz_intake.py.
    outcomes = fuzz_intake.fuzz(range(50_000, 50_300), workers=2)
    faults = [o for o in outcomes if o.verdict == "fault"]
    assert faults == []
    assert len(outcomes) == 300
    assert sum(o.verdict == "read" for o in outcomes) > 30
    assert sum(o.verdict == "refused" for o in outcomes) > 100
    assert "0 faults" in fuzz_intake.report(outcomes, 1.0)


def test_the_same_number_makes_the_same_file():
    assert fuzz_intake.mutated(17) == fuzz_intake.mutated(17)
    assert len({fuzz_intake.mutated(k)[1] for k in range(50)}) == 50


def test_a_write_is_noticed(tmp_path, monkeypatch):
    def writes(path: Path) -> tuple[str, str]:
        (tmp_path / "stray").mkdir()
        return "read", ""

    monkeypatch.setattr(fuzz_intake, "_read", writes)
    outcome = fuzz_intake.try_one(1, str(tmp_path))
    assert outcome.verdict == "fault"
    assert "written" in outcome.detail


@pytest.mark.parametrize("answer", [ZeroDivisionError("x"), ("fault", "no name")])
def test_other_exceptions_are_faults(tmp_path, monkeypatch, answer):
    def read(path: Path) -> tuple[str, str]:
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(fuzz_intake, "_read", read)
    assert fuzz_intake.try_one(1, str(tmp_path)).verdict == "fault"
