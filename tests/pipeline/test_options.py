from __future__ import annotations

import pickle

import pytest

from panelscan.errors import PanelscanError
from panelscan.intake.options import SpreadMode
from panelscan.model.formats import US_PRINT
from panelscan.model.page import ReadingDirection
from panelscan.pipeline.options import ScanOptions


def test_plain_words_become_types():
    options = ScanOptions(direction="rtl", spreads="keep")
    assert options.direction is ReadingDirection.RTL
    assert options.intake.spreads is SpreadMode.KEEP
    assert ScanOptions(direction="auto").direction is None


def test_pdf_pages_are_drawn_at_the_resolution_given():
    assert ScanOptions().intake.pdf_dpi == 300
    assert ScanOptions(dpi=600).intake.pdf_dpi == 600


@pytest.mark.parametrize(
    "settings",
    [
        {"direction": "up"},
        {"spreads": "maybe"},
        {"dpi": 3},
        {"workers": -1},
        {"page_time_s": 0},
        {"doubtful_below": 2},
        {"full_size_limit_px": 5},
    ],
)
def test_what_makes_no_sense_is_refused_with_a_remedy(settings):
    with pytest.raises(PanelscanError) as caught:
        ScanOptions(**settings)
    assert caught.value.remedy


def test_settings_name_what_the_result_depends_on():
    plain = ScanOptions().settings
    for change in (
        {"dpi": 300},
        {"page_format": US_PRINT},
        {"spreads": "keep"},
        {"direction": "rtl"},
        {"full_size_limit_px": 4000},
    ):
        assert ScanOptions(**change).settings != plain
    for change in ({"workers": 3}, {"page_time_s": 5}, {"again": True}, {"cluster": "local"}):
        assert ScanOptions(**change).settings == plain
    assert all(isinstance(value, str) for value in plain.values())


def test_options_can_be_sent_to_workers():
    options = ScanOptions(page_format=US_PRINT, direction="rtl")
    assert pickle.loads(pickle.dumps(options)) == options
