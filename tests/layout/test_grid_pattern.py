"""Patterns with wildcards."""

from __future__ import annotations

import pytest

from panelscan.errors import NotationError
from panelscan.layout.grid_pattern import parse_pattern
from panelscan.layout.notation import parse_grid


@pytest.mark.parametrize(
    "pattern, grid, holds",
    [
        ("any then any then one", "two then three then one", True),
        ("any then any then one", "two then three then two", False),
        ("any then any then one", "two then one", False),
        ("any then any then one", "one over one and one then two then one", True),
        ("some then one", "two then three then four then one", True),
        ("some then one", "one", False),
        ("one", "one bleed all", True),
        ("one bleed all", "one", False),
        ("two or three then any", "three then one", True),
        ("two or three then any", "four then one", False),
        ("one over one and one", "one over one and one", True),
        ("one over one and one", "one and one over one", False),
        ("any and any", "one over one and one", True),
        ("some and one over one", "three and one over one", True),
        ("some", "two then three", True),
        ("tall 2: one then one", "tall 66: one then tall 34: one", True),
        ("tall 2: one then one", "one then one", False),
        ("one wide 2 and one", "right to left; one wide 66 and one wide 34", True),
        ("right to left; two", "two", False),
        ("one inset 0 0 50 50", "one inset 60 60 90 90", True),
        ("one inset 0 0 50 50", "one", False),
        ("one round and one", "one and one", False),
    ],
)
def test_patterns(pattern: str, grid: str, holds: bool):
    assert parse_pattern(pattern).matches(parse_grid(grid)) is holds


def test_a_near_miss_scores_higher_than_a_far_one():
    pattern = parse_pattern("two then three then one")
    near, far = parse_grid("two then two then one"), parse_grid("five")
    assert 1 > pattern.score(near) > pattern.score(far) >= 0


def test_sizes_are_open_unless_written():
    assert parse_pattern("two then one").matches(parse_grid("one wide 5 and one then tall 3: one"))


def test_wildcards_are_refused_in_a_grid_and_explained():
    with pytest.raises(NotationError, match="number of panels"):
        parse_grid("any then one")
    with pytest.raises(NotationError, match="after 'or'"):
        parse_pattern("two or then one")
