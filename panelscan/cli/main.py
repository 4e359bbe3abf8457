"""The command group; each command's module is imported only when it runs."""

from __future__ import annotations

import importlib
import sys
from typing import Any

import click

from panelscan import __version__
from panelscan.cli.console import guarded, set_verbosity

COMMANDS = {
    "demo": "draw an invented book, scan it and show the whole job on it",
    "scan": "read pages, find and order their panels, save them in a library",
    "show": "draw what was found on a page",
    "review": "open a local web page to put doubtful pages right",
    "tag": "attach book, date, scene, shot, stage or any label of yours",
    "habits": "layout habits: tables, an offline report, CSV",
    "find": "rank your grids for a new scene",
    "plan": "lay a whole scene over pages with grids of yours",
    "template": "write a grid as a layered page to draw on",
    "check": "look a page over before inking",
    "compare": "what moved between two stages of a page",
    "export": "GeoParquet, CSV, COCO JSON, PAGE XML, SVG",
    "info": "what a library holds, its health and versions",
}


class LazyGroup(click.Group):
    """A group that knows its commands by name and loads one when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the job, not of the alphabet."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import ``panelscan.cli.<name>`` and return its ``command``."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"panelscan.cli.{cmd_name}")
        command: click.Command = module.command
        # The help texts are raw strings, so click's mark for kept lines comes as two letters.
        command.help = (command.help or "").replace("\\b\n", "\b\n")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them, so that ``--help`` answers at once."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="panelscan")
@click.option("-v", "--verbose", count=True, help="Say more; -vv shows the traceback of an error.")
@click.option("-q", "--quiet", is_flag=True, help="Say nothing but errors.")
def cli(verbose: int, quiet: bool) -> None:
    """Read a comic artist's own pages as layouts.

    panelscan finds the panels of scanned or exported pages, orders them for reading, keeps
    their geometry in plain Parquet files, and from that shows layout habits, finds grids
    for a new scene and gives a grid back as a page to draw on.

    Start with "panelscan demo", or with "panelscan scan MY-PAGES --library MY-LIBRARY".
    """
    set_verbosity(-1 if quiet else verbose)


def main(arguments: list[str] | None = None) -> Any:
    """Run the command line and leave with an honest exit code."""
    sys.exit(guarded(cli, arguments))
