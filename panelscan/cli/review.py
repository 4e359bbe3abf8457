"""``panelscan review``: a local web page to put doubtful pages right."""

from __future__ import annotations

from pathlib import Path

import click

from panelscan.cli import options
from panelscan.cli.console import say


@click.command()
@options.library_needed
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="Port; any free one by default."
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--templates", type=click.Path(path_type=Path, file_okay=False), default=Path("templates"),
    show_default=True, help="Folder for templates written from the page.",
)
def command(library: Path, port: int, no_browser: bool, templates: Path) -> None:
    r"""Open a local web page to look at all pages and put doubtful ones right.

    The page is served to this machine only, and only to the browser window that has the
    printed address. Every change is saved at once in the library; what was measured stays.
    Stop with Ctrl-C.

    \b
    Example:
      panelscan review --library shelf
    """
    from panelscan.corpus.store import Library
    from panelscan.review.serve import serve

    def ready(address: str) -> None:
        click.echo(address)
        say("Open this address; stop with Ctrl-C.")
        if not no_browser:
            click.launch(address)

    serve(Library.open(library), templates, port, ready)
