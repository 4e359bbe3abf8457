from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from panelscan.cli.export import command as export_command
from panelscan.cli.info import command as info_command

SAMPLE = Path(__file__).parents[1] / "data" / "corpus_v1"


@pytest.fixture
def shelf(tmp_path):
    shutil.copytree(SAMPLE, tmp_path / "shelf")
    return tmp_path / "shelf"


def info(shelf, *words):
    return CliRunner().invoke(
        info_command, ["--library", str(shelf), *words], standalone_mode=False
    )


def test_info_as_json_counts_what_is_there(shelf):
    told = json.loads(info(shelf, "--json").stdout)
    assert (told["books"], told["pages"], told["panels"], told["reviewed"]) == (3, 4, 11, 1)
    assert told["bytes"] > 50_000


def test_verify_finds_a_broken_file_and_sets_it_aside(shelf):
    assert info(shelf, "--verify").return_value == 0
    broken = next((shelf / "panels").glob("kelp-*"))
    broken.write_bytes(broken.read_bytes()[:999])
    run = info(shelf, "--verify", "--json")
    assert run.return_value == 8
    assert json.loads(run.stdout)["faults"][0]["file"] == f"panels/{broken.name}"
    run = info(shelf, "--verify", "--set-aside")
    assert "Kelp" in run.output
    assert info(shelf, "--verify").return_value == 0
    assert json.loads(info(shelf, "--json").stdout)["pages"] == 3


def test_accuracy_and_disagreements_speak_of_reviewed_pages(shelf):
    told = json.loads(info(shelf, "--accuracy", "--json").stdout)
    assert told["pages"] == 1
    # The sample's corrected page had 4 panels found, 3 of them right: 2 * 3 / (3 + 4)
    assert told["f1"]["0.9"]["value"] == pytest.approx(6 / 7)
    assert json.loads(info(shelf, "--disagreements", "--json").stdout) == []


def test_compacting_and_forgetting(shelf):
    assert info(shelf, "--compact").exit_code == 0
    assert info(shelf, "--forget", "Salt").exit_code == 0
    assert json.loads(info(shelf, "--json").stdout)["pages"] == 2


def test_export_writes_each_form(shelf, tmp_path):
    for form in ("geoparquet", "csv", "coco", "page-xml", "svg"):
        words = [form, "--library", str(shelf), "--out", str(tmp_path / form)]
        run = CliRunner().invoke(export_command, words, standalone_mode=False)
        assert run.exception is None, run.output
        assert (tmp_path / form).exists()
