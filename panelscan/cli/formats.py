"""Page formats named on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from panelscan.model.formats import PageFormat


def page_format_named(name: str, own: Path | None = None) -> PageFormat:
    """A format that is built in, or one from the artist's own TOML file.

    Raises
    ------
    NothingFound
        If there is no such format; the message lists those there are.
    """
    from panelscan.model.format_file import read_formats
    from panelscan.model.formats import format_named

    return format_named(name, read_formats(own) if own else None)
