from __future__ import annotations

import json

import pytest

from panelscan.checks.silence import EVERY_PAGE, FILE_NAME, set_silenced, silenced_keys
from panelscan.errors import LibraryError


def test_last_word_counts_and_nothing_is_lost(tmp_path):
    assert silenced_keys(tmp_path, "p1") == frozenset()
    set_silenced(tmp_path, "p1", "near-miss:1-2", why="meant so")
    set_silenced(tmp_path, EVERY_PAGE, "line-art-resolution")
    set_silenced(tmp_path, "p2", "thin-gutter:1-2")
    assert silenced_keys(tmp_path, "p1") == {"near-miss:1-2", "line-art-resolution"}
    set_silenced(tmp_path, "p1", "near-miss:1-2", silenced=False)
    assert silenced_keys(tmp_path, "p1") == {"line-art-resolution"}
    lines = (tmp_path / FILE_NAME).read_text().splitlines()
    assert len(lines) == 4
    assert json.loads(lines[0])["why"] == "meant so"


def test_damaged_and_foreign_lines_stay(tmp_path):
    path = tmp_path / FILE_NAME
    path.write_text('not json\n{"page": "p1", "new": true}\n[1]\n{"page": "p1", "fin')
    set_silenced(tmp_path, "p1", "same-grid:page")
    assert silenced_keys(tmp_path, "p1") == {"same-grid:page"}
    assert path.read_text().startswith(
        'not json\n{"page": "p1", "new": true}\n[1]\n{"page": "p1", "fin\n'
    )


def test_unwritable_place_is_said(tmp_path):
    with pytest.raises(LibraryError, match="cannot be written"):
        set_silenced(tmp_path / "nowhere", "p1", "x")
    (tmp_path / FILE_NAME).mkdir()
    with pytest.raises(LibraryError, match="cannot be read"):
        silenced_keys(tmp_path, "p1")
