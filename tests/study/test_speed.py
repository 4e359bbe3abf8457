from __future__ import annotations

from scripts.bench_habits import measure


def test_five_thousand_pages_take_seconds_not_minutes():
    # The target is 5 s on a quiet machine; a busy one may take longer, a quadratic step far more.
    seconds, _, peak_mb, mean = measure(5_000)
    assert seconds < 20
    assert peak_mb < 1_000
    assert mean.startswith("5.1")
