from __future__ import annotations

import pytest

from panelscan.finder.by_grid import parse_query
from panelscan.finder.spoken_grid import spoken_grid
from panelscan.layout.notation import parse_grid


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("three tiers, the last one a single panel", "any then any then one"),
        ("Three tiers, the last tier is a single panel.", "any then any then one"),
        ("3 tiers; the first of two panels; and the bottom one", "two then any then one"),
        ("four tiers", "any then any then any then any"),
        ("two tiers, the top with 3 panels", "three then any"),
        ("two tiers, the third one a single panel", None),
        ("two tiers, then what", None),
        ("nine tiers", None),
        ("two then three then one", None),
    ],
)
def test_sentences_become_patterns_and_the_rest_stays(said, meant):
    assert spoken_grid(said) == (meant or said)


def test_a_sentence_finds_what_it_means():
    pattern = parse_query("three tiers, the last one a single panel").pattern
    assert pattern.matches(parse_grid("two then three then one"))
    assert not pattern.matches(parse_grid("one then two then two"))
