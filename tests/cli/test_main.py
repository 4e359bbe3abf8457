from __future__ import annotations

import subprocess
import sys
import time

import click
import pytest

from panelscan import __version__
from panelscan.cli.console import guarded
from panelscan.cli.main import COMMANDS, cli
from panelscan.errors import InputError


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "panelscan", *arguments], capture_output=True, text=True,
        check=False,
    )


def test_help_lists_every_command_and_starts_without_heavy_imports():
    code = (
        "import sys, panelscan.cli.main;"
        "print([m for m in ('cv2', 'pandas', 'pyarrow') if m in sys.modules])"
    )
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"
    result = run("--help")
    assert result.returncode == 0
    for name in COMMANDS:
        assert name in result.stdout


def test_version():
    assert __version__ in run("--version").stdout


def test_unknown_command_is_a_usage_error():
    result = run("frobnicate")
    assert result.returncode == 2
    assert "No such command" in result.stderr


@click.group()
def broken() -> None:
    """For the tests."""


@broken.command()
@click.argument("kind")
def fail(kind: str) -> None:
    """Fail in one of the ways a command can."""
    if kind == "known":
        raise InputError("page_03.png: the file ends early.", "Copy it again.")
    if kind == "stop":
        raise KeyboardInterrupt
    raise RuntimeError("odd")


@pytest.mark.parametrize(
    ("kind", "code", "words"),
    [("known", 3, "page_03.png: the file ends early. Copy it again."),
     ("stop", 130, "saved"), ("other", 1, "-vv")],
)
def test_errors_are_said_in_one_way_without_traceback(kind, code, words, capsys):
    assert guarded(broken, ["fail", kind]) == code
    said = capsys.readouterr()
    assert words in said.err
    assert "Traceback" not in said.err
    assert said.out == ""


def test_help_answers_at_once():
    started = time.perf_counter()
    run("--help")
    assert time.perf_counter() - started < 10  # generous: the machine may be busy
    assert cli.get_command(click.Context(cli), "nothing") is None
