"""Options that several commands share; one place for their names and help.

library   scan, show, review, tag, habits, find, plan, template, check, compare, export, info
where     habits, find, plan, export, tag
as_json   info, find, plan, check, compare, habits, scan
out       show, template, habits, find, plan, export
overwrite show, template, habits, find, plan, export, demo
page      show, find, template, check, compare (which page of a PDF, TIFF or archive)
dpi, page_format, direction, spreads   scan, show, find, template, check
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

library = click.option(
    "--library",
    "library",
    type=click.Path(path_type=Path, file_okay=False),
    help="The folder that holds your library.",
)
library_needed = click.option(
    "--library",
    "library",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="The folder that holds your library.",
)
where = click.option(
    "--where",
    "where",
    metavar="FILTER",
    help="Only pages for which this holds, e.g. \"panel_count >= 5 and book = 'Ferry'\".",
)
as_json = click.option("--json", "as_json", is_flag=True, help="Print data for scripts.")
overwrite = click.option("--overwrite", is_flag=True, help="Replace a file that is already there.")
page = click.option(
    "--page",
    "page",
    type=click.IntRange(min=1),
    default=1,
    show_default=True,
    help="Which page of a PDF, multi-page TIFF or archive.",
)
dpi = click.option(
    "--dpi",
    type=click.FloatRange(20, 4800),
    help="Pixels per inch, where the files do not say it. PDF pages are drawn at this.",
)
page_format = click.option(
    "--page-format",
    "page_format",
    metavar="NAME",
    help="The pages' format, to know millimetres where files do not say their resolution.",
)
direction = click.option(
    "--direction",
    type=click.Choice(["ltr", "rtl", "auto"]),
    default="auto",
    show_default=True,
    help="Reading direction; auto decides for each book.",
)
spreads = click.option(
    "--spreads",
    type=click.Choice(["auto", "split", "keep"]),
    default="auto",
    show_default=True,
    help="Facing pages in one image: split at the fold unless the art runs through it, "
    "always split, or keep.",
)


def out(
    help_text: str, *names: str, required: bool = False
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """An output option; its help differs by command."""
    return click.option(
        *(names or ("-o", "--out")),
        "out",
        type=click.Path(path_type=Path),
        required=required,
        help=help_text,
    )
