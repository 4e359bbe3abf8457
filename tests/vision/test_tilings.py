"""Frames that two bordered ones make up."""

from __future__ import annotations

import numpy as np
import pytest

from panelscan.vision.candidates import Candidate
from panelscan.vision.tilings import no_better_than_parts
from panelscan.vision.vote_weights import Agreement


def frame(bounds: tuple[int, ...], gain: float) -> Candidate:
    x0, y0, x1, y1 = bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
    return Candidate(corners, "net", gain=gain, bordered=1.0)


def halves(said: float, gains: tuple[float, float, float] = (2.5, 1.0, 1.2)) -> list[float]:
    """Gains of a whole and its halves when the whole's places vote so much for it."""
    inside = np.array([[1] * 20, [1] * 10 + [0] * 10, [0] * 10 + [1] * 10], dtype=bool)
    fits = np.where(inside, 0.1, 0.0).astype(np.float32)
    fits[0] = said
    frames = [
        frame(bounds, gain)
        for bounds, gain in zip(
            [(0, 0, 100, 200), (0, 0, 100, 98), (0, 102, 100, 200)], gains, strict=True
        )
    ]
    found = no_better_than_parts(frames, Agreement(inside, fits), [False] * 3)
    return [c.gain for c in found]


def test_a_whole_gains_less_than_two_halves_that_its_places_vote_for() -> None:
    whole, upper, lower = halves(said=-0.2)
    assert whole < upper + lower == pytest.approx(2.2)


def test_a_whole_that_its_places_vote_for_keeps_its_gain() -> None:
    assert halves(said=0.3) == [2.5, 1.0, 1.2]


def test_halves_that_lose_by_themselves_tell_nothing() -> None:
    assert halves(said=-0.2, gains=(2.5, -0.1, 1.2)) == [2.5, -0.1, 1.2]
