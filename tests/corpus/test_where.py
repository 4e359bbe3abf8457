from __future__ import annotations

import string

import pyarrow as pa
import pyarrow.compute as pc
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.corpus.where import AllOf, Among, Compare, EitherOf, Known, Not, Truth, parse_where
from panelscan.corpus.where_arrow import compile_where
from panelscan.errors import NotationError

ROWS = pa.table(
    {
        "page_number": pa.array([1, 2, 3, 4, 5], pa.int32()),
        "panel_count": pa.array([6, 1, 9, 4, 6], pa.int32()),
        "book": ["Salt", "Salt", "Tin", "Tin", 'A "b" or c'],
        "tier_pattern": ["2-1-3", "1", "3-3-3", "2-2", None],
        "patterns": [["regular grid"], ["splash"], ["regular grid", "nine"], [], None],
        "confidence": [0.9, 0.5, None, 0.99, 0.7],
        "bleed_left": [False, True, False, False, None],
        "bleed_top": [False, True, False, True, None],
        "bleed_right": [False, True, False, False, None],
        "bleed_bottom": [False, True, False, False, None],
        "reviewed": [True, False, False, True, False],
        "tier_gutter_mm": [3.0, None, 5.0, 2.0, 1.0],
        "column_gutter_mm": [2.0, None, 6.0, 2.0, 3.0],
        "label:stage": ["inks", None, "rough", "inks", None],
        "label:issue": ["2", None, "10", "x", None],
        "label:issue#": pa.array([2.0, None, 10.0, None, None]),
        "label:my mood": ["calm", "calm ", None, "wild", None],
        "label:date": ["2026-03-01", "2025", None, "2026-02", None],
    }
)


def chosen(text: str) -> list[int]:
    made = compile_where(parse_where(text), text, ["stage", "issue", "my mood", "date"])
    return ROWS.filter(made.expression)["page_number"].to_pylist()


@pytest.mark.parametrize(
    ("text", "pages"),
    [
        ("panels >= 6", [1, 3, 5]),
        ("panel_count = 6 and book = Salt", [1]),
        ("book = 'A \"b\" or c'", [5]),
        ("page in (1, 3..4)", [1, 3, 4]),
        ("not page in (1, 3..4)", [2, 5]),
        ("page not in (1..4)", [5]),
        ("book = Salt or panels = 9 and confidence > 0.1", [1, 2]),
        ("(book = Salt or panels = 9) and page > 1", [2, 3]),
        ("confidence < 0.8", [2, 5]),
        ("not confidence < 0.8", [1, 3, 4]),
        ("confidence is unknown", [3]),
        ("confidence is known and panels = 6", [1, 5]),
        ("bleed", [2, 4]),
        ("not bleed", [1, 3, 5]),
        ("bleed = false", [1, 3, 5]),
        ("reviewed", [1, 4]),
        ("reviewed = no", [2, 3, 5]),
        ("patterns contains splash", [2]),
        ('patterns contains "Regular Grid"', [1, 3]),
        ("patterns contains regular", []),
        ("book contains AL", [1, 2]),
        ("book starts t", [3, 4]),
        ("tier_pattern ends '-3'", [1, 3]),
        ("tier_gutter_mm > column_gutter_mm", [1]),
        ("stage = inks", [1, 4]),
        ("stage != inks", [2, 3, 5]),
        ("stage in (inks, rough)", [1, 3, 4]),
        ("issue >= 3", [3]),
        ("issue = x", [4]),
        ("[my mood] = calm", [1]),
        ("date >= 2026-02", [1, 4]),
        ("panels >= -1 and page = 2.0", [2]),
        ("NOT stage = inks AND page < 3", [2]),
    ],
)
def test_filters_choose_the_pages_that_they_say(text, pages):
    assert chosen(text) == pages


@pytest.mark.parametrize(
    ("text", "position"),
    [
        ("", 0),
        ("panels >", 8),
        ("panels >= six", 10),
        ("panles = 6", 0),
        ("book = Salt extra", 12),
        ("(book = Salt", 12),
        ("page in ()", 9),
        ("page in 3", 8),
        ("panels is", 9),
        ("book ~ x", 5),
        ("page not 3", 9),
        ("panel.area_share > 0.5", 0),
        ("panels contains 6", 16),
        ("reviewed = perhaps", 11),
        ("panels", 6),
        ("geometry = 1", 0),
        ("book = 'open", 7),
        ("; drop table pages", 0),
        ("__import__('os')", 10),
        ("not " * 200 + "bleed", 244),
        ("(" * 200, 61),
    ],
)
def test_what_cannot_be_understood_is_pointed_at(text, position):
    with pytest.raises(NotationError) as caught:
        chosen(text)
    assert caught.value.position == position
    assert caught.value.exit_code == 2


def test_a_wrong_name_is_answered_with_near_ones():
    with pytest.raises(NotationError, match="panel_count"):
        chosen("panelcount = 3")


def test_the_tree_follows_the_grammar():
    tree = parse_where("a = 1 and (b or not c is known) and d in (1..2)")
    assert isinstance(tree, AllOf)
    first, second, third = tree.parts
    assert isinstance(first, Compare)
    assert isinstance(second, EitherOf)
    assert isinstance(second.parts[0], Truth)
    assert isinstance(second.parts[1], Not)
    assert isinstance(second.parts[1].part, Known)
    assert isinstance(third, Among)


@given(st.text(st.sampled_from(string.printable + "é海\x00"), max_size=60))
@settings(max_examples=400, deadline=None)
def test_no_text_does_more_than_choose_or_be_refused(text):
    try:
        pages = chosen(text)
    except NotationError:
        return
    assert set(pages) <= {1, 2, 3, 4, 5}


@given(st.text(max_size=20))
@settings(max_examples=200, deadline=None)
def test_any_text_without_quotes_can_be_asked_for(text):
    """A value is only ever compared: no text in quotes changes what is asked."""
    if '"' in text:
        return
    rows = ROWS.set_column(2, "book", pa.array([text, "Salt", "Tin", "Tin", None]))
    where = f'book = "{text}"'
    made = compile_where(parse_where(where), where)
    want = [1] + ([2] if text == "Salt" else []) + ([3, 4] if text == "Tin" else [])
    assert rows.filter(made.expression)["page_number"].to_pylist() == want


@given(st.lists(st.text(max_size=12), max_size=4), st.text(max_size=12))
@settings(max_examples=200, deadline=None)
def test_words_are_found_exactly(words, wanted):
    """Words are compared whole: no character of a word is taken for a pattern."""
    if not wanted or '"' in wanted or "\n" in wanted + "".join(words):
        return
    rows = ROWS.slice(0, 1).set_column(4, "patterns", pa.array([words], pa.list_(pa.string())))
    where = f'patterns contains "{wanted}"'
    made = compile_where(parse_where(where), where)
    lower = pc.utf8_lower(pa.array([*words, wanted], pa.string())).to_pylist()
    expected = 1 if words and lower[-1] in lower[:-1] else 0
    assert rows.filter(made.expression).num_rows == expected
