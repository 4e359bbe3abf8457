from __future__ import annotations

import numpy as np
import pytest

from panelscan.finder.beats import Beat
from panelscan.finder.room import (
    balloons_needed,
    lettering_advice,
    page_advice,
    room_words,
    words_per_panel,
)


def test_words_a_panel_follow_the_published_table():
    # D. Culver, 2013: words a panel on a page of n panels (common practice).
    table = {1: 210, 2: 105, 3: 70, 4: 52, 5: 42, 6: 35, 7: 30, 8: 26, 9: 23, 12: 17, 16: 13}
    assert {n: words_per_panel(n) for n in table} == table
    for n, words in table.items():
        assert room_words(np.full(n, 0.8 / n), 0.8).tolist() == [words] * n


def test_a_panel_twice_as_large_holds_twice_the_words():
    assert room_words(np.array([1.0, 2.0, 3.0]), 6.0).tolist() == [35, 70, 105]


def test_scene_of_210_words_fits_six_and_nine_panels_and_more_is_flagged():
    # Weisinger's ceiling as told by Moore, and Culver's table: 210 words are 35 in each of
    # six panels and 23 in each of nine; balloons over 25 and pages over 210 words are flagged.
    six = [Beat(f"beat {n}", words=35, balloons=(20, 15)) for n in range(6)]
    assert lettering_advice(six) == [] and page_advice(six, "Page 1") == []
    assert page_advice([*six, Beat("more", words=40)], "Page 1") == [
        "Page 1 carries 250 words; 210 a page is the usual most."
    ]
    assert "balloon of 26 words" in lettering_advice([Beat("x", words=26, balloons=(26,))])[0]
    assert lettering_advice([Beat("x", words=25, balloons=(25,))]) == []


def test_more_than_three_balloons_are_advised_against():
    # About three balloons a panel: a publisher's script guide, second-hand.
    assert [balloons_needed(w) for w in (0, 1, 25, 26, 75, 76)] == [0, 1, 1, 2, 3, 4]
    assert "takes 4 balloons" in lettering_advice([Beat("x", words=90)], first_number=7)[0]


def test_no_panels_no_words():
    with pytest.raises(ValueError, match="at least one"):
        words_per_panel(0)
