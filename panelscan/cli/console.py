"""What a person sees: messages and progress on standard error, errors in one place."""

from __future__ import annotations

import json
import os
import sys
import traceback
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

import click

from panelscan.errors import PanelscanError

if TYPE_CHECKING:
    from rich.console import Console

_verbosity = 0
INTERRUPTED = 130


def set_verbosity(level: int) -> None:
    """-1 quiet, 0 normal, 1 more, 2 with tracebacks."""
    global _verbosity
    _verbosity = level


def is_quiet() -> bool:
    """Whether only errors should be said."""
    return _verbosity < 0


def say(text: str, level: int = 0) -> None:
    """Write a message to standard error, unless it is wanted quieter than that."""
    if _verbosity >= level:
        click.echo(text, err=True)


def messages() -> Console:
    """A rich console on standard error."""
    from rich.console import Console

    return Console(stderr=True, quiet=is_quiet())


def guarded(command: click.Command, arguments: Sequence[str] | None) -> int:
    """Run a command; say errors the same way everywhere; return the exit code."""
    try:
        result = command.main(
            args=None if arguments is None else list(arguments),
            prog_name="panelscan",
            standalone_mode=False,
        )
        return result if isinstance(result, int) else 0
    except PanelscanError as error:
        _say_error(str(error))
        _trace()
        return error.exit_code
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        _say_error("Stopped. What was finished before is saved.")
        return INTERRUPTED
    except BrokenPipeError:
        _close_stdout()
        return 0
    except Exception as error:
        _say_error(
            f"Something unexpected went wrong: {type(error).__name__}: {error}. "
            "Run again with -vv for the details."
        )
        _trace()
        return 1


def _say_error(text: str) -> None:
    click.echo(f"panelscan: {text}", err=True)


def _trace() -> None:
    if _verbosity >= 2:
        traceback.print_exc()


def _close_stdout() -> None:
    """A reader such as ``head`` went away: point stdout at nothing, so that exit is quiet."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def print_json(data: Any) -> None:
    """Data for scripts, on standard output."""
    click.echo(json.dumps(data, ensure_ascii=False, indent=2, default=str))


def print_table(
    title: str, header: Sequence[str], rows: Iterable[Sequence[object]], right: Sequence[int] = ()
) -> None:
    """Print a table: set for reading on a terminal, tab-separated when piped.

    Parameters
    ----------
    title : str
        Line above the table on a terminal.
    header : sequence of str
        Column names.
    rows : iterable of sequence
        Cells; None is shown as a dash.
    right : sequence of int
        Columns set flush right.
    """
    cells = [["-" if c is None else str(c) for c in row] for row in rows]
    if not sys.stdout.isatty():
        for line in [list(header), *cells]:
            click.echo("\t".join(line))
        return
    from rich.console import Console
    from rich.table import Table

    table = Table(title=title, title_justify="left", show_edge=False, header_style="bold")
    for index, name in enumerate(header):
        table.add_column(name, justify="right" if index in right else "left", overflow="fold")
    for line in cells:
        table.add_row(*line)
    Console().print(table)


def progress_bar(label: str) -> tuple[Any, Callable[[int, int, str], None]]:
    """A context manager that shows one progress bar, and the function that moves it.

    Off a terminal nothing is drawn. The function takes pages done, pages in all and a text.
    """
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    console = messages()
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[what]}"),
        console=console,
        disable=not console.is_terminal or is_quiet(),
    )
    task = bar.add_task(label, total=None, what="")

    def move(done: int, total: int, what: str = "") -> None:
        bar.update(task, completed=done, total=total, what=what)

    return bar, move
