"""The README and the notes for contributors cannot fall behind the program."""

from __future__ import annotations

import importlib
import re

import click
import pytest

from panelscan.cli.main import COMMANDS, cli

LINK = re.compile(r"!\[[^\]]*\]\(([^)]+)\)")


@pytest.fixture
def readme(project_root) -> str:
    return (project_root / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_an_example_and_a_place_in_the_readme(name, readme):
    command = importlib.import_module(f"panelscan.cli.{name}").command
    assert len(command.help.split()) > 12
    assert f"panelscan {name}" in command.help
    assert f"### panelscan {name}\n" in readme
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name}: {parameter.opts} has no help"


@pytest.mark.parametrize("name", COMMANDS)
def test_examples_in_help_and_readme_are_real_options(name, readme):
    command = importlib.import_module(f"panelscan.cli.{name}").command
    known = {o for p in command.params for o in [*p.opts, *p.secondary_opts]} | {"-h", "--help"}
    texts = [command.help, *re.findall(r"`(panelscan [^`]+)`", readme)]
    used = {
        option
        for text in texts
        for line in text.splitlines()
        if line.strip().startswith(f"panelscan {name} ")
        for option in re.findall(r"(?<!\S)--?[a-z][a-z-]*", line)
    }
    assert used <= known


def test_pictures_of_the_readme_exist(readme, project_root):
    missing = [p for p in LINK.findall(readme) if not (project_root / p).exists()]
    assert missing == []


def test_readme_starts_with_the_job_then_the_two_commands(readme):
    job, first, second = (
        readme.index("A comic artist"),
        readme.index("python scripts/try.py"),
        readme.index("python scripts/test.py"),
    )
    assert job < first < second
    assert readme.split("\n\n")[1].startswith("A comic artist")


def test_top_level_holds_only_what_was_agreed(project_root):
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "panelscan",
        "tests",
        "datasets",
        "scripts",
    }
    found = {p.name for p in project_root.iterdir() if not p.name.startswith(".")}
    assert found - allowed == set()


def test_group_help_names_each_command_once():
    context = click.Context(cli)
    assert cli.list_commands(context) == list(COMMANDS)
