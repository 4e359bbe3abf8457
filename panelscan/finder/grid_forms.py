"""The form of a written grid: its tiers, columns and stacks without any sizes.

Of a large library's written grids few forms are different, so a pattern is held against the
forms and not against every page.
"""

from __future__ import annotations

import re

_SIZES = re.compile(r"\s*\b(?:wide|tall|slant|gap) -?\d+(?:\.\d+)?:?")
_CORNERS = re.compile(r"\bcorners(?: -?\d+(?:\.\d+)?)+")
_SPACES = re.compile(r"\s+")
RIGHT_TO_LEFT = "right to left"


def form_of(text: str) -> str:
    """A written grid without its page, margins, gutters, sizes and slants.

    Parameters
    ----------
    text : str
        As from `panelscan.layout.notation.write_grid`.

    Examples
    --------
    >>> form_of("margin 6 7.5, gutter 2 1.7; tall 62.7: one wide 2 and slant 3 one then tall 37.3: one")
    'one and one then one'
    """  # noqa: E501
    settings, semicolon, body = text.rpartition(";")
    body = _CORNERS.sub("", body) if "loose" not in body else body
    body = _SPACES.sub(" ", _SIZES.sub("", body)).strip().replace("( ", "(").replace(" )", ")")
    return f"{RIGHT_TO_LEFT}; {body}" if semicolon and RIGHT_TO_LEFT in settings else body
