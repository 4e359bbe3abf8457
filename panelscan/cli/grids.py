"""Written grids on the command line."""

from __future__ import annotations

from panelscan.cli.pages import NamedGrid


def is_written_grid(text: str) -> bool:
    """Whether a text that names no file is meant as a written grid."""
    from panelscan.errors import NotationError
    from panelscan.layout.notation import parse_grid

    try:
        parse_grid(text)
    except NotationError:
        # A page of a library is written BOOK/NUMBER; everything else was meant as a grid.
        return "/" not in text and " " in text
    return True


def written_grid(text: str) -> NamedGrid:
    """The grid that a text writes.

    Raises
    ------
    NotationError
        With the place where reading stopped.
    """
    from panelscan.layout.notation import parse_grid

    return NamedGrid(text, parse_grid(text), "")
