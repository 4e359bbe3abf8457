from __future__ import annotations

import random
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from panelscan.intake.names import is_litter, natural_key, printable, refused_name


def test_page_2_comes_before_page_10():
    # Common practice, no source.
    names = ["p1.png", "p1b.png", "p2.png", "p10.png", "p010.png", "P11.PNG", "q1.png"]
    shuffled = random.Random(4).sample(names, len(names))
    ordered = sorted(shuffled, key=natural_key)
    assert ordered.index("p2.png") < ordered.index("p10.png") < ordered.index("P11.PNG")
    assert ordered[0] == "p1.png"
    assert ordered[-1] == "q1.png"


def test_folders_count_in_the_order_too():
    names = ["book 10/p1.png", "book 2/p1.png", "book 2/p12.png", "book 2/p3.png"]
    assert sorted(names, key=natural_key) == [
        "book 2/p1.png",
        "book 2/p3.png",
        "book 2/p12.png",
        "book 10/p1.png",
    ]


@given(st.lists(st.text(max_size=30), max_size=12))
def test_any_names_can_be_ordered_and_the_order_is_total(names):
    ordered = sorted(names, key=natural_key)
    names.reverse()
    assert sorted(names, key=natural_key) == ordered


def test_a_number_of_five_thousand_digits_is_no_trouble():
    # CPython refuses int() of more than 4300 digits.
    assert natural_key("9" * 5000) > natural_key("8" * 5000)


@pytest.mark.parametrize(
    "name",
    ["__MACOSX/._p1.png", ".hidden.png", "a/.git/p.png", "Thumbs.db", "x/desktop.ini", "._p1.png"],
)
def test_what_systems_leave_behind_is_litter(name):
    assert is_litter(name)


@pytest.mark.parametrize("name", ["p1.png", "./p1.png", "../art/p1.png", "thumbs/p1.png"])
def test_pages_are_no_litter(name):
    assert not is_litter(name)


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("../../etc/passwd.png", "outside"),
        ("a\\..\\..\\b.png", "outside"),
        ("/etc/p.png", "absolute"),
        ("C:\\p.png", "absolute"),
        ("a\x1b[2Jb.png", "control"),
        ("x" * 2000 + ".png", "characters"),
        ("  ", "no name"),
    ],
)
def test_names_that_no_page_exporter_writes_are_refused(name, reason):
    # PKWARE APPNOTE 4.4.17.1: no drive letter, no leading slash, forward slashes.
    assert reason in refused_name(name)


@pytest.mark.parametrize("name", ["ページ 1.png", "ch1/p1.png", "p..1.png", "été — 2.jpg"])
def test_ordinary_names_in_any_script_pass(name):
    assert refused_name(name) == ""


@given(st.text(max_size=300))
def test_messages_never_carry_control_characters(name):
    shown = printable(name)
    assert not any(unicodedata.category(letter) in ("Cc", "Cf", "Cs") for letter in shown)
    assert len(shown) <= 160
