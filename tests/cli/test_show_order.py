"""What ``panelscan show`` says of the places where readers part."""

from __future__ import annotations

from panelscan.cli.show import _parting_words
from panelscan.layout.pages import lay_out
from tests.samples import BLOCKAGE, FRAME, panels_of


def test_a_parting_is_told_with_its_share_and_reason():
    # Cohn and Campbell 2015 (second-hand): under 10 % go to the tall panel first.
    (parting,) = lay_out(panels_of(BLOCKAGE), FRAME).partings
    told = "After panel 1 about 9 % of readers go to panel 3, not 2 (blockage)."
    assert _parting_words(parting) == told
    (first,) = lay_out(panels_of([(20, 30, 120, 170), (90, 110, 185, 270)]), FRAME).partings
    assert _parting_words(first).startswith("At the start about 49 % of readers go to panel 2")
